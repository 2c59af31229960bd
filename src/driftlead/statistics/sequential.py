"""Sequential tests of whether the mean of a stream of samples has shifted.

The cumulative sum is Page's (1954, Biometrika 41, 100-115), the Shiryaev-Roberts statistic that of
Shiryaev (1963) and Roberts (1966). For samples that are independent and normal, and a shift from 0
to ``2 * reference`` standard deviations, the cumulative sum is the log-likelihood form, and the
quickest there is in the worst case for its false alarms (Moustakides 1986, Ann. Stat. 14).

Run lengths count samples, the first as 1. Published run lengths hold for independent samples only:
those of a receiver are not, so a limit for a watch comes from replay, never from these formulae.
"""

import math
from collections.abc import Iterable
from typing import Final

from attrs import frozen

from driftlead.errors import UserInputError

OVERSHOOT: Final = 1.166
"""Siegmund's correction: by how much a sum of standard normals oversteps both its limits."""
_DRIFTLESS: Final = 1e-4
"""Below this the formula begins to lose digits, while b^2 is good to 1 in 10 000."""


def next_cusum(cusum: float, sample: float, *, reference: float) -> float:
    """Return the one-sided sum after one more sample: ``max(0, cusum + sample - reference)``."""
    return max(0.0, cusum + sample - reference)


@frozen
class TwoSidedCusum:
    """Two sums at once, one for a shift up and one for a shift down; both start at 0."""

    up: float = 0.0
    down: float = 0.0

    def next(self, sample: float, *, reference: float) -> "TwoSidedCusum":
        """Return the sums after one more sample."""
        return TwoSidedCusum(
            next_cusum(self.up, sample, reference=reference),
            next_cusum(self.down, -sample, reference=reference),
        )

    @property
    def largest(self) -> float:
        """The larger of the two, which is what a limit is held against."""
        return max(self.up, self.down)


def cusum_run_length(samples: Iterable[float], *, reference: float, limit: float) -> int | None:
    """Count the samples until the one-sided sum is above ``limit``; None if it never is."""
    cusum = 0.0
    for count, sample in enumerate(samples, start=1):
        cusum = next_cusum(cusum, sample, reference=reference)
        if cusum > limit:
            return count
    return None


def two_sided_run_length(samples: Iterable[float], *, reference: float, limit: float) -> int | None:
    """Count the samples until either sum is above ``limit``; None if neither ever is."""
    sums = TwoSidedCusum()
    for count, sample in enumerate(samples, start=1):
        sums = sums.next(sample, reference=reference)
        if sums.largest > limit:
            return count
    return None


def next_shiryaev_roberts(log_r: float, log_likelihood_ratio: float) -> float:
    """Return ln R after one more sample, R = (1 + R) * likelihood ratio, from ln R before it.

    R starts at 0, so ``log_r`` at minus infinity. In logarithms, because R itself grows out of
    any float within a few hundred samples after a shift.
    """
    if log_r > 0.0:
        return log_r + math.log1p(math.exp(-log_r)) + log_likelihood_ratio
    return math.log1p(math.exp(log_r)) + log_likelihood_ratio


def siegmund_run_length(shift: float, *, reference: float, limit: float) -> float:
    """Return about how many samples a one-sided sum takes on average to pass ``limit``.

    ``shift`` is the samples' mean in their standard deviations. Siegmund (1985, Sequential
    Analysis): with drift D = shift - reference and b = limit + 1.166 it is
    (exp(-2 D b) + 2 D b - 1) / (2 D^2), and b^2 without drift. Within 1 % of the exact value for
    shifts up to one standard deviation, 3 to 17 % short beyond two.
    Raises UserInputError for a limit below 0.
    """
    if not limit >= 0.0:
        raise UserInputError(
            f"A limit of {limit} is no limit for a cumulative sum.", remedy="Give 0 or more."
        )
    drift = shift - reference
    b = limit + OVERSHOOT
    if abs(drift * b) < _DRIFTLESS:
        return b * b
    exponent = -2.0 * drift * b
    if exponent > 700.0:
        return math.inf
    return (math.expm1(exponent) - exponent) / (2.0 * drift * drift)


def two_sided_from_one_sided(up: float, down: float) -> float:
    """Return the two-sided average run length: 1/ARL = 1/ARL up + 1/ARL down (Kemp 1961)."""
    return 1.0 / (1.0 / up + 1.0 / down)
