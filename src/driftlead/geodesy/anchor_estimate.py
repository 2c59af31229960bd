"""Where the anchor is believed to lie, and how well that is known."""

import enum

from attrs import frozen


class AnchorMethod(enum.StrEnum):
    """How the estimate came about; it says how far to trust it."""

    MARKED = "marked"
    """The fix at let go, laid off to the bow along the heading."""
    MARKED_NO_HEADING = "marked_no_heading"
    """The fix at let go; no heading, so the antenna's distance from the bow is uncertainty."""
    GIVEN = "given"
    """A position the skipper gave."""
    INFERRED = "inferred"
    """Set late: worked out from head, rode and track."""
    MOVED = "moved"
    """The earlier estimate, carried along by the drag that was found."""


@frozen
class AnchorEstimate:
    """The anchor's place in degrees, its standard error in metres per axis, and its origin."""

    lat_deg: float
    lon_deg: float
    sigma_m: float
    method: AnchorMethod
