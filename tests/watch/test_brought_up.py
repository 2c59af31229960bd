"""Is she set? What it means where she stopped."""

import pytest

from driftlead.tackle.drag_circle import drag_circle
from driftlead.watch.brought_up import SetResult, stopped

CIRCLE = drag_circle(
    rode_m=40.0,
    depth_m=6.0,
    bow_height_m=1.0,
    antenna_aft_m=8.0,
    rode_slack=0.08,
    sigma_m=0.0,
    sigmas=0.0,
)
"""Bar-taut 39.4 m to the bow and 8 m more to the antenna."""


@pytest.mark.parametrize(
    ("farthest_m", "result"),
    [
        (47.0, SetResult.BITTEN),
        (41.0, SetResult.BITTEN),
        (39.0, SetResult.NOT_STRETCHED),
        (12.0, SetResult.NOT_STRETCHED),
    ],
)
def test_only_a_stretched_rode_proves_that_it_has_bitten(
    farthest_m: float, result: SetResult
) -> None:
    """General seamanship: back down until the rode is straight, and see whether she stops."""
    assert stopped(farthest_m, CIRCLE, whole_rode=False) is result


def test_without_a_rode_nothing_can_be_said() -> None:
    assert stopped(47.0, None, whole_rode=False) is SetResult.UNTOLD
    assert stopped(47.0, CIRCLE, whole_rode=True) is SetResult.UNTOLD
