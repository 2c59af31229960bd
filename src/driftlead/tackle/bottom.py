"""Kinds of bottom, and what is commonly said of how they hold.

Words, not figures: published holding figures hang on the anchor, the depth it digs to and the day,
and do not carry over. All of this is common practice.
"""

from enum import StrEnum
from typing import Final


class Bottom(StrEnum):
    """What the chart or the lead says is down there."""

    SAND = "sand"
    MUD = "mud"
    CLAY = "clay"
    WEED = "weed"
    ROCK = "rock"


HOLDING: Final = {
    Bottom.SAND: "Sand commonly holds well and lets an anchor set again after a swing.",
    Bottom.MUD: "Mud holds fairly to well if it is deep and firm; in soft mud an anchor sinks in "
    "slowly: let it settle before you set it hard.",
    Bottom.CLAY: "Clay holds very well once an anchor is in; a fouled anchor may not set again.",
    Bottom.WEED: "Weed holds poorly: the anchor may lie on it or take up a clump. Look for a bare "
    "patch and set it hard.",
    Bottom.ROCK: "Rock holds only by luck, and may not let go. Buoy the anchor, or go elsewhere.",
}
IS_POOR: Final = frozenset({Bottom.WEED, Bottom.ROCK})
"""The kinds no length of rode makes good."""
