"""The rule of scope."""

import pytest

from driftlead.planning.plan_scope import scope_rule
from driftlead.units import KNOT_MPS


@pytest.mark.parametrize(
    ("knots", "chain_m", "ratio"),
    [
        (10, 40, 4),
        (16, 40, 4),
        (17, 40, 5),
        (21, 40, 5),
        (22, 40, 7),
        (50, 40, 7),
        (10, 39, 5),
        (10, 0, 5),
        (22, 0, 7),
    ],
)
def test_four_five_or_seven_by_wind_and_chain(knots: float, chain_m: float, ratio: float) -> None:
    """Common practice. 17 and 22 knots are where Beaufort 5 and 6 begin (WMO scale)."""
    rule = scope_rule(drop_m=10.0, chain_m=chain_m, wind_mps=knots * KNOT_MPS)
    assert rule.ratio == ratio
    assert rule.why.startswith("common practice")
