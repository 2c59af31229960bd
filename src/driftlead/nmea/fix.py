"""One fix: everything the sentences of one epoch said, merged."""

from driftlead.values import light_value


@light_value
class Fix:
    """A usable position at one receiver epoch, with what came along.

    ``mono_s`` is when its first sentence arrived; ``tod_s`` the epoch's time of day (None if the
    talker sends none). ``quantum_m`` is the step of the last decimal sent.
    """

    source: str
    mono_s: float
    tod_s: float | None
    lat_deg: float
    lon_deg: float
    quantum_m: float
    sog_mps: float | None
    cog_deg: float | None
    hdop: float | None
    satellites: int | None


@light_value
class NoFix:
    """An epoch in which the receiver itself says that it has no usable fix."""

    source: str
    mono_s: float
    tod_s: float | None
