"""How far a rode reaches."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.tackle.reach import bar_taut_reach_m, catenary_reach_m


@pytest.mark.parametrize(("rode_m", "drop_m", "reach_m"), [(5, 3, 4), (13, 5, 12), (25, 7, 24)])
def test_bar_taut_rode_depth_and_reach_are_a_right_triangle(
    rode_m: float, drop_m: float, reach_m: float
) -> None:
    """Pythagorean triples."""
    assert bar_taut_reach_m(rode_m, drop_m) == pytest.approx(reach_m)


@pytest.mark.parametrize("rode_m", [0.0, 5.0, 6.0])
def test_a_rode_that_does_not_reach_the_bottom_has_no_reach(rode_m: float) -> None:
    assert bar_taut_reach_m(rode_m, 6.0) == 0.0
    assert catenary_reach_m(rode_m, 6.0, 1000.0, 12.0) == 0.0


@given(st.floats(1e-6, 500.0))
def test_without_a_drop_the_reach_is_the_rode_exactly(rode_m: float) -> None:
    assert bar_taut_reach_m(rode_m, 0.0) == rode_m


@given(
    rode_m=st.floats(0.0, 200.0),
    drop_m=st.floats(0.0, 60.0),
    pull_n=st.floats(0.0, 50e3),
    weight_n_per_m=st.floats(0.1, 60.0),
)
def test_bar_taut_is_the_upper_bound_and_up_and_down_the_lower(
    rode_m: float, drop_m: float, pull_n: float, weight_n_per_m: float
) -> None:
    reach_m = catenary_reach_m(rode_m, drop_m, pull_n, weight_n_per_m)
    assert reach_m <= bar_taut_reach_m(rode_m, drop_m) + 1e-9
    assert reach_m >= rode_m - drop_m - 1e-9


@given(st.floats(7.0, 200.0), st.floats(0.0, 20e3), st.floats(0.0, 20e3))
def test_a_harder_pull_never_shortens_the_reach(
    rode_m: float, pull1_n: float, pull2_n: float
) -> None:
    gentle, hard = sorted((pull1_n, pull2_n))
    assert catenary_reach_m(rode_m, 6.0, gentle, 12.0) <= (
        catenary_reach_m(rode_m, 6.0, hard, 12.0) + 1e-9
    )


@pytest.mark.parametrize(
    ("rode_m", "drop_m"), [(-1.0, 5.0), (40.0, -5.0), (math.nan, 5.0), (40.0, math.inf)]
)
def test_a_measure_that_cannot_be_is_refused_with_its_name_and_value(
    rode_m: float, drop_m: float
) -> None:
    with pytest.raises(UserInputError, match=r"in metres cannot be .*Give zero or more"):
        bar_taut_reach_m(rode_m, drop_m)
    with pytest.raises(UserInputError, match="cannot be"):
        catenary_reach_m(rode_m, drop_m, 1000.0, 12.0)
