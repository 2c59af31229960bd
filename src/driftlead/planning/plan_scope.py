"""The rule of scope: rode over depth plus bow height, at high water.

Common practice: 5:1 to begin with (BoatUS, PBO and Soundings print it), 4:1 with all chain in fair
weather (widely taught), 7:1 or more in a blow. Where fair weather ends and a blow begins is ours:
below Beaufort 5, and from Beaufort 6 on (17 and 22 knots of mean wind in the WMO scale).
"""

from typing import Final

from attrs import frozen

from driftlead.units import KNOT_MPS

FRESH_MPS: Final = 17 * KNOT_MPS
BLOW_MPS: Final = 22 * KNOT_MPS
ORDINARY: Final = 5.0
FAIR_ALL_CHAIN: Final = 4.0
BLOW: Final = 7.0
# Winds are typed in whole knots; a rounding must not push one over the edge.
_EDGE: Final = 1.0 - 1e-9


@frozen(kw_only=True)
class ScopeRule:
    """A ratio, and in words why this one."""

    ratio: float
    why: str


def scope_rule(*, drop_m: float, chain_m: float, wind_mps: float) -> ScopeRule:
    """Choose the rule by the mean wind, and by whether the rode out would be all chain."""
    if wind_mps >= BLOW_MPS * _EDGE:
        return ScopeRule(ratio=BLOW, why="common practice in a blow")
    if wind_mps < FRESH_MPS * _EDGE and chain_m >= FAIR_ALL_CHAIN * drop_m:
        return ScopeRule(ratio=FAIR_ALL_CHAIN, why="common practice for all chain, fair weather")
    return ScopeRule(ratio=ORDINARY, why="common practice")
