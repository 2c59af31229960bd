"""What a drifting boat drives towards, as plain figures: without the geometry, which is heavy."""

import enum

from attrs import frozen


class DangerKind(enum.StrEnum):
    """What a danger is."""

    SHORE = "shore"
    SHOAL = "shoal"
    ROCK = "rock"
    PIER = "pier"
    WRECK = "wreck"
    VESSEL = "vessel"
    OTHER = "other"


@frozen(kw_only=True)
class DangerAhead:
    """The danger she drives towards, or, if there is none that way, the nearest of all.

    ``distance_m`` is how far she can still go before her hull touches, and ``bearing_deg`` (true)
    where that is; ``minutes`` how long it takes at the present rate, None if the drift leads to no
    danger. ``nearest_*`` is the nearest in any direction, from the hull, and its true bearing.
    """

    name: str
    kind: DangerKind
    distance_m: float
    bearing_deg: float
    minutes: float | None
    nearest_name: str
    nearest_m: float
    nearest_bearing_deg: float
