"""What settings come to over many nights: the operating curve, and the setting to recommend."""

import math
import statistics
from collections.abc import Iterable, Sequence
from typing import Final

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.tune.judge import FARTHEST_M, Judged, Verdict

Z_95: Final = 1.959963984540054
"""Standard normal quantile of 97.5 %."""


@frozen
class Share:
    """So many of so many nights, with the 95 % interval of the chance behind it (Wilson 1927)."""

    count: int
    of: int

    @property
    def rate(self) -> float:
        """The share itself; not a number without a night."""
        return self.count / self.of if self.of else math.nan

    @property
    def low(self) -> float:
        """The interval's lower end."""
        return self._end(-1.0)

    @property
    def high(self) -> float:
        """The interval's upper end."""
        return self._end(1.0)

    def _end(self, side: float) -> float:
        n, z2 = self.of, Z_95 * Z_95
        if not n:
            return 0.0 if side < 0.0 else 1.0
        p = self.count / n
        half = Z_95 * math.sqrt(p * (1.0 - p) / n + z2 / (4.0 * n * n))
        end = (p + z2 / (2.0 * n) + side * half) / (1.0 + z2 / n)
        # Rounding must not move the ends that are exact.
        if self.count == 0 and side < 0.0:
            return 0.0
        return 1.0 if self.count == n and side > 0.0 else min(1.0, max(0.0, end))


@frozen(kw_only=True)
class Point:
    """One setting over all nights that are marked.

    ``false`` counts nights with a false alarm, among all; ``missed`` counts drags not found, among
    those that no false alarm came before. The median and the worst are of the drags found: metres
    dragged and minutes since the beginning; None if there is none.
    """

    false: Share
    missed: Share
    median_m: float | None
    worst_m: float | None
    median_min: float | None
    worst_min: float | None
    cost_m: float | None

    @classmethod
    def of(cls, nights: Sequence[Judged]) -> "Point":
        """Sum up what a setting did on each night."""
        verdicts = [each.verdict for each in nights]
        found = [each for each in nights if each.verdict is Verdict.FOUND]
        missed = verdicts.count(Verdict.MISSED)
        metres = [each.dragged_m for each in found if each.dragged_m is not None]
        minutes = [each.late_s / 60.0 for each in found if each.late_s is not None]
        costs = [*metres, *([FARTHEST_M] * missed)]
        return cls(
            false=Share(verdicts.count(Verdict.FALSE), len(nights)),
            missed=Share(missed, missed + len(found)),
            median_m=statistics.median(metres) if metres else None,
            worst_m=max(metres, default=None),
            median_min=statistics.median(minutes) if minutes else None,
            worst_min=max(minutes, default=None),
            cost_m=statistics.mean(costs) if costs else None,
        )


def operating_curve(points: Sequence[Point]) -> list[int]:
    """Which settings are worth having: none other is as good in both and better in one.

    Both are the false alarms, and the metres dragged on average (a drag missed counts 100 m).
    Fewest false alarms first; of settings that did the same, the first one stands for all.
    """
    kept: list[int] = []
    least_m = math.inf
    for index in in_order(points, range(len(points))):
        cost_m = _cost_m(points[index])
        if cost_m < least_m or not kept:
            kept.append(index)
            least_m = cost_m
    return kept


def in_order(points: Sequence[Point], indices: Iterable[int]) -> tuple[int, ...]:
    """These settings with the fewest false alarms first, then the quickest; equals as given."""
    return tuple(sorted(indices, key=lambda i: (points[i].false.rate, _cost_m(points[i]))))


def recommend(points: Sequence[Point], accepted: float, safe: Sequence[bool]) -> int:
    """The setting for so many false alarms a night: of those that keep to it, the quickest.

    ``safe`` says of each setting whether it would keep to it by what is known without these
    nights. One that is not must have the nights vouch for it, with 95 % confidence. Quickest is
    the least metres dragged on average, a drag missed counting 100 m; of equals the first, so
    give the settings in order of preference. If none keeps to it, the one with the fewest false
    alarms.
    """
    keep_to_it = [
        index
        for index, point in enumerate(points)
        if (point.false.rate if safe[index] else point.false.high) <= accepted + 1e-12
    ]
    if keep_to_it:
        return min(keep_to_it, key=lambda i: (_cost_m(points[i]), i))
    order = range(len(points))
    return min(order, key=lambda i: (points[i].false.rate, not safe[i], _cost_m(points[i]), i))


def tried_on_others(
    table: Sequence[Sequence[Judged]], accepted: float, safe: Sequence[bool]
) -> Point | None:
    """Choose without each night in turn, and sum up what the choice did on the night left out.

    ``table`` has a row a setting and a column a night. The best of many settings looks better on
    the nights it was chosen on than it will on others; this does not. None for a single night.
    """
    count = len(table[0])
    if count < 2:
        return None
    left_out: list[Judged] = []
    for night in range(count):
        others = [Point.of([*row[:night], *row[night + 1 :]]) for row in table]
        left_out.append(table[recommend(others, accepted, safe)][night])
    return Point.of(left_out)


def nights_to_vouch(accepted: float) -> int:
    """How many nights without a false alarm it takes until 95 % confidence covers ``accepted``."""
    # Wilson's upper end for 0 of n is z^2 / (n + z^2).
    return math.ceil(Z_95 * Z_95 * (1.0 - accepted) / accepted)


def parse_accepted(text: str) -> float:
    """Read ``1 in 50`` as a chance a night. Raises UserInputError showing how to write it."""
    words = text.lower().split()
    try:
        if len(words) == 3 and words[1] == "in":
            count, nights = float(words[0]), float(words[2])
            if 0.0 < count <= nights < math.inf:
                return count / nights
    except ValueError:
        pass
    raise UserInputError(
        f"{text!r} is no number of false alarms in so many nights.", remedy="Write 1 in 50."
    )


def _cost_m(point: Point) -> float:
    return math.inf if point.cost_m is None else point.cost_m
