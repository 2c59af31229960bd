"""How a figure climbs through a night, so that any limit can be held against it afterwards."""

import math

from attrs import frozen


@frozen
class Climb:
    """When a figure first reached each level, and how far the anchor had come by then.

    ``rungs``: (level, seconds, metres dragged), levels rising in whole numbers of ``step``.
    ``highest_before``: the highest the figure was while the anchor held, not rounded;
    minus infinity if there was none.
    """

    step: float
    rungs: tuple[tuple[float, float, float], ...]
    highest_before: float

    def first_at(self, limit: float) -> tuple[float, float] | None:
        """Seconds and metres dragged when the figure first reached ``limit``.

        A limit between two levels counts as the higher one.
        """
        return next(((t_s, m) for level, t_s, m in self.rungs if level >= limit), None)


class Climbing:
    """Hears a figure as the night goes on."""

    def __init__(self, step: float, *, drag_begins_s: float | None) -> None:
        self._step = step
        self._begins_s = math.inf if drag_begins_s is None else drag_begins_s
        self._highest = -math.inf
        self._highest_before = -math.inf
        self._rungs: list[tuple[float, float, float]] = []

    def hear(self, value: float, t_s: float, dragged_m: float) -> None:
        """Take the figure of one moment."""
        if t_s < self._begins_s:
            self._highest_before = max(self._highest_before, value)
        level = math.floor(value / self._step) * self._step if math.isfinite(value) else value
        if level > self._highest:
            self._highest = level
            self._rungs.append((level, t_s, dragged_m))

    def climb(self) -> Climb:
        """What it came to."""
        return Climb(step=self._step, rungs=tuple(self._rungs), highest_before=self._highest_before)


class OnEnd:
    """The least a figure has been for so long on end: what a limit with a dwell is held against.

    What is beyond the limit by ``overwhelming`` need not have been for any time.
    """

    def __init__(self, dwell_s: float, *, overwhelming: float = math.inf) -> None:
        self._dwell_s = dwell_s
        self._overwhelming = overwhelming
        self._held: list[tuple[float, float]] = []

    def least(self, value: float, t_s: float) -> float:
        """Take the figure of one moment; minus infinity if it has not been heard for so long."""
        held = self._held
        held.append((t_s, value))
        # One moment at or before the beginning of the span is needed, none before that.
        while len(held) > 1 and held[1][0] <= t_s - self._dwell_s:
            del held[0]
        at_once = value - self._overwhelming
        if t_s - held[0][0] < self._dwell_s:
            return at_once
        return max(at_once, min(value for _, value in held))
