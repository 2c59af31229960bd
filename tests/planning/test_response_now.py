"""The card for the watch as it stands: filled from the status and the settings."""

from typing import Any

import pytest

from driftlead.core.core import Core
from driftlead.core.settings import CoreSettings
from driftlead.core.status import Status
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.planning.danger_ahead import DangerAhead, DangerKind
from driftlead.planning.response_now import card_of, situation_of
from driftlead.units import Printer, UnitSystem
from driftlead.watch.settings import TackleSettings, WatchSettings

SLOOP = WatchSettings(tackle=TackleSettings(rode_aboard_m=60.0))
PIER = DangerAhead(
    name="west pier",
    kind=DangerKind.PIER,
    distance_m=86.0,
    bearing_deg=92.0,
    minutes=2.5,
    nearest_name="west pier",
    nearest_m=86.0,
    nearest_bearing_deg=95.0,
)


def status(**known: Any) -> Status:
    """A boat that has dragged 18 m on 35 m of rode."""
    nothing: dict[str, Any] = dict.fromkeys(
        name for name in Status.__annotations__ if name not in ("alerts", "sources")
    )
    dragging: dict[str, Any] = {
        "state": "dragging",
        "moved_m": 18.0,
        "moved_deg": 90.0,
        "rate_mps": 0.12,
        "danger": PIER,
        "rode_m": 35.0,
        "depth_m": 6.5,
        "anchor_depth_m": 7.2,
        "rise_m": 1.3,
        "anchor": AnchorEstimate(46.5, -31.2, 5.0, AnchorMethod.MOVED),
    }
    return Status(**(nothing | dragging | known))


def test_every_figure_of_the_card_comes_from_the_status() -> None:
    """The buoy's line by hand: a third over 6.5 + 1.3 m and two metres, rounded up: 13 m."""
    card = card_of(status(), SLOOP)
    assert card is not None
    figures = {step.name: step.figures for step in card.steps}
    assert figures["confirm"] == {
        "moved_m": 18.0,
        "bearing_deg": 90.0,
        "rate_mps": 0.12,
        "depth_m": 6.5,
    }
    assert figures["engine"] == {"danger": "west pier", "distance_m": 86.0, "minutes": 2.5}
    assert figures["veer"] == {"room_m": 25.0, "rode_m": 35.0}
    assert figures["slip"] == {"lat_deg": 46.5, "lon_deg": -31.2, "buoy_line_m": 13}
    assert card.urgent == "slip"


def test_without_a_sounder_the_depth_is_that_of_the_anchor_by_the_tide() -> None:
    assert situation_of(status(depth_m=None), SLOOP).depth_m == 7.2


@pytest.mark.parametrize("state", ["stowed", "riding", "laying_back", "aweigh"])
def test_there_is_a_card_only_while_she_drags(state: str) -> None:
    assert card_of(status(state=state), SLOOP) is None


def test_it_speaks_in_the_units_asked_for() -> None:
    card = card_of(status(), SLOOP, Printer(UnitSystem.FEET))
    assert card is not None
    assert "ft" in "\n".join(card.lines())


def test_the_status_of_a_core_is_what_it_asks_for() -> None:
    core = Core(CoreSettings(), mono_s=0.0)
    assert card_of(core.status(0.0), core.watch.settings) is None
