"""When something happens."""

from attrs import frozen


@frozen
class Moment:
    """Our monotonic seconds, and the receiver's UTC in Unix seconds if it is known."""

    mono_s: float
    utc_s: float | None = None
