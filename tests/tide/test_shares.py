"""The rule of twelfths and the cosine."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.tide.shares import TideCurve, part_of_time, share_run


def test_twelfths_are_one_two_three_three_two_one() -> None:
    """The rule as it is taught everywhere."""
    run = [12.0 * share_run(TideCurve.TWELFTHS, hour / 6.0) for hour in range(7)]
    assert np.diff(run) == pytest.approx([1, 2, 3, 3, 2, 1])
    assert run[0] == 0.0


def test_cosine_at_each_sixth_is_as_reckoned_by_hand() -> None:
    """.067 .25 .5 .75 .933 of the range."""
    shares = [share_run(TideCurve.COSINE, hour / 6.0) for hour in range(1, 6)]
    assert shares == pytest.approx([0.067, 0.25, 0.5, 0.75, 0.933], abs=5e-4)


def test_at_the_sixths_the_two_differ_by_at_most_1_7_percent_of_the_range() -> None:
    """1/12 - (1 - cos 30 deg)/2 = 0.0163 is the most, at the first and last sixth.

    In between, where the rule is taken as straight, it is up to 2.6 %.
    """
    parts = np.linspace(0.0, 1.0, 601)
    gaps = [
        abs(share_run(TideCurve.TWELFTHS, part) - share_run(TideCurve.COSINE, part))
        for part in parts
    ]
    assert max(gaps[::100]) == pytest.approx(0.0163, abs=1e-4)
    assert max(gaps) < 0.026


@pytest.mark.parametrize("curve", TideCurve)
@given(part=st.floats(0.0, 1.0))
def test_a_share_comes_back_to_its_part_of_the_time(curve: TideCurve, part: float) -> None:
    share = share_run(curve, part)
    assert 0.0 <= share <= 1.0
    assert part_of_time(curve, share) == pytest.approx(part, abs=1e-6)


@pytest.mark.parametrize("curve", TideCurve)
@given(one=st.floats(0.0, 1.0), other=st.floats(0.0, 1.0))
def test_the_tide_never_turns_between_the_turns(curve: TideCurve, one: float, other: float) -> None:
    early, late = sorted((one, other))
    assert share_run(curve, early) <= share_run(curve, late)
    assert share_run(curve, 1.0 - early) == pytest.approx(1.0 - share_run(curve, early))
