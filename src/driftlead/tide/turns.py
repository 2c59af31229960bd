"""High and low waters as plain numbers, for a watch that asks every few seconds of a whole year."""

from bisect import bisect_left, bisect_right

from attrs import frozen

from driftlead.tide.shares import TideCurve, share_run


@frozen
class Level:
    """The tide at a time: Unix seconds, and metres above chart datum."""

    utc_s: float
    height_m: float


class Turns:
    """High and low waters in order of time: Unix seconds of UTC, metres above chart datum.

    Without any it is false, and nothing else may be asked of it.
    """

    def __init__(self, turns: tuple[tuple[float, float], ...]) -> None:
        self._turns = turns
        self._times = [utc_s for utc_s, _ in turns]

    def __bool__(self) -> bool:
        return bool(self._turns)

    def height_m(self, utc_s: float) -> float | None:
        """Height above chart datum, None outside the table."""
        if not self._times[0] <= utc_s <= self._times[-1]:
            return None
        after = bisect_left(self._times, utc_s)
        end_s, end_m = self._turns[after]
        if utc_s == end_s:
            return end_m
        start_s, start_m = self._turns[after - 1]
        share = share_run(TideCurve.COSINE, (utc_s - start_s) / (end_s - start_s))
        return start_m + (end_m - start_m) * share

    @property
    def lowest_m(self) -> float:
        """The lowest of all low waters."""
        return min(height_m for _, height_m in self._turns)

    def ahead(self, utc_s: float, within_s: float) -> list[Level]:
        """Now, the turns to come, and the end of what is looked at; ``utc_s`` is in the table."""
        until_s = min(utc_s + within_s, self._times[-1])
        first, last = bisect_right(self._times, utc_s), bisect_right(self._times, until_s)
        levels = [Level(*turn) for turn in self._turns[first:last]]
        for at_s in (until_s, utc_s):
            height_m = self.height_m(at_s)
            if height_m is not None and not (levels and levels[-1].utc_s == at_s):
                levels.append(Level(at_s, height_m))
        return levels

    def turn_after(self, level: Level, now_s: float) -> Level:
        """The turn a level of ``ahead`` leads to: itself if it is one, or if it is of now."""
        if level.utc_s == now_s:
            return level
        return Level(*self._turns[bisect_left(self._times, level.utc_s)])
