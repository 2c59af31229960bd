"""How much of its range the tide has run at a part of the way from one turn to the next.

Both curves are for the common semidiurnal tide. Double high or low waters and the diurnal tides of
some coasts do not follow them: there the port's own curve is the one to use.
"""

import math
from enum import StrEnum
from itertools import accumulate, pairwise
from typing import Final

TWELFTHS: Final = (1, 2, 3, 3, 2, 1)
"""The rule of twelfths (common seamanship): of the range, in each sixth of the time."""
_RUN: Final = (0, *accumulate(TWELFTHS))


class TideCurve(StrEnum):
    """How to reckon between the turns.

    At the sixths the two differ by at most 1.7 % of the range, in between by 2.6 %.
    """

    COSINE = "cosine"
    TWELFTHS = "twelfths"


def share_run(curve: TideCurve, part: float) -> float:
    """Return the share of the range run, 0 to 1, at a part of the time between turns, 0 to 1."""
    if curve is TideCurve.COSINE:
        return 0.5 * (1.0 - math.cos(math.pi * part))
    sixth = min(int(6.0 * part), 5)
    return (_RUN[sixth] + TWELFTHS[sixth] * (6.0 * part - sixth)) / 12.0


def part_of_time(curve: TideCurve, share: float) -> float:
    """Return the part of the time between turns at which a share is run: the inverse."""
    if curve is TideCurve.COSINE:
        return math.acos(1.0 - 2.0 * share) / math.pi
    for sixth, (low, high) in enumerate(pairwise(_RUN)):
        if 12.0 * share <= high:
            return (sixth + (12.0 * share - low) / (high - low)) / 6.0
    return 1.0
