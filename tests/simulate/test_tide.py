"""The tide keeps its times."""

import math
from statistics import pstdev

import pytest

from driftlead.simulate.tide import M2_PERIOD_S, StreamProcess, TidePlan

PLAN = TidePlan(range_m=3.0, high_water_s=7200.0, stream_mps=0.5, flood_deg=90.0)


def test_the_range_lies_between_high_and_low_water() -> None:
    """Low water is half a period after high water (M2: 12.4206 h)."""
    assert math.isclose(M2_PERIOD_S, 12.4206 * 3600.0, abs_tol=0.5)
    assert PLAN.height_m(7200.0) == pytest.approx(1.5)
    assert PLAN.height_m(7200.0 + M2_PERIOD_S / 2.0) == pytest.approx(-1.5)


def test_the_fall_keeps_to_the_rule_of_twelfths() -> None:
    """1, 2, 3, 3, 2, 1 twelfths (common practice) is within 1.7 % of range of the cosine."""
    for sixths, twelfths in enumerate((0, 1, 3, 6, 9, 11, 12)):
        fallen = 1.5 - PLAN.height_m(7200.0 + M2_PERIOD_S / 2.0 * sixths / 6.0)
        assert fallen / 3.0 == pytest.approx(twelfths / 12.0, abs=0.018)


def test_it_floods_before_high_water_and_ebbs_after() -> None:
    """The stream turns at high water, unless the plan says later."""
    assert PLAN.stream_en_mps(7200.0 - M2_PERIOD_S / 4.0) == pytest.approx((0.5, 0.0))
    assert PLAN.stream_en_mps(7200.0) == pytest.approx((0.0, 0.0))
    assert PLAN.stream_en_mps(7200.0 + M2_PERIOD_S / 4.0) == pytest.approx((-0.5, 0.0))


def test_eddies_are_there_at_slack_water_too() -> None:
    """They have the size of the plan and no direction."""
    process = StreamProcess(TidePlan(eddy_mps=0.03, eddy_s=30.0), seed=4)
    east, north = zip(*(process.step(float(t), 1.0) for t in range(30_000)), strict=True)
    assert math.hypot(pstdev(east), pstdev(north)) == pytest.approx(0.03 * math.sqrt(2), rel=0.1)
