"""The snubber as a spring."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.tackle.snubber import Snubber

TWELVE_MM = Snubber(length_m=8.0, diameter_m=0.012)


def test_at_a_fifth_of_its_strength_it_is_fourteen_percent_longer() -> None:
    """Common practice for three-strand nylon, from memory: 10 to 20 % there."""
    load = TWELVE_MM.under(0.2 * TWELVE_MM.breaking_n)
    assert load.stretch_share == pytest.approx(0.14)
    assert load.stretch_m == pytest.approx(1.12)
    assert load.breaking_share == pytest.approx(0.2)
    assert not load.is_overworked
    assert TWELVE_MM.under(0.21 * TWELVE_MM.breaking_n).is_overworked


def test_stretch_by_hand() -> None:
    """29 kN breaking, a fifth is 5.8 kN over 1.12 m: 5179 N/m, so 1.5 kN stretches it 0.29 m."""
    assert TWELVE_MM.stiffness_n_per_m == pytest.approx(5179, rel=1e-3)
    assert TWELVE_MM.under(1500.0).stretch_m == pytest.approx(0.2896, rel=1e-3)


@given(st.floats(1.0, 30.0), st.floats(0.008, 0.03), st.floats(0.0, 5e4))
def test_twice_as_long_stretches_twice_as_far_and_twice_as_thick_a_quarter(
    length_m: float, diameter_m: float, load_n: float
) -> None:
    """Springs in a row and side by side."""
    stretch_m = Snubber(length_m=length_m, diameter_m=diameter_m).under(load_n).stretch_m
    longer = Snubber(length_m=2 * length_m, diameter_m=diameter_m).under(load_n)
    thicker = Snubber(length_m=length_m, diameter_m=2 * diameter_m).under(load_n)
    assert longer.stretch_m == pytest.approx(2.0 * stretch_m)
    assert thicker.stretch_m == pytest.approx(0.25 * stretch_m)


def test_one_without_length_is_refused() -> None:
    with pytest.raises(UserInputError, match="snubber's length in metres cannot be 0"):
        Snubber(length_m=0.0, diameter_m=0.012).under(100.0)
