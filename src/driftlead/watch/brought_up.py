"""Is she set? What laying back under load says about the anchor.

The seaman's test: fall back, stretch the rode under power, and watch whether the position stops.
If it does with the rode stretched, the anchor has bitten; if it goes on, the anchor comes home. A
boat that stops short of full reach has not tested anything.
"""

import enum
from typing import Final

from driftlead.tackle.drag_circle import DragCircle

STRETCHED: Final = 0.85
"""From this part of full reach up the rode is stretched; less is what a light breeze gives."""


class SetResult(enum.StrEnum):
    """What the test came to."""

    BITTEN = "anchor_bitten"
    """She stopped with the rode stretched."""
    NOT_STRETCHED = "rode_not_stretched"
    """She stopped, but the rode was slack: nothing is proved."""
    CAME_HOME = "anchor_came_home"
    """She went on past what the rode allows."""
    UNTOLD = "rode_not_told"
    """How much rode is out was never said, so whether it was stretched is not known."""


def stopped(farthest_m: float, circle: DragCircle | None, *, whole_rode: bool) -> SetResult:
    """Say what it means that she has stopped at ``farthest_m`` from anchor to antenna."""
    if circle is None or whole_rode:
        return SetResult.UNTOLD
    if farthest_m >= STRETCHED * (circle.reach_m + circle.antenna_aft_m):
        return SetResult.BITTEN
    return SetResult.NOT_STRETCHED
