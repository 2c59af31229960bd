"""What a detector says about one point of the track."""

import enum
import math

from driftlead.values import light_value


class Verdict(enum.StrEnum):
    """Whether she is dragging."""

    HOLDING = "holding"
    UNSURE = "unsure"
    DRAGGING = "dragging"


class Reason(enum.StrEnum):
    """Why the detector judged as it did."""

    AS_THE_RODE_ALLOWS = "as_the_rode_allows"
    """The anchor that has never moved explains the track."""
    SWING_CHANGED = "swing_changed"
    """More likely moved than not, but not likely enough to wake anybody."""
    NOT_YET_LONG = "not_yet_long"
    """Likely enough to wake the crew, but not for long enough."""
    ANCHOR_MOVED = "anchor_moved"
    """Only an anchor that has moved explains the track."""
    FAR_OUTSIDE_DRAG_CIRCLE = "far_outside_drag_circle"
    """So far outside the drag circle that a short dwell is enough: a breakout."""
    OUTSIDE_WHOLE_RODE = "outside_whole_rode"
    """Farther than all the rode aboard reaches; how much is out was never said."""
    RODE_UNKNOWN = "rode_unknown"
    """No rode is known, so no swing can be told from a drag."""


@light_value
class Judgement:
    """The detector's word on one point, with its figures.

    ``distance_m`` and ``bearing_deg`` (true) are from the anchor, as it was before any drag, to
    the antenna; ``radius_m`` is the drag circle's, None without one. ``moved_m`` is how far the
    anchor has moved by the evidence, towards ``moved_deg``, at ``rate_mps``; None for a rate
    before there is one. ``log_odds``: natural log of the odds that it has moved.
    """

    verdict: Verdict
    reason: Reason
    distance_m: float
    bearing_deg: float
    radius_m: float | None
    moved_m: float
    moved_deg: float
    rate_mps: float | None
    log_odds: float

    @property
    def confidence(self) -> float:
        """The chance, 0..1, that the anchor has moved."""
        return 1.0 / (1.0 + math.exp(-max(-500.0, min(500.0, self.log_odds))))
