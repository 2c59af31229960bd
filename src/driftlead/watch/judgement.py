"""What a detector says about one point of the track."""

import enum
import math

from attrs import frozen


class Verdict(enum.StrEnum):
    """Whether she is dragging."""

    HOLDING = "holding"
    UNSURE = "unsure"
    DRAGGING = "dragging"


class Reason(enum.StrEnum):
    """Why the detector judged as it did."""

    INSIDE_DRAG_CIRCLE = "inside_drag_circle"
    OUTSIDE_NOT_YET_LONG = "outside_not_yet_long"
    """Outside the drag circle, but shorter than the dwell."""
    OUTSIDE_DRAG_CIRCLE = "outside_drag_circle"
    FAR_OUTSIDE_DRAG_CIRCLE = "far_outside_drag_circle"
    """So far outside that a short dwell is enough: a breakout."""
    OUTSIDE_WHOLE_RODE = "outside_whole_rode"
    """Farther than all the rode aboard reaches; how much is out was never said."""
    RODE_UNKNOWN = "rode_unknown"
    """No rode is known, so no circle can be drawn."""


@frozen
class Judgement:
    """The detector's word on one point, with its figures.

    ``distance_m`` and ``bearing_deg`` (true) are from the anchor to the antenna; ``radius_m`` is
    the drag circle's, None without one. ``moved_m`` is how far the anchor must have moved at the
    least for the antenna to be where it is, towards ``bearing_deg``. ``outside_sigmas`` is by how
    many standard errors the antenna is beyond what the rode allows (negative inside).
    """

    verdict: Verdict
    reason: Reason
    distance_m: float
    bearing_deg: float
    radius_m: float | None
    moved_m: float
    rate_mps: float | None
    outside_sigmas: float

    @property
    def confidence(self) -> float:
        """The chance, 0..1, that the anchor has moved: the normal integral of the excess."""
        return 0.5 * math.erfc(-self.outside_sigmas / math.sqrt(2.0))
