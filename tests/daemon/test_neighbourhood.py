"""How neighbours and dangers get into the settings that a watch is kept and recorded by."""

import json
import tomllib
from pathlib import Path

import pytest

from driftlead.config.load import build_config, core_settings
from driftlead.core.settings import CoreSettings
from driftlead.core.settings_json import settings_from_json, settings_to_json
from driftlead.daemon.neighbourhood import with_neighbourhood
from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.to_leeward import ToLeeward

DROP = Position(46.5, -31.2)
TOML = """
[[danger]]
kind = "pier"
name = "west pier"
bearing_deg = 270
distance = "300ft"

[[danger]]
kind = "shore"
name = "south shore"
line = ["46.4990,-31.2100", "46.4990,-31.1900"]
"""
GEOJSON = json.dumps(
    {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"kind": "pier", "name": "west pier"},
                "geometry": {"type": "Point", "coordinates": [-31.2011915, 46.5]},
            }
        ],
    }
)


def started(folder: Path, web: str) -> CoreSettings:
    """The settings a daemon would start with by this [web]."""
    text = f'[web]\n{web}\n[[source]]\nname = "gps"\nkind = "serial"\ndevice = "/dev/ttyUSB0"\n'
    config = build_config(tomllib.loads(text), folder / "driftlead.toml")
    return with_neighbourhood(core_settings(config), config)


@pytest.mark.parametrize(("name", "text"), [("around.toml", TOML), ("around.geojson", GEOJSON)])
def test_either_form_reaches_the_drag_alarm_and_recordings_carry_it(
    tmp_path: Path, name: str, text: str
) -> None:
    """300 ft, 91.4 m, west of an anchor that is down long after the file was read."""
    (tmp_path / name).write_text(text, encoding="utf-8-sig")
    settings = started(tmp_path, f'around = "{name}"')
    assert settings_from_json(settings_to_json(settings)) == settings
    leeward = ToLeeward(settings.watch.around, hull_m=0.0)
    here = TrackPoint(0.0, 0.0, 0.0, 0.0, 2.5, 0.0, 0.0, FixState.TAKEN, 0.0, 0.0)
    leeward.look(LocalPlane(DROP), DROP, here, bearing_deg=270.0, rate_mps=0.1)
    assert leeward.danger is not None
    assert leeward.danger.name == "west pier"
    assert leeward.danger.distance_m == pytest.approx(91.4, abs=0.1)


def test_without_one_nothing_changes(tmp_path: Path) -> None:
    assert started(tmp_path, "").watch.around == ""


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("around.toml", None),
        ("around.toml", b"\xff\xfe\x00"),
        ("around.toml", b"[[danger]]\nkind = pier\n"),
        ("around.toml", b'[[danger]]\nkind = "pier"\n'),
        ("around.toml", b"[plan]\n"),
        ("around.geojson", b"{}"),
        ("around.geojson", b"{"),
    ],
)
def test_a_file_that_cannot_be_read_is_told_with_key_file_and_remedy(
    tmp_path: Path, name: str, content: bytes | None
) -> None:
    """Each of them once, and no number of the system's."""
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(UserInputError) as refused:
        started(tmp_path, f'around = "{name}"')
    error = refused.value
    assert error.message.startswith("[web] around: ")
    assert error.message.count(str(tmp_path / name)) == 1
    assert "Errno" not in error.message
    assert error.remedy
