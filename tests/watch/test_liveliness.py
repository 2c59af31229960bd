"""How lively she lies: to and fro tells of wind, one way on does not."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.watch import liveliness
from driftlead.watch.liveliness import Liveliness

STEP_S = 10.0


def after(velocity: Callable[[float], tuple[float, float]], *, lasts_s: float = 1800.0) -> float:
    """What it comes to, of a velocity east and north in time."""
    follows = Liveliness()
    told = 0.0
    for step in range(int(lasts_s / STEP_S)):
        told = follows.take(STEP_S, *velocity(step * STEP_S))
    return told


def sheering(most_mps: float, every_s: float = 95.0) -> Callable[[float], tuple[float, float]]:
    """To and fro across the wind."""
    return lambda t_s: (most_mps * math.cos(math.tau * t_s / every_s), 0.0)


def test_a_boat_that_sheers_is_lively_and_one_that_lies_still_is_not() -> None:
    """A sheer 10 m to either side in 95 s makes 0.66 m/s at most; 0.1 m/s is a receiver's noise."""
    assert after(sheering(0.66)) == 1.0
    assert after(sheering(0.1)) == 0.0
    assert after(lambda _: (0.0, 0.0)) == 0.0


@pytest.mark.parametrize("every_s", [60.0, 200.0])
def test_between_the_two_it_grows(every_s: float) -> None:
    """Half way: a sine's standard deviation is its height over the root of two."""
    half_mps = 0.5 * (liveliness.STILL_MPS + liveliness.LIVELY_MPS) * math.sqrt(2.0)
    assert after(sheering(half_mps, every_s)) == pytest.approx(0.5, abs=0.1)


@given(mps=st.floats(0.0, 1.5), course_rad=st.floats(0.0, math.tau))
def test_going_steadily_one_way_is_not_lively(mps: float, course_rad: float) -> None:
    """Falling back, or dragging: once it has gone on for some minutes."""
    way = mps * math.sin(course_rad), mps * math.cos(course_rad)
    assert after(lambda _: way) < 0.05


def test_it_takes_minutes_to_believe_it() -> None:
    assert after(sheering(0.4), lasts_s=10.0) < 1.0
    assert after(sheering(0.4), lasts_s=600.0) == 1.0
