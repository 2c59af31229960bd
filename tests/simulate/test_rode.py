"""The pull of the rode, against the catenary worked the usual way round."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from driftlead.simulate.rode import pull_n
from driftlead.tackle.catenary import hang, submerged_weight_n_per_m, zero_lift_length_m

CHAIN_8MM = submerged_weight_n_per_m(1.40)


def test_the_pull_is_that_of_a_worked_example() -> None:
    """40 m of 8 mm chain from 6 m up lie 39.25 m off under 1000 N (the catenary by hand)."""
    assert math.isclose(CHAIN_8MM, 11.937, abs_tol=0.001)
    pull = pull_n(39.25, rode_m=40.0, drop_m=6.0, weight_n_per_m=CHAIN_8MM)
    assert pull == pytest.approx(1000.0, rel=0.02)


@given(drop_m=st.floats(3.0, 20.0), pull=st.floats(5.0, 2000.0), spare_m=st.floats(0.0, 40.0))
def test_the_pull_undoes_the_catenary_wherever_chain_lies_on_the_bottom(
    drop_m: float, pull: float, spare_m: float
) -> None:
    """Independent of this module: reach from pull, and back to the pull."""
    rode_m = zero_lift_length_m(drop_m, pull, CHAIN_8MM) + spare_m
    reach_m = hang(rode_m, drop_m, pull, CHAIN_8MM).reach_m
    assume((rode_m - reach_m) / drop_m > 0.05)  # beyond, the table is coarse: see the module
    back = pull_n(reach_m, rode_m=rode_m, drop_m=drop_m, weight_n_per_m=CHAIN_8MM)
    assert back == pytest.approx(pull, rel=0.03, abs=0.5)


@given(reach_m=st.floats(0.0, 32.0))
def test_a_boat_above_her_rode_is_not_pulled(reach_m: float) -> None:
    """With 40 m out and 8 m down she is free within 32 m: the rode hangs up and down."""
    assert pull_n(reach_m, rode_m=40.0, drop_m=8.0, weight_n_per_m=CHAIN_8MM) == 0.0


@given(reach_m=st.floats(0.0, 39.5), more_m=st.floats(0.0, 0.5))
def test_farther_off_is_pulled_harder(reach_m: float, more_m: float) -> None:
    """The pull never falls with the reach."""
    near, far = (
        pull_n(reach, rode_m=40.0, drop_m=6.0, weight_n_per_m=CHAIN_8MM)
        for reach in (reach_m, reach_m + more_m)
    )
    assert far >= near
