"""What is kept of a replay for pictures: the track, thinned, with the state at each point."""

from typing import Final

from attrs import frozen

from driftlead.core.core import Core
from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.geodesy.position import Position

EVERY_S: Final = 5.0


@frozen
class TracePoint:
    """The filtered antenna position at one time."""

    time_s: float
    position: Position
    state: str


class Trace:
    """Keeps a point every ``EVERY_S`` seconds, and the last drop point and drag circle seen."""

    def __init__(self) -> None:
        self.points: list[TracePoint] = []
        self.drop: Position | None = None
        self.anchor: AnchorEstimate | None = None
        self.radius_m: float | None = None
        self._last_s = float("-inf")

    def look(self, core: Core) -> None:
        """Take note of the core as it stands, if it is time to."""
        watch = core.watch
        point = watch.point
        if point is None or point.time_s - self._last_s < EVERY_S:
            return
        position = watch.position
        if position is None:
            return
        self._last_s = point.time_s
        self.points.append(TracePoint(point.time_s, position, watch.state.value))
        if watch.anchored is not None:
            self.drop = watch.anchored.drop
            self.anchor = watch.anchor
            if watch.judgement is not None and watch.judgement.radius_m is not None:
                self.radius_m = watch.judgement.radius_m
