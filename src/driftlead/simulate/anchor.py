"""An anchor on the bottom: it settles as it digs in, and it may drag."""

import enum
import math
from typing import Final

from attrs import field, frozen

from driftlead.simulate.timeline import Timeline

SLIDES_N: Final = 50.0
"""Pull that keeps an anchor going once it has broken out: some ten kilograms sliding over ground.

With less it slows, and on a slack rode it stops: no anchor comes faster than the boat that pulls
it drifts.
"""


class DragMode(enum.StrEnum):
    """The ways an anchor comes home.

    CREEP is 0.01 to 0.05 m/s, STEADY 0.05 to 0.2 m/s, BREAKOUT 0.3 to 1 m/s. HOPS: 1 to 6 m in a
    gust, minutes apart. IN_SHIFT begins while the wind shifts. AFTER_FETCHING_UP: some metres,
    then it holds for 20 to 60 minutes, then it goes on.
    """

    CREEP = "creep"
    STEADY = "steady"
    HOPS = "hops"
    BREAKOUT = "breakout"
    IN_SHIFT = "in-shift"
    AFTER_FETCHING_UP = "after-fetching-up"


@frozen(kw_only=True)
class DragPlan:
    """When and how fast the anchor comes home: m/s over seconds since the start of the night."""

    speed_mps: Timeline
    mode: DragMode | None = None

    @property
    def begins_s(self) -> float:
        """When it starts to move."""
        return self.speed_mps.points[0][0]

    @property
    def ends_s(self) -> float:
        """When it holds again."""
        return self.speed_mps.points[-1][0]


def drag_through(*, begins_s: float, steps: tuple[tuple[float, float], ...]) -> DragPlan:
    """Drag through (seconds after the beginning, m/s) points; the first and the last are at 0."""
    if steps[0][1] != 0.0 or steps[-1][1] != 0.0:
        message = "a drag begins and ends at rest"
        raise ValueError(message)
    points = tuple((begins_s + after_s, mps) for after_s, mps in steps)
    return DragPlan(speed_mps=Timeline(points))


def drag_steadily(
    *, begins_s: float, lasts_s: float, mps: float, builds_s: float = 60.0
) -> DragPlan:
    """Drag at one speed, built up over ``builds_s`` and lost again the same way.

    0.01 m/s is a creep of a boat's length in a quarter of an hour; 0.1 m/s is a steady drag; a
    breakout is 0.5 m/s and more with a short ``builds_s``.
    """
    steps = ((0.0, 0.0), (builds_s, mps), (lasts_s - builds_s, mps), (lasts_s, 0.0))
    return drag_through(begins_s=begins_s, steps=steps)


@frozen(kw_only=True)
class Holding:
    """How the anchor holds: what it settles by as it digs in (no drag), and its drag if any."""

    settles_m: float = 1.5
    settle_s: float = 400.0
    drag: DragPlan | None = field(default=None)


class Anchor:
    """Where the anchor is, metres east and north, once it has been let go at ``let_go_s``."""

    def __init__(self, holding: Holding, *, let_go_s: float, en_m: tuple[float, float]) -> None:
        self._holding = holding
        self._let_go_s = let_go_s
        self.e_m, self.n_m = en_m
        self.speed_mps = 0.0
        self.settled_m = 0.0
        self.dragged_from_en_m: tuple[float, float] | None = None
        self.dragged_path_m = 0.0

    def step(
        self, t_s: float, dt_s: float, *, bow_en_m: tuple[float, float], pull_n: float
    ) -> None:
        """Let ``dt_s`` pass, up to ``t_s``: it moves to the bow, which pulls with ``pull_n``."""
        holding = self._holding
        age_s = t_s - self._let_go_s
        settle_mps = holding.settles_m / holding.settle_s * math.exp(-age_s / holding.settle_s)
        self.speed_mps = 0.0
        if holding.drag is not None:
            self.speed_mps = holding.drag.speed_mps.at(t_s) * min(1.0, pull_n / SLIDES_N)
        if self.speed_mps > 0.0 and self.dragged_from_en_m is None:
            self.dragged_from_en_m = (self.e_m, self.n_m)
        east, north = bow_en_m[0] - self.e_m, bow_en_m[1] - self.n_m
        reach_m = math.hypot(east, north)
        if reach_m < 1.0:
            return  # the bow is over it: nothing pulls it along
        self.settled_m += settle_mps * dt_s
        self.dragged_path_m += self.speed_mps * dt_s
        way_m = (settle_mps + self.speed_mps) * dt_s
        self.e_m += east / reach_m * way_m
        self.n_m += north / reach_m * way_m

    @property
    def dragged_en_m(self) -> tuple[float, float]:
        """How far it has come since it began to drag, east and north."""
        if self.dragged_from_en_m is None:
            return 0.0, 0.0
        return self.e_m - self.dragged_from_en_m[0], self.n_m - self.dragged_from_en_m[1]
