"""The drag circle and the swinging circle."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.tackle.drag_circle import DragCircle, drag_circle, swinging_circle_m

CORVID: dict[str, Any] = {
    "rode_m": 40.0,
    "depth_m": 5.0,
    "bow_height_m": 1.0,
    "antenna_aft_m": 9.0,
    "rode_slack": 0.08,
    "sigma_m": 2.5,
    "sigmas": 2.0,
}


@given(
    rode_m=st.floats(1e-6, 500.0),
    antenna_aft_m=st.floats(0.0, 100.0),
    bow_height_m=st.floats(0.0, 5.0),
    depth_m=st.sampled_from([None, 0.0]),
)
def test_with_depth_unknown_and_no_allowances_it_is_the_handbook_circle_exactly(
    rode_m: float, antenna_aft_m: float, bow_height_m: float, depth_m: float | None
) -> None:
    """NAVEDTRA 14221 (US Navy Quartermaster 3 & 2), chapter 12: hawse to fix point plus rode."""
    circle = drag_circle(
        rode_m=rode_m,
        depth_m=depth_m,
        bow_height_m=bow_height_m,
        antenna_aft_m=antenna_aft_m,
        rode_slack=0.0,
        sigma_m=0.0,
        sigmas=3.0,
    )
    assert circle.radius_m == rode_m + antenna_aft_m


def test_the_parts_of_a_sloops_circle_are_those_worked_by_hand() -> None:
    """40 m in 5 m under a 1 m bow: sqrt(40^2 - 6^2) = 39.547; with 8 % more, 42.781."""
    circle = drag_circle(**CORVID)
    assert circle.reach_m == pytest.approx(39.547, abs=0.0005)
    assert circle.rode_slack_m == pytest.approx(42.781 - 39.547, abs=0.001)
    assert circle.antenna_aft_m == 9.0
    assert circle.allowance_m == 5.0
    assert circle.radius_m == pytest.approx(42.781 + 9.0 + 5.0, abs=0.001)


@given(rode_m=st.floats(0.0, 200.0), depth_m=st.floats(0.01, 60.0), rode_slack=st.floats(0.0, 0.5))
def test_knowing_the_depth_never_widens_the_circle(
    rode_m: float, depth_m: float, rode_slack: float
) -> None:
    known = drag_circle(**CORVID | {"rode_m": rode_m, "depth_m": depth_m, "rode_slack": rode_slack})
    unknown = drag_circle(**CORVID | {"rode_m": rode_m, "depth_m": None, "rode_slack": rode_slack})
    assert known.radius_m <= unknown.radius_m + 1e-9
    assert known.rode_slack_m >= 0.0


def test_less_water_gives_a_wider_circle() -> None:
    """Why the least depth is the one to give."""
    radii = [drag_circle(**CORVID | {"depth_m": depth_m}).radius_m for depth_m in (2, 5, 10, 20)]
    assert radii == sorted(radii, reverse=True)
    assert len(set(radii)) == len(radii)


def test_a_rode_that_does_not_reach_the_bottom_leaves_antenna_and_allowance() -> None:
    circle = drag_circle(**CORVID | {"rode_m": 10.0, "depth_m": 30.0})
    assert circle == DragCircle(reach_m=0.0, antenna_aft_m=9.0, rode_slack_m=0.0, allowance_m=5.0)


@pytest.mark.parametrize("name", sorted(CORVID))
@pytest.mark.parametrize("value", [-1.0, math.nan, math.inf])
def test_a_measure_that_cannot_be_is_refused(name: str, value: float) -> None:
    with pytest.raises(UserInputError, match=f"cannot be {value}"):
        drag_circle(**CORVID | {name: value})


def test_the_swinging_circle_is_length_over_all_plus_rode() -> None:
    """NAVEDTRA 14221, chapter 12."""
    assert swinging_circle_m(rode_m=40.0, loa_m=11.0) == 51.0
    with pytest.raises(UserInputError, match="length over all"):
        swinging_circle_m(rode_m=40.0, loa_m=-11.0)
