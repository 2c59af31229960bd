"""How a tide table gets into the settings that a watch is kept and recorded by."""

import datetime as dt
import tomllib
from pathlib import Path

import pytest

from driftlead.config.load import build_config, core_settings
from driftlead.core.settings import CoreSettings
from driftlead.core.settings_json import settings_from_json, settings_to_json
from driftlead.daemon.tides import with_tide
from driftlead.errors import UserInputError

CSV = "time,height\n2026-06-14 18:50,3.9m\n2026-06-15 01:05,1.1m\n"
TOML = """
times = ["2026-06-14 18:50", "2026-06-15 01:05"]
heights = ["3.9m", "1.1m"]
"""
ZONE = dt.timezone(dt.timedelta(hours=-2))
TURNS = (
    (dt.datetime(2026, 6, 14, 18, 50, tzinfo=ZONE).timestamp(), 3.9),
    (dt.datetime(2026, 6, 15, 1, 5, tzinfo=ZONE).timestamp(), 1.1),
)


def started(folder: Path, plan: str) -> CoreSettings:
    """The settings a daemon would start with by this [plan]."""
    text = (
        f'[plan]\nzone = "-02:00"\n{plan}\n'
        '[[source]]\nname = "gps"\nkind = "serial"\ndevice = "/dev/ttyUSB0"\n'
    )
    config = build_config(tomllib.loads(text), folder / "driftlead.toml")
    return with_tide(core_settings(config), config)


@pytest.mark.parametrize(("name", "text"), [("tides.csv", CSV), ("tides.toml", TOML)])
def test_turns_come_in_utc_from_the_ships_zone(tmp_path: Path, name: str, text: str) -> None:
    """The file lies beside the configuration; recordings carry what it says."""
    (tmp_path / name).write_text(text, encoding="utf-8-sig")
    settings = started(tmp_path, f'tide = "{name}"')
    assert settings.watch.outlook.tide == TURNS
    assert settings_from_json(settings_to_json(settings)) == settings


def test_without_one_nothing_changes(tmp_path: Path) -> None:
    assert started(tmp_path, "").watch.outlook.tide == ()


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (None, "No such file or directory"),
        (b"\xff\xfe\x00", "not UTF-8"),
        (b"time,height\n2026-06-14 18:50,3.9\n", "no unit"),
        (b"time,height\n2026-06-14 18:50,3.9m\n", "two are the least"),
    ],
)
def test_a_table_that_cannot_be_read_is_told_with_key_file_and_remedy(
    tmp_path: Path, content: bytes | None, word: str
) -> None:
    """Each of them once, and no number of the system's."""
    if content is not None:
        (tmp_path / "tides.csv").write_bytes(content)
    with pytest.raises(UserInputError) as refused:
        started(tmp_path, 'tide = "tides.csv"')
    error = refused.value
    assert error.message.startswith("[plan] tide: ")
    assert error.message.count(str(tmp_path / "tides.csv")) == 1
    assert word in error.message
    assert "Errno" not in error.message
    assert error.message.endswith(".")
    assert error.remedy
