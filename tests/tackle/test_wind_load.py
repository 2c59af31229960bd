"""The push of the wind."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.tackle.wind_load import (
    usual_drag_area_m2,
    wind_load_n,
    wind_of_load_mps,
    wind_pressure_pa,
)
from driftlead.units import FOOT_M, KNOT_MPS


@pytest.mark.parametrize(("knots", "pascals"), [(15, 36.5), (30, 145.9), (42, 285.9), (60, 583.6)])
def test_dynamic_pressure_at_the_winds_of_the_design_table(knots: float, pascals: float) -> None:
    """Reckoned by hand: 1/2 x 1.225 kg/m3 x V^2."""
    assert wind_pressure_pa(knots * KNOT_MPS) == pytest.approx(pascals, abs=0.051)


@given(st.floats(0.0, 60.0), st.floats(0.1, 50.0))
def test_twice_the_wind_pushes_four_times_as_hard(wind_mps: float, area_m2: float) -> None:
    push_n = wind_load_n(wind_mps, area_m2)
    assert wind_load_n(2.0 * wind_mps, area_m2) == pytest.approx(4.0 * push_n)
    assert wind_of_load_mps(push_n, area_m2) == pytest.approx(wind_mps)


def test_a_35_foot_boats_mean_push_at_30_knots_is_that_of_load_cells() -> None:
    """Published load-cell readings: 20 to 25 % of the ABYC load, 0.8 to 1.0 kN, 5.5 to 7 m2."""
    area_m2 = usual_drag_area_m2(35 * FOOT_M)
    assert area_m2 is not None
    assert 5.5 <= area_m2 <= 7.0
    assert 800.0 <= wind_load_n(30 * KNOT_MPS, area_m2) <= 1001.0


@given(st.floats(2.0, 18.28), st.floats(2.0, 18.28))
def test_a_longer_boat_has_more_windage(one_m: float, other_m: float) -> None:
    short, long = (usual_drag_area_m2(m) for m in sorted((one_m, other_m)))
    assert short is not None
    assert long is not None
    assert 0.0 < short <= long + 1e-12


def test_beyond_60_feet_there_is_no_usual_area() -> None:
    assert usual_drag_area_m2(60 * FOOT_M) is not None
    assert usual_drag_area_m2(61 * FOOT_M) is None


@pytest.mark.parametrize(("wind_mps", "area_m2"), [(-1.0, 5.0), (float("nan"), 5.0), (10.0, -5.0)])
def test_measures_that_cannot_be_are_refused(wind_mps: float, area_m2: float) -> None:
    with pytest.raises(UserInputError, match="cannot be"):
        wind_load_n(wind_mps, area_m2)
