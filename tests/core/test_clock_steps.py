"""A receiver's clock that jumps is told: the watch bill goes by it, and so do all times."""

import datetime as dt
import math
from typing import TYPE_CHECKING

import pytest

from driftlead.alerts.alert import AlertState, Priority
from driftlead.core.clock_steps import EVEN_AGAIN_S, ClockSteps
from driftlead.core.inputs import LetGo, Weigh

if TYPE_CHECKING:
    from tests.core.conftest import Sea


def step(sea: "Sea", seconds: float) -> None:
    """The receiver's clock jumps."""
    sea.began_utc += dt.timedelta(seconds=seconds)


@pytest.mark.parametrize(("seconds", "way"), [(3600.0, "forward"), (-3600.0, "back")])
def test_a_jump_during_a_watch_is_a_caution_until_the_clock_has_gone_evenly(
    sea: "Sea", seconds: float, way: str
) -> None:
    sea.command(LetGo(rode_m=30.0, depth_m=5.0))
    sea.lie(60.0, 0.0)
    assert sea.alerts("clock_jumped") == []
    step(sea, seconds)
    sea.lie(EVEN_AGAIN_S - 10.0, 0.0)
    (told,) = sea.alerts("clock_jumped")
    assert (told.priority, told.reason) == (Priority.CAUTION, f"stepped_{way}")
    assert "3600 s" in told.text
    sea.lie(20.0, 0.0)
    assert sea.alerts("clock_jumped")[-1].state is AlertState.NORMAL


def test_before_a_watch_a_receiver_may_still_be_looking_for_the_time(sea: "Sea") -> None:
    step(sea, 7200.0)
    sea.lie(60.0, 0.0)
    assert sea.events == []


def test_stragglers_and_leap_seconds_are_no_jump(sea: "Sea") -> None:
    """Eighteen seconds: what GPS time is ahead of UTC since 2017 (IERS Bulletin C 52)."""
    sea.command(LetGo(rode_m=30.0, depth_m=5.0))
    for seconds in (18.0, -18.0, -30.0, 30.0):
        step(sea, seconds)
        sea.lie(5.0, 0.0)
    assert sea.alerts("clock_jumped") == []


def test_midnight_and_a_gap_in_the_data_are_no_jump(put_to_sea: "type[Sea]") -> None:
    boat = put_to_sea(utc=dt.datetime(2026, 6, 1, 23, 58, tzinfo=dt.UTC))
    boat.lie(30.0, 0.0)
    boat.command(LetGo(rode_m=30.0, depth_m=5.0))
    boat.lie(200.0, 0.0)
    boat.wait(3 * 3600.0)
    boat.lie(30.0, 0.0)
    assert boat.alerts("clock_jumped") == []


def test_it_ends_with_the_watch(sea: "Sea") -> None:
    sea.command(LetGo(rode_m=30.0, depth_m=5.0))
    sea.lie(5.0, 0.0)
    step(sea, 3600.0)
    sea.lie(5.0, 0.0)
    sea.command(Weigh())
    assert sea.alerts("clock_jumped")[-1].state is AlertState.NORMAL


def test_the_first_time_of_all_and_midnight_are_no_steps() -> None:
    steps = ClockSteps()
    for step_s in (-math.inf, -86_400.0, 86_400.0, -86_400.0 + 59.0):
        steps.step(0.0, step_s)
    assert not steps.is_open
    steps.step(0.0, -86_400.0 + 61.0)
    assert steps.is_open
