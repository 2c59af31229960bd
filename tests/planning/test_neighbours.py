"""Boats and what they swing on."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.planning.neighbours import STRETCH, Boat, Gear, GivenCircle


def boat(**changes: object) -> Boat:
    """A boat whose rode, depth and bow height make the triangle 7, 24, 25."""
    values: dict[str, object] = {
        "name": "Corvid",
        "rode_m": 25.0,
        "depth_m": 6.0,
        "bow_height_m": 1.0,
        "length_m": 10.0,
    }
    return Boat(**(values | changes))  # type: ignore[arg-type]


def test_the_reach_is_the_side_of_a_right_triangle() -> None:
    """25 m of chain over 7 m of drop: 24 m of reach, and 18 m where it hangs up and down."""
    assert boat().reach_m() == 24.0
    assert boat().least_reach_m() == 18.0
    assert boat().circle_m() == 34.0


def test_rope_stretches_and_chain_does_not() -> None:
    """The figures for it are common practice."""
    assert STRETCH[Gear.CHAIN] == 0.0
    rope = boat(gear=Gear.ROPE)
    assert rope.reach_m() == pytest.approx(math.sqrt((25.0 * 1.1) ** 2 - 7.0**2))


def test_a_falling_tide_lets_her_swing_wider() -> None:
    """Less water, more reach; a berth that dries out counts as no water."""
    assert boat().reach_m(-3.0) == pytest.approx(math.sqrt(25.0**2 - 4.0**2))
    assert boat().reach_m(-9.0) == pytest.approx(math.sqrt(25.0**2 - 1.0))


def test_a_mooring_that_the_tide_has_covered_keeps_her_over_its_block() -> None:
    """No reach is the limit, never a root of a negative number."""
    assert boat(gear=Gear.MOORING, rode_m=8.0).reach_m(5.0) == 0.0


@given(
    rode_m=st.floats(1.0, 200.0),
    more_m=st.floats(0.0, 100.0),
    depth_m=st.floats(0.0, 60.0),
    rise_m=st.floats(-8.0, 8.0),
    gear=st.sampled_from(list(Gear)),
)
def test_adding_rode_never_shrinks_the_circle(
    rode_m: float, more_m: float, depth_m: float, rise_m: float, gear: Gear
) -> None:
    """Whatever she lies to, in whatever water; and more water never widens it."""
    short = boat(rode_m=rode_m, depth_m=depth_m, gear=gear)
    longer = boat(rode_m=rode_m + more_m, depth_m=depth_m, gear=gear)
    assert longer.circle_m(rise_m) >= short.circle_m(rise_m)
    assert longer.least_reach_m(rise_m) >= short.least_reach_m(rise_m)
    assert short.circle_m(rise_m + 1.0) <= short.circle_m(rise_m)
    assert short.least_reach_m(rise_m) <= short.reach_m(rise_m) + 1e-9


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"rode_m": 0.0}, "The rode of Corvid"),
        ({"rode_m": math.nan}, "The rode of Corvid"),
        ({"depth_m": -1.0}, "depth of water of Corvid"),
        ({"length_m": -10.0}, "length of Corvid"),
        ({"beam_m": 0.0}, "beam of Corvid"),
        ({"bow_height_m": math.inf}, "bow height of Corvid"),
        ({"spread_deg": 91.0}, "spread of Corvid"),
        ({"spread_deg": math.nan}, "spread of Corvid"),
        ({"east_m": math.inf}, "place of Corvid"),
    ],
)
def test_measures_that_cannot_be_are_refused_by_name(change: dict[str, float], words: str) -> None:
    """With what to give instead."""
    with pytest.raises(UserInputError, match=words) as refused:
        boat(**change)
    assert refused.value.remedy


def test_a_given_circle_is_the_same_at_any_tide() -> None:
    """And must have a size."""
    barge = GivenCircle(name="barge", east_m=0.0, north_m=0.0, radius_m=45.0)
    assert barge.circle_m(-3.0) == barge.circle_m() == 45.0
    with pytest.raises(UserInputError, match="circle of barge"):
        GivenCircle(name="barge", east_m=0.0, north_m=0.0, radius_m=0.0)
