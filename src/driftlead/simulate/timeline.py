"""Plans over time: a value given at a few moments, with straight lines between them."""

from bisect import bisect_right
from itertools import pairwise

from attrs import field, frozen


def _checked(points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    if not points or any(late[0] <= early[0] for early, late in pairwise(points)):
        message = "a timeline needs at least one point, each later than the one before"
        raise ValueError(message)
    return points


@frozen
class Timeline:
    """Points (seconds since the start of the night, value); constant before and after them."""

    points: tuple[tuple[float, float], ...] = field(converter=_checked)
    _times_s: tuple[float, ...] = field(init=False, eq=False, repr=False)

    @_times_s.default
    def _times(self) -> tuple[float, ...]:
        return tuple(t_s for t_s, _ in self.points)

    def at(self, t_s: float) -> float:
        """Read the value at ``t_s``."""
        index = bisect_right(self._times_s, t_s)
        if index == 0:
            return self.points[0][1]
        t0_s, value0 = self.points[index - 1]
        if index == len(self.points):
            return value0
        t1_s, value1 = self.points[index]
        return value0 + (value1 - value0) * (t_s - t0_s) / (t1_s - t0_s)


def steady(value: float) -> Timeline:
    """Plan one value for the whole night."""
    return Timeline(((0.0, value),))
