"""What a judgement says besides its verdict."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import expit

from driftlead.watch.judgement import Judgement, Reason, Verdict


@given(log_odds=st.floats(allow_nan=False))
def test_confidence_is_the_chance_that_goes_with_the_log_odds(log_odds: float) -> None:
    """Held against scipy's logistic function; whatever the odds, it is a chance."""
    judged = Judgement(
        Verdict.UNSURE, Reason.SWING_CHANGED, 30.0, 90.0, 55.0, 4.0, 90.0, 0.1, log_odds
    )
    assert judged.confidence == pytest.approx(float(expit(log_odds)), abs=1e-12)
    assert 0.0 <= judged.confidence <= 1.0
