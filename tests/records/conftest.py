"""Events and anchorings for the tests of records."""

from typing import Any

import pytest

from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring, Drag, RaisedAlert, TrackSample

EVENING_S = 1_781_474_640.0  # 2026-06-14T22:04:00Z
ANCHOR = {"lat": 46.50125, "lon": -31.20115, "sigma_m": 2.5, "method": "marked"}


def state(name: str, entered: str, t: str | None, **more: Any) -> dict[str, Any]:
    """A state event as the journal has it."""
    event = {"v": 1, "t": t, "kind": "state", "name": name, "state": entered, "anchor": ANCHOR}
    return event | {"priority": None, "reason": "", "moved_m": None, "bearing_deg": None} | more


def alert(name: str, number: int, priority: str, t: str | None, **more: Any) -> dict[str, Any]:
    """An alert event as the journal has it."""
    event = {"v": 1, "t": t, "kind": "alert", "name": name, "number": number, "instance": ""}
    said = {"priority": priority, "state": "active_unacknowledged", "text": "It is so."}
    return event | said | {"moved_m": None, "bearing_deg": None, "anchor": ANCHOR} | more


@pytest.fixture
def night() -> list[dict[str, Any]]:
    """The events of a night with one drag, from let go to weigh."""
    return [
        state("let_go", "let_go", "2026-06-14T22:04:00.000Z"),
        state("fell_back", "laying_back", "2026-06-14T22:05:10.000Z"),
        alert("rode_unknown", 1, "caution", "2026-06-14T22:09:00.000Z"),
        alert("rode_unknown", 1, "caution", "2026-06-14T22:09:30.000Z", state="normal"),
        state("settled", "riding", "2026-06-14T22:20:00.000Z"),
        state("drag_found", "dragging", "2026-06-15T03:20:27.000Z", moved_m=12.8, bearing_deg=54.5),
        alert("drag", 2, "alarm", "2026-06-15T03:20:27.000Z", moved_m=12.8, bearing_deg=54.5),
        alert("drag", 2, "alarm", "2026-06-15T03:25:00.000Z", moved_m=31.0, bearing_deg=52.0),
        state("held_again", "riding", "2026-06-15T03:50:00.000Z", moved_m=40.0, bearing_deg=51.0),
        state("weigh", "aweigh", "2026-06-15T06:30:00.000Z"),
        state("stowed", "stowed", "2026-06-15T06:45:00.000Z"),
    ]


@pytest.fixture
def anchoring() -> Anchoring:
    """One anchoring of which everything is known."""
    drop = Position(46.50125, -31.20115)
    return Anchoring(
        began_utc_s=EVENING_S,
        ended_utc_s=EVENING_S + 8.5 * 3600.0,
        place="Pellow Sound, <east> & north",
        drop=drop,
        method="marked",
        anchor=Position(46.50150, -31.20075),
        rode_m=38.0,
        depth_m=6.2,
        least_depth_m=4.1,
        greatest_depth_m=6.9,
        least_wind_mps=3.0,
        greatest_wind_mps=12.4,
        radius_m=56.0,
        drags=(
            Drag(
                found_utc_s=EVENING_S + 19_000.0,
                held_utc_s=EVENING_S + 20_000.0,
                moved_m=40.0,
                bearing_deg=51.0,
            ),
        ),
        alerts=(
            RaisedAlert(
                number=2,
                name="drag",
                priority="alarm",
                raised_utc_s=EVENING_S + 19_000.0,
                text="The anchor is dragging.",
            ),
        ),
        track=tuple(
            TrackSample(EVENING_S + 60.0 * n, 46.50125 + 1e-5 * n, -31.20115 - 1e-5 * n, "riding")
            for n in range(30)
        ),
    )
