"""What the watch asks of a detector: the one seam behind which detectors are exchanged."""

from typing import Protocol

from attrs import frozen

from driftlead.tackle.drag_circle import DragCircle
from driftlead.track.point import TrackPoint
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement


@frozen
class AnchorInPlane:
    """The anchor in plane coordinates, with its standard error per axis, in metres."""

    east_m: float
    north_m: float
    sigma_m: float


class Detector(Protocol):
    """Tells swing from drag, one track point at a time. Deterministic; time comes as data."""

    def arm(self, anchor: AnchorInPlane, circle: DragCircle | None, *, whole_rode: bool) -> None:
        """Watch this anchor with this circle; None when no rode is known.

        ``circle`` is without the fix's own error, which changes from point to point.
        ``whole_rode``: the circle is drawn with all the rode aboard, for want of better.
        """
        ...

    def refine(self, anchor: AnchorInPlane) -> None:
        """The same anchor, its place better known: a dwell that runs goes on."""
        ...

    def judge(self, point: TrackPoint, instruments: Instruments) -> Judgement:
        """Judge one point; called in order of time, only after ``arm``."""
        ...
