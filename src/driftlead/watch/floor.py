"""The absolute limit beside the clever detector: the drag circle, for breakouts.

Beyond what rode, anchor and fix can explain by a good many metres there is nothing left to weigh;
a few seconds are proof enough. The circle is the handbook one (rode plus the distance from hawse
to fix, about the anchor; NAVEDTRA 14221), widened by what is uncertain.
"""

import math

from driftlead.tackle.drag_circle import DragCircle
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.detector import AnchorInPlane


class Floor:
    """How far the antenna is beyond the widened drag circle, and whether that can be believed."""

    def __init__(self, sigmas: float) -> None:
        self._sigmas = sigmas
        self._certain_m = 0.0
        self._outside = False
        self._borne_out = False

    def arm(self, circle: DragCircle) -> None:
        """Begin with this circle, which is without the errors of anchor and fix."""
        self.draw(circle)
        self._outside = self._borne_out = False

    def draw(self, circle: DragCircle) -> None:
        """Go on with another circle."""
        self._certain_m = circle.farthest_m

    def radius_m(self, anchor: AnchorInPlane, point: TrackPoint) -> float:
        """Radius of the circle, widened by the errors of both."""
        sigma_m = math.hypot(anchor.sigma_m, point.sigma_m)
        return self._certain_m + self._sigmas * sigma_m

    def believe(self, point: TrackPoint, beyond_m: float) -> bool:
        """Whether this point bears out that she is ``beyond_m`` outside; call it for every one.

        Where fixes are refused and dead reckoning alone has carried the track out, it does not;
        nor where it began anew out there with a fix that the next ones contradict.
        """
        if point.fix_state is FixState.JUMPED:
            if not self._borne_out:
                self._outside = False
            return self._borne_out and self._outside
        if beyond_m <= 0.0:
            self._outside = self._borne_out = False
            return True
        if not self._outside:
            self._outside, self._borne_out = True, False
        if point.fix_state is FixState.TAKEN:
            self._borne_out = True
        return True
