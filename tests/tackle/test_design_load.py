"""The ABYC H-40 table."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.tackle.design_load import (
    DUTY_WIND_MPS,
    Duty,
    Hull,
    design_load,
    duty_for,
    interpolated_load_n,
)
from driftlead.units import FOOT_M, KNOT_MPS, POUND_FORCE_N

SIZES_FT = (10, 15, 20, 25, 30, 35, 40, 50, 60)


def load_lb(duty: Duty, loa_ft: float, beam_ft: float | None = None, hull: str = "sail") -> float:
    """The load in the table's own units."""
    beam_m = None if beam_ft is None else beam_ft * FOOT_M
    load = design_load(duty, loa_m=loa_ft * FOOT_M, beam_m=beam_m, hull=Hull(hull))
    assert load is not None
    return load.load_n / POUND_FORCE_N


def test_the_handbooks_worked_case_is_900_pounds_or_4_kn() -> None:
    """A power boat of 32 ft by 12 ft, working anchor; by her beam, which lies between two rows."""
    assert load_lb(Duty.WORKING, 32, 12, "power") == pytest.approx(900)
    load = design_load(Duty.WORKING, loa_m=32 * FOOT_M, beam_m=12 * FOOT_M, hull=Hull.POWER)
    assert load is not None
    assert load.load_n == pytest.approx(4003, abs=1.0)


@pytest.mark.parametrize(
    ("duty", "loads_lb"),
    [
        (Duty.LUNCH_HOOK, (90, 125, 175, 225, 300, 400, 500)),
        (Duty.WORKING, (360, 490, 700, 900, 1200, 1600, 2000)),
        (Duty.STORM, (720, 980, 1400, 1800, 2400, 3200, 4000)),
    ],
)
def test_rows_of_20_to_60_feet_are_as_printed(duty: Duty, loads_lb: tuple[int, ...]) -> None:
    """Two republications of the table; 720 and 980 in a storm, see the module."""
    for loa_ft, expected in zip(SIZES_FT[2:], loads_lb, strict=True):
        assert load_lb(duty, loa_ft) == pytest.approx(expected)


@pytest.mark.parametrize("loa_ft", SIZES_FT)
def test_loads_go_as_the_square_of_the_wind(loa_ft: int) -> None:
    """15, 30 and 42 knots as 1 : 4 : 8, to the table's own rounding; moorings, at 60, do not."""
    lunch, working, storm, mooring = (load_lb(duty, loa_ft) for duty in Duty)
    assert working / lunch == pytest.approx(4.0, abs=0.2)
    assert storm == pytest.approx(2.0 * working)
    assert mooring == pytest.approx(3.0 * working)


@given(
    st.sampled_from(list(Duty)),
    st.floats(2.0, 60.0),
    st.floats(1.0, 18.0),
    st.floats(2.0, 60.0),
    st.floats(1.0, 18.0),
)
def test_a_larger_boat_never_has_the_lesser_load(
    duty: Duty, loa_1_ft: float, beam_1_ft: float, loa_2_ft: float, beam_2_ft: float
) -> None:
    small = load_lb(duty, min(loa_1_ft, loa_2_ft), min(beam_1_ft, beam_2_ft), "power")
    large = load_lb(duty, max(loa_1_ft, loa_2_ft), max(beam_1_ft, beam_2_ft), "power")
    assert small <= large


def test_the_larger_of_length_and_beam_decides() -> None:
    """A beamy boat counts as a longer one; a slim one by her length."""
    assert load_lb(Duty.WORKING, 25, 10) == load_lb(Duty.WORKING, 35)
    assert load_lb(Duty.WORKING, 35, 7) == load_lb(Duty.WORKING, 35)
    assert load_lb(Duty.WORKING, 30, 10, "power") < load_lb(Duty.WORKING, 30, 10, "sail")


@pytest.mark.parametrize("duty", Duty)
def test_between_the_rows_lengths_are_interpolated(duty: Duty) -> None:
    """At a row it is that of the row, half way the mean of two."""
    for low_ft, high_ft in pairwise(SIZES_FT):
        ends = [interpolated_load_n(duty, loa_m=ft * FOOT_M) for ft in (low_ft, high_ft)]
        middle_n = interpolated_load_n(duty, loa_m=(low_ft + high_ft) / 2 * FOOT_M)
        assert ends[0] == pytest.approx(load_lb(duty, low_ft) * POUND_FORCE_N)
        assert middle_n == pytest.approx(sum(end or 0.0 for end in ends) / 2)


def test_beyond_the_table_there_is_none() -> None:
    assert design_load(Duty.STORM, loa_m=61 * FOOT_M) is None
    assert design_load(Duty.STORM, loa_m=50 * FOOT_M, beam_m=16 * FOOT_M) is None
    assert interpolated_load_n(Duty.STORM, loa_m=61 * FOOT_M) is None
    assert load_lb(Duty.STORM, 60, 15) == pytest.approx(4000)


def test_a_wind_takes_the_first_duty_that_covers_it() -> None:
    for knots, duty in ((0, Duty.LUNCH_HOOK), (15, Duty.LUNCH_HOOK), (16, Duty.WORKING)):
        assert duty_for(knots * KNOT_MPS) is duty
    for knots, duty in ((30, Duty.WORKING), (42, Duty.STORM), (43, Duty.MOORING)):
        assert duty_for(knots * KNOT_MPS) is duty
    assert duty_for(90 * KNOT_MPS) is Duty.MOORING
    assert list(DUTY_WIND_MPS) == list(Duty)


def test_a_boat_without_length_is_refused() -> None:
    with pytest.raises(UserInputError, match="length over all in metres cannot be 0"):
        design_load(Duty.WORKING, loa_m=0.0)
