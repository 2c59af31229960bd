"""What a sentence says, typed, in SI units and degrees. None stands for an empty field."""

import datetime as dt
import enum

from driftlead.values import light_value


@light_value
class PositionReport:
    """A position from RMC, GGA, GLL or GNS; ``usable`` only if status, mode and quality allow.

    ``tod_s`` is seconds since midnight UTC; ``quantum_m`` the step of the last decimal sent,
    along the meridian. ``variation_deg`` is magnetic variation, east positive (RMC). An unusable
    report carries no position.
    """

    kind: str
    talker: str
    tod_s: float | None
    usable: bool
    lat_deg: float
    lon_deg: float
    quantum_m: float
    date: dt.date | None = None
    sog_mps: float | None = None
    cog_deg: float | None = None
    hdop: float | None = None
    satellites: int | None = None
    variation_deg: float | None = None


@light_value
class CourseReport:
    """Speed and course over ground from VTG."""

    talker: str
    sog_mps: float | None
    cog_deg: float | None


@light_value
class DilutionReport:
    """Fix dimension (1 none, 2, 3) and horizontal dilution from GSA."""

    talker: str
    dimension: int
    hdop: float | None


@light_value
class TimeReport:
    """UTC from ZDA."""

    talker: str
    tod_s: float
    date: dt.date | None


class North(enum.StrEnum):
    """What a direction is counted from."""

    TRUE = "true"
    MAGNETIC = "magnetic"


@light_value
class HeadingReport:
    """The ship's head from HDT, THS, HDG, HDM or VHW; ``variation_deg`` is east positive."""

    talker: str
    heading_deg: float
    north: North
    variation_deg: float | None = None


class WindReference(enum.StrEnum):
    """What a wind direction and speed are relative to."""

    APPARENT = "apparent"
    """As felt aboard, angle from the bow (MWV R)."""
    THEORETICAL = "theoretical"
    """As if the boat were still, angle from the bow (MWV T)."""
    TRUE_NORTH = "true_north"
    """Direction the wind comes from, from true north (MWD)."""
    MAGNETIC_NORTH = "magnetic_north"


@light_value
class WindReport:
    """Wind from MWV or MWD: speed, and the direction it comes from."""

    talker: str
    speed_mps: float
    direction_deg: float
    reference: WindReference


@light_value
class DepthReport:
    """Depth below the transducer, and the transducer's offset where DPT gives it.

    Offset positive: transducer to waterline; negative: transducer to keel.
    """

    talker: str
    below_transducer_m: float
    offset_m: float | None = None


@light_value
class WaterSpeedReport:
    """Speed through the water from VHW, and the head where it is given."""

    talker: str
    speed_mps: float | None
    heading: HeadingReport | None


Observation = (
    PositionReport
    | CourseReport
    | DilutionReport
    | TimeReport
    | HeadingReport
    | WindReport
    | DepthReport
    | WaterSpeedReport
)
