"""How far from the anchor the bow roller can lie.

``drop_m`` is the depth of water plus the height of the bow roller above it. A rode that does not
reach the bottom has a reach of 0: the limit of the formulas as the rode shortens to the drop.
"""

import math

from driftlead.tackle.catenary import hang
from driftlead.tackle.checked import not_negative


def bar_taut_reach_m(rode_m: float, drop_m: float) -> float:
    """Return the reach in metres of a rode pulled straight: sqrt(L^2 - d^2), its upper bound.

    Raises UserInputError for a negative measure.
    """
    rode_m = not_negative("The rode in metres", rode_m)
    drop_m = not_negative("The drop from bow roller to bottom in metres", drop_m)
    if rode_m <= drop_m:
        return 0.0
    return math.sqrt((rode_m - drop_m) * (rode_m + drop_m))


def catenary_reach_m(rode_m: float, drop_m: float, pull_n: float, weight_n_per_m: float) -> float:
    """Return the reach in metres of a rode that sags under its weight (see ``catenary.hang``).

    Raises UserInputError for a negative measure, or a rode without weight.
    """
    if bar_taut_reach_m(rode_m, drop_m) == 0.0:
        return 0.0
    return hang(rode_m, drop_m, pull_n, weight_n_per_m).reach_m
