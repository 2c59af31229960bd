"""Anchorings from recorded nights, against the truth they were made with."""

import datetime as dt
import json
from pathlib import Path

import pytest

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane, distance_and_bearing
from driftlead.geodesy.position import Position
from driftlead.records.from_night import anchorings_of_nights

NIGHTS = Path(__file__).resolve().parents[2] / "replay_logs"


def test_a_recorded_night_gives_its_anchoring_with_all_there_is() -> None:
    """The breakout of the shipped nights: place, time, rode, drag, wind and track."""
    (found,), faults = anchorings_of_nights([NIGHTS / "breakout.log.gz"])
    truth = json.loads((NIGHTS / "truth.json").read_text())["breakout"]
    assert faults == ()
    drop = Position(truth["drop"]["lat_deg"], truth["drop"]["lon_deg"])
    off = LocalPlane(drop).to_plane(found.drop.lat_deg, found.drop.lon_deg)
    assert distance_and_bearing(*off)[0] < 10.0
    assert found.began_utc_s == pytest.approx(
        dt.datetime.fromisoformat(truth["let_go_utc"]).timestamp(), abs=5.0
    )
    assert found.rode_m == truth["rode_m"]
    assert found.alarms >= 1
    farthest = max(found.drags, key=lambda drag: drag.moved_m or 0.0)
    # The watch says at the least how far; and she yaws, so not to the metre.
    assert farthest.moved_m == pytest.approx(truth["drag"]["distance_m"], abs=30.0)
    turned = (farthest.bearing_deg or 0.0) - truth["drag"]["bearing_deg"]
    assert abs((turned + 180.0) % 360.0 - 180.0) < 15.0
    assert found.depth_m is not None
    assert found.greatest_wind_mps is not None
    assert 100 < len(found.track) < 3000
    assert {"riding", "dragging"} <= {each.state for each in found.track}


def test_a_bare_log_says_nothing_of_an_anchor() -> None:
    """It is refused with what to give."""
    with pytest.raises(UserInputError, match="where the anchor was let go"):
        anchorings_of_nights([NIGHTS / "quiet-night.nmea.gz"])
