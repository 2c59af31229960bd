"""What the track shows at one step, before anybody decides whether to wake the crew."""

import enum

from attrs import frozen


class Knowledge(enum.StrEnum):
    """What the detector has to go by; a drag shows the sooner, the more is known."""

    MARKED_WITH_HEADING = "marked_with_heading"
    MARKED = "marked"
    LATE_WITH_HEADING = "late_with_heading"
    LATE = "late"


@frozen
class Evidence:
    """The evidence at one step of the track.

    ``log_odds`` is the natural logarithm of the odds that the anchor has come home (moved for
    more than it settles by) against that it holds; far below anything that counts, it is the odds
    that it has moved at all. ``moved_m`` is the expected distance the
    anchor has moved, given that it has, with its standard error ``moved_sigma_m``, towards
    ``bearing_deg`` (true) at ``rate_mps``; all 0 while that is out of the question.
    ``distance_m`` is from the anchor to the antenna and ``beyond_m`` how far that is past what
    rode and errors can explain (negative inside): the floor's measure. ``borne_out``: the latest
    fix agrees with the track; False while fixes are refused and dead reckoning carries the track.
    """

    time_s: float
    knowledge: Knowledge
    log_odds: float
    moved_m: float
    moved_sigma_m: float
    bearing_deg: float
    rate_mps: float
    distance_m: float
    beyond_m: float
    borne_out: bool
