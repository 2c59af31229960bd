"""One point of the filtered track."""

import enum

from driftlead.values import light_value


class FixState(enum.Enum):
    """What the filter made of the latest fix."""

    TAKEN = "taken"
    """It agrees with the track and moved it."""
    JUMPED = "jumped"
    """It is farther from the track than speed and course allow; the track is carried on without."""
    REACQUIRED = "reacquired"
    """A jump stayed where it was long enough: the track starts again from it."""


@light_value
class TrackPoint:
    """The filtered position of the antenna in the plane, and how far to trust it.

    ``time_s`` runs with the receiver's own clock and never backwards; ``mono_s`` is ours.
    ``sigma_m`` is the standard error per axis. ``unchanged_s`` is for how long the receiver has
    been giving the identical position. Speeds are over ground, east and north.
    """

    time_s: float
    mono_s: float
    east_m: float
    north_m: float
    sigma_m: float
    east_mps: float
    north_mps: float
    fix_state: FixState
    jumped_s: float
    unchanged_s: float
