"""The paired devices on the disk."""

import datetime as dt
import hashlib
import hmac
import json
import logging
import stat
from pathlib import Path

import pytest

from driftlead.errors import DaemonError
from driftlead.web.devices import MOST, Devices


def make(folder: Path) -> Devices:
    """Devices kept in a folder that need not be there."""
    return Devices(
        folder / "state" / "devices.json",
        utc=lambda: dt.datetime(2026, 6, 14, 18, 0, tzinfo=dt.UTC),
    )


@pytest.mark.asyncio
async def test_a_device_is_known_by_its_token_and_still_is_after_a_restart(tmp_path: Path) -> None:
    devices = make(tmp_path)
    device, token = await devices.add("Phone")
    assert devices.find(token) == device
    assert devices.find(token + "x") is None
    again = make(tmp_path)
    await again.load()
    assert again.find(token) == device
    assert device.paired_utc == "2026-06-14T18:00:00Z"


@pytest.mark.asyncio
async def test_only_the_digest_of_a_token_of_256_bits_is_kept_where_nobody_else_can_read(
    tmp_path: Path,
) -> None:
    """43 characters of base64 without padding are 256 bits (RFC 4648)."""
    device, token = await make(tmp_path).add("Phone")
    path = tmp_path / "state" / "devices.json"
    text = path.read_text()
    assert len(token) == 43
    assert token not in text
    assert hashlib.sha256(token.encode()).hexdigest() == device.digest
    assert device.digest in text
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert [each.name for each in path.parent.iterdir()] == ["devices.json"]


@pytest.mark.asyncio
async def test_a_token_is_compared_in_constant_time_with_each_device(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither where the one that fits stands nor how much of it fits is told by the time."""
    devices = make(tmp_path)
    tokens = [(await devices.add(f"Phone {n}"))[1] for n in range(3)]
    count = 0
    compare = hmac.compare_digest

    def seen(one: str, other: str) -> bool:
        nonlocal count
        count += 1
        return compare(one, other)

    monkeypatch.setattr(hmac, "compare_digest", seen)
    for token in (*tokens, "wrong", ""):
        count = 0
        devices.find(token)
        assert count == 3


@pytest.mark.asyncio
async def test_one_that_is_unpaired_stays_unpaired(tmp_path: Path) -> None:
    devices = make(tmp_path)
    device, token = await devices.add("Phone")
    _, other = await devices.add("Tablet")
    assert await devices.revoke(device.id) == device
    assert await devices.revoke(device.id) is None
    assert devices.find(token) is None
    again = make(tmp_path)
    await again.load()
    assert again.find(token) is None
    assert again.find(other) is not None


@pytest.mark.asyncio
async def test_there_is_an_end_to_how_many_may_be_paired(tmp_path: Path) -> None:
    devices = make(tmp_path)
    for n in range(MOST):
        await devices.add(f"device {n}")
    with pytest.raises(DaemonError, match="32 devices are paired already") as error:
        await devices.add("one more")
    assert "--revoke" in error.value.remedy


@pytest.mark.asyncio
async def test_a_device_that_cannot_be_written_down_is_not_paired(tmp_path: Path) -> None:
    (tmp_path / "state").write_text("a file where the folder should be")
    devices = make(tmp_path)
    with pytest.raises(DaemonError, match="cannot be written"):
        await devices.add("Phone")
    assert devices.known == ()


@pytest.mark.asyncio
async def test_one_that_is_unpaired_is_out_even_if_the_disk_fails(tmp_path: Path) -> None:
    devices = make(tmp_path)
    device, token = await devices.add("Phone")
    (tmp_path / "state" / "devices.new").mkdir()
    with pytest.raises(DaemonError, match="cannot be written"):
        await devices.revoke(device.id)
    assert devices.find(token) is None


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"v":2,"devices":[]}', '{"v":1,"devices":[{"id":"x"}]}', "\xff"]
)
@pytest.mark.asyncio
async def test_a_damaged_file_is_told_and_put_aside_and_pairing_goes_on(
    tmp_path: Path, text: str, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "state" / "devices.json"
    path.parent.mkdir()
    path.write_bytes(text.encode("latin-1"))
    devices = make(tmp_path)
    with caplog.at_level(logging.ERROR):
        await devices.load()
    assert "must be paired anew" in caplog.text
    assert path.with_suffix(".damaged").read_bytes() == text.encode("latin-1")
    _, token = await devices.add("Phone")
    assert devices.find(token) is not None
    assert len(json.loads(path.read_text())["devices"]) == 1


@pytest.mark.asyncio
async def test_with_no_file_nobody_is_paired(tmp_path: Path) -> None:
    devices = make(tmp_path)
    await devices.load()
    assert devices.known == ()
    assert devices.find("") is None
