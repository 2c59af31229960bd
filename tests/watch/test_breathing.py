"""The circle by the tide: figures by hand, at the times of an invented table."""

import math
from itertools import pairwise
from typing import Any

import pytest
from attrs import evolve

from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.watch.anchored import Anchored
from driftlead.watch.breathing import Breathing
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.settings import BoatSettings, OutlookSettings, TackleSettings, WatchSettings

HOUR_S = 3600.0
LOW_S = 1_780_000_000.0
HIGH_S = LOW_S + 6 * HOUR_S
# Low 1 m, high 4 m, low 0.5 m; at half time between turns half the range has run.
TIDE = ((LOW_S, 1.0), (HIGH_S, 4.0), (HIGH_S + 6 * HOUR_S, 0.5))
SLOOP = WatchSettings(
    boat=BoatSettings(bow_height_m=1.0, antenna_aft_m=8.0),
    tackle=TackleSettings(rode_slack=0.0),
    outlook=OutlookSettings(tide=TIDE),
)


def anchored(**known: Any) -> Anchored:
    """30 m of rode in 5 m of water at low water."""
    fields: dict[str, Any] = {
        "drop": Position(46.5, -31.2),
        "place": AnchorInPlane(0.0, 0.0, 5.0),
        "method": AnchorMethod.MARKED,
        "rode_m": 30.0,
        "depth_m": 5.0,
        "depth_utc_s": LOW_S,
    }
    return Anchored(**(fields | known))


def radius_m(utc_s: float | None, settings: WatchSettings = SLOOP, **known: Any) -> float:
    """The circle's radius at a time."""
    circle, _ = Breathing(settings).circle(anchored(**known), utc_s)
    assert circle is not None
    return circle.radius_m


@pytest.mark.parametrize(
    ("hours", "depth_m"), [(0.0, 5.0), (3.0, 6.5), (6.0, 8.0), (9.0, 6.25), (12.0, 4.5)]
)
def test_the_radius_is_that_of_the_rode_in_the_depth_of_the_hour(
    hours: float, depth_m: float
) -> None:
    """sqrt(rode^2 - (depth + bow)^2) and the antenna: 37.4 m at low water, 36.6 m at high."""
    wanted_m = math.sqrt(30.0**2 - (depth_m + 1.0) ** 2) + 8.0
    assert radius_m(LOW_S + hours * HOUR_S) == pytest.approx(wanted_m, abs=1e-6)


@pytest.mark.parametrize("utc_s", [LOW_S - 1.0, HIGH_S + 7 * HOUR_S])
def test_outside_the_table_it_is_the_largest_with_the_least_depth(utc_s: float) -> None:
    """The lowest low water leaves 4.5 m."""
    assert radius_m(utc_s) == pytest.approx(math.sqrt(30.0**2 - 5.5**2) + 8.0)


@pytest.mark.parametrize(
    "known",
    [{"depth_utc_s": None}, {"depth_utc_s": LOW_S - 60.0}, {"depth_m": None, "depth_utc_s": None}],
)
def test_a_depth_of_no_known_tide_stays_what_it_was(known: dict[str, Any]) -> None:
    drop_m = 6.0 if known.get("depth_m", 5.0) else 0.0
    assert radius_m(HIGH_S, **known) == pytest.approx(math.sqrt(30.0**2 - drop_m**2) + 8.0)


def test_without_a_table_or_a_time_nothing_changes() -> None:
    plain_m = math.sqrt(30.0**2 - 6.0**2) + 8.0
    assert radius_m(HIGH_S, evolve(SLOOP, outlook=OutlookSettings())) == pytest.approx(plain_m)
    assert radius_m(None) == pytest.approx(plain_m)


def test_where_it_dries_the_whole_rode_reaches() -> None:
    """Let go at high water in 3 m: at the low water after it dries by 0.5 m."""
    at_low_m = radius_m(HIGH_S + 6 * HOUR_S, depth_m=3.0, depth_utc_s=HIGH_S)
    assert at_low_m == pytest.approx(38.0)


def test_a_scope_that_the_tide_makes_very_short_shrinks_the_circle_no_further() -> None:
    """10 m of rode in 5 m; the tide would make it 8 m, or 1.1:1. It is drawn for 10/1.5 - 1 m."""
    drop_m = 10.0 / 1.5
    wanted_m = math.sqrt(10.0**2 - drop_m**2) + 8.0
    assert radius_m(HIGH_S, rode_m=10.0) == pytest.approx(wanted_m)
    # What was let go with less than that stays as it was.
    assert radius_m(HIGH_S, rode_m=7.0) == pytest.approx(math.sqrt(7.0**2 - 6.0**2) + 8.0)


def test_the_detector_is_told_each_change_by_more_than_five_centimetres() -> None:
    breathing, anchor = Breathing(SLOOP), anchored()
    drawn, whole_rode = breathing.draw(anchor, LOW_S)
    assert drawn is not None
    assert not whole_rode
    told_m = [drawn.radius_m]
    for step in range(6 * 360):
        circle = breathing.breathe(anchor, LOW_S + 10.0 * step)
        if circle is not None:
            told_m.append(circle.radius_m)
    steps_m = [before - after for before, after in pairwise(told_m)]
    assert all(0.05 < step_m < 0.06 for step_m in steps_m)
    whole_m = math.sqrt(30.0**2 - 6.0**2) - math.sqrt(30.0**2 - 9.0**2)
    assert sum(steps_m) == pytest.approx(whole_m, abs=0.06)


def test_after_a_restart_it_goes_by_the_depth_it_was_drawn_for_until_there_is_a_time() -> None:
    breathing, anchor = Breathing(SLOOP), anchored()
    breathing.resume(8.0)
    circle, _ = breathing.draw(anchor, None)
    assert circle is not None
    assert circle.radius_m == pytest.approx(math.sqrt(30.0**2 - 9.0**2) + 8.0)
    assert breathing.breathe(anchor, None) is None
    # Three hours on it has fallen to 6.25 m.
    later = breathing.breathe(anchor, HIGH_S + 3 * HOUR_S)
    assert later is not None
    assert later.radius_m == pytest.approx(math.sqrt(30.0**2 - 7.25**2) + 8.0)
    assert breathing.drawn_depth_m == pytest.approx(6.25)


def test_the_depth_and_the_rise_to_come_are_those_of_the_table() -> None:
    breathing, anchor = Breathing(SLOOP), anchored()
    assert breathing.depth_m(anchor, LOW_S + 3 * HOUR_S) == pytest.approx(6.5)
    assert breathing.depth_m(anchor, HIGH_S + 7 * HOUR_S) == 5.0
    assert breathing.rise_m(LOW_S + 3 * HOUR_S) == pytest.approx(1.5)
    assert breathing.rise_m(HIGH_S - HOUR_S) == pytest.approx(
        1.5 * (1.0 - math.cos(math.radians(30.0)))
    )
    # The table ends before it can be said what comes.
    assert breathing.rise_m(HIGH_S + 5 * HOUR_S) is None
    assert breathing.rise_m(None) is None
