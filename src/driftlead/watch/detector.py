"""What the watch asks of a detector: the one seam behind which detectors are exchanged."""

import math
from typing import Final, Protocol

from attrs import frozen

from driftlead.geodesy.plane import offset
from driftlead.tackle.drag_circle import DragCircle
from driftlead.track.point import TrackPoint
from driftlead.watch.evidence import Evidence
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement

MOVED_SIGMA_M: Final = 5.0
"""How well a drag's length is known at best: yaw and slack of the rode hide that much."""


@frozen
class AnchorInPlane:
    """The anchor in plane coordinates, with its standard error per axis, in metres."""

    east_m: float
    north_m: float
    sigma_m: float

    def carried(self, bearing_deg: float, moved_m: float) -> "AnchorInPlane":
        """Where a drag of ``moved_m`` towards ``bearing_deg`` has put it."""
        east_m, north_m = offset(bearing_deg, moved_m)
        sigma_m = math.hypot(self.sigma_m, MOVED_SIGMA_M, 0.1 * moved_m)
        return AnchorInPlane(self.east_m + east_m, self.north_m + north_m, sigma_m)


@frozen
class Memory:
    """What a detector has learned of the anchor, for the same watch to go on after a restart.

    One row a hypothesis; what the figures are is the detector's own business.
    """

    rows: tuple[tuple[float, ...], ...] = ()


@frozen(kw_only=True)
class Arming:
    """What the detector is told of the anchor it is to watch.

    ``anchor`` is where it lies; for a ``late`` set, where the boat's antenna was when the watch
    was set, and the detector is to find the anchor. ``circle`` is the drag circle without the
    fix's own error, which changes from point to point; None when no rode is known.
    ``whole_rode``: it is drawn with all the rode aboard, for want of better. ``by_fix``: the place
    comes from the receiver that is followed now, so that its present error is in it.
    """

    anchor: AnchorInPlane
    circle: DragCircle | None
    whole_rode: bool = False
    late: bool = False
    by_fix: bool = False
    memory: Memory | None = None


class Detector(Protocol):
    """Tells swing from drag, one track point at a time. Deterministic; time comes as data."""

    @property
    def evidence(self) -> Evidence | None:
        """The evidence at the latest step; a new object at each step, None before the first."""
        ...

    @property
    def place(self) -> AnchorInPlane:
        """Where the anchor is now: as told, or found, or carried along by a drag."""
        ...

    @property
    def memory(self) -> Memory | None:
        """What it has learned so far."""
        ...

    def arm(self, arming: Arming) -> None:
        """Watch this anchor from now on."""
        ...

    def refit(self, circle: DragCircle | None, *, whole_rode: bool) -> None:
        """The same anchor with another length of rode; what is known of its place stands."""
        ...

    def breathe(self, circle: DragCircle) -> None:
        """The same anchor and rode in another depth of water, for the tide runs."""
        ...

    def judge(self, point: TrackPoint, instruments: Instruments) -> Judgement:
        """Judge one point; called in order of time, only after ``arm``."""
        ...
