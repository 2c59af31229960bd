"""The page over https, by a certificate made as the documentation says."""

import asyncio
import os
import re
import shutil
import ssl
import subprocess
from pathlib import Path
from typing import Any

import pytest

from driftlead.errors import DaemonError
from driftlead.web.server import RETRY_EVERY
from driftlead.web.tls import server_context

PAGE = Path(__file__).resolve().parents[2] / "docs" / "page.md"


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with page.crt and page.key, made by the command of docs/page.md."""
    if shutil.which("openssl") is None:
        if os.environ.get("CI"):
            pytest.fail("openssl is not installed; in CI the documented command must be tested")
        pytest.skip("openssl is not installed")
    folder = tmp_path_factory.mktemp("tls")
    found = re.search(r"openssl req (?:[^\n]*\\\n)*[^\n]*\n", PAGE.read_text())
    assert found is not None
    command = found[0].replace("192.168.4.1", "127.0.0.1")
    subprocess.run(["sh", "-c", command], cwd=folder, check=True, capture_output=True)  # noqa: S607
    return folder


def client_side(folder: Path) -> ssl.SSLContext:
    """A device that has installed the certificate."""
    return ssl.create_default_context(cafile=str(folder / "page.crt"))


@pytest.mark.asyncio
async def test_a_device_that_trusts_the_certificate_pairs_listens_and_acts(
    serve: Any, made: Path
) -> None:
    async with serve(certificate=made / "page.crt", key=made / "page.key") as rig:
        assert rig.faults[-1] is None
        trust = {"ssl": client_side(made)}
        client = rig.client()
        body = {"pin": rig.server.open_pin(), "name": "Phone"}
        async with client.ask("POST", "/api/v1/pair", json=body, **trust) as response:
            assert response.status == 200
            client.csrf = (await response.json())["csrf"]
            cookie = response.headers["Set-Cookie"]
        for mark in ("Secure", "HttpOnly", "SameSite=Strict"):
            assert mark in cookie
        await rig.deck.lie(seconds=3)
        async with rig.stream(client, **trust) as stream:
            assert (await stream.next())[0] == "now"
            status, answer = await client.post("commands", rig.command("let_go"), **trust)
            assert (status, answer["accepted"]) == (200, True)
            assert (await stream.next("state"))[1]["event"]["name"] == "let_go"


@pytest.mark.asyncio
async def test_whoever_speaks_plain_http_to_it_is_told_nothing(serve: Any, made: Path) -> None:
    async with serve(certificate=made / "page.crt", key=made / "page.key") as rig:
        reader, writer = await asyncio.open_connection("127.0.0.1", rig.server.port)
        writer.write(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        async with asyncio.timeout(10.0):
            assert b"HTTP/1.1 200" not in await reader.read()
        writer.close()


@pytest.mark.asyncio
async def test_over_plain_http_the_cookie_is_one_a_browser_keeps(serve: Any) -> None:
    async with serve() as rig:
        body = {"pin": rig.server.open_pin(), "name": "Phone"}
        async with rig.client().ask("POST", "/api/v1/pair", json=body) as response:
            assert "Secure" not in response.headers["Set-Cookie"]


@pytest.mark.asyncio
async def test_files_that_are_not_there_are_a_fault_with_the_remedy_until_they_are(
    serve: Any, made: Path, tmp_path: Path
) -> None:
    certificate, key = tmp_path / "page.crt", tmp_path / "page.key"
    async with serve(certificate=certificate, key=key) as rig:
        (fault,) = rig.faults
        assert f"[web] certificate: {certificate} cannot be read: No such file" in fault
        assert "docs/page.md" in fault
        assert rig.server.port is None
        shutil.copy(made / "page.crt", certificate)
        shutil.copy(made / "page.key", key)
        while rig.faults[-1] is not None:
            await rig.time.until_sleeping(1.0)
            await rig.time.advance(1.0)
            assert len(rig.faults) < RETRY_EVERY
        async with rig.client().ask("GET", "/api/v1/session", ssl=client_side(made)) as response:
            assert response.status == 200


@pytest.mark.parametrize(
    ("certificate", "key", "told"),
    [
        ("page.crt", "other.key", "does not belong to"),
        ("page.crt", "rsa.key", "does not belong to"),
        ("page.crt", "page.crt", "not one in PEM"),
        ("page.key", "page.key", "not one in PEM"),
        ("page.crt", "locked.key", "page.crt"),
        ("page.crt", ".", "cannot be read: Is a directory"),
        ("empty", "page.key", "not one in PEM"),
    ],
)
def test_what_does_not_fit_is_told_with_the_file_and_the_remedy(
    made: Path, certificate: str, key: str, told: str
) -> None:
    """A locked key too: nobody sits at the daemon to type a pass phrase in."""
    (made / "empty").write_text("")
    elliptic = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1"]
    for name, more in (
        ("other", [*elliptic, "-nodes"]),
        ("rsa", ["-newkey", "rsa:2048", "-nodes"]),
        ("locked", [*elliptic, "-passout", "pass:secret"]),
    ):
        if not (made / f"{name}.key").exists():
            files = ["-keyout", f"{name}.key", "-out", f"{name}.crt", "-subj", "/CN=x", *more]
            command = ["openssl", "req", "-x509", *files]
            subprocess.run(command, cwd=made, check=True, capture_output=True)
    with pytest.raises(DaemonError) as error:
        server_context(made / certificate, made / key)
    assert told in error.value.message
    assert "[web]" in error.value.message
    assert "docs/page.md" in error.value.remedy
