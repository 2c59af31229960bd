"""NMEA 0183 sentences as instruments put them out: SI in, checksummed text without line end out."""

import datetime as dt
import math

from driftlead.nmea.checksum import checksum
from driftlead.units import KNOT_MPS

_KMH_MPS = 1000.0 / 3600.0


def sentence(*fields: str) -> str:
    """Join the address (``GPRMC``) and the data fields into a sentence with its checksum."""
    body = ",".join(fields)
    return f"${body}*{checksum(body):02X}"


def rmc(
    *,
    utc: dt.datetime,
    lat_deg: float,
    lon_deg: float,
    sog_mps: float,
    cog_deg: float | None,
    valid: bool = True,
    decimals: int = 4,
    talker: str = "GP",
) -> str:
    """Position, speed, course (None: blank), date. Without a fix: status V, mode N, no figures."""
    fix = ("", "", "", "", "", "")
    if valid:
        place = _place(lat_deg, lon_deg, decimals)
        fix = (*place, f"{sog_mps / KNOT_MPS:.2f}", _bearing(cog_deg))
    date = f"{utc:%d%m%y}"
    status, mode = ("A", "A") if valid else ("V", "N")
    return sentence(f"{talker}RMC", _time(utc), status, *fix, date, "", "", mode)


def gga(
    *,
    utc: dt.datetime,
    lat_deg: float,
    lon_deg: float,
    satellites: int,
    hdop: float,
    altitude_m: float = 2.5,
    valid: bool = True,
    decimals: int = 4,
    talker: str = "GP",
) -> str:
    """Position with its quality. Without a fix: quality 0 and no position."""
    place = _place(lat_deg, lon_deg, decimals) if valid else ("", "", "", "")
    quality = "1" if valid else "0"
    height = (f"{altitude_m:.1f}", "M", "50.0", "M") if valid else ("", "M", "", "M")
    counts = (f"{satellites:02d}", f"{hdop:.1f}")
    return sentence(f"{talker}GGA", _time(utc), *place, quality, *counts, *height, "", "")


def gll(
    *,
    utc: dt.datetime,
    lat_deg: float,
    lon_deg: float,
    valid: bool = True,
    decimals: int = 4,
    talker: str = "GP",
) -> str:
    """Position and time."""
    place = _place(lat_deg, lon_deg, decimals) if valid else ("", "", "", "")
    status, mode = ("A", "A") if valid else ("V", "N")
    return sentence(f"{talker}GLL", *place, _time(utc), status, mode)


def vtg(*, sog_mps: float, cog_deg: float | None, valid: bool = True, talker: str = "GP") -> str:
    """Course (None: blank) and speed over ground, in knots and in km/h."""
    if not valid:
        return sentence(f"{talker}VTG", "", "T", "", "M", "", "N", "", "K", "N")
    knots, kmh = f"{sog_mps / KNOT_MPS:.2f}", f"{sog_mps / _KMH_MPS:.2f}"
    return sentence(f"{talker}VTG", _bearing(cog_deg), "T", "", "M", knots, "N", kmh, "K", "A")


def gsa(*, satellites: int, hdop: float, valid: bool = True, talker: str = "GP") -> str:
    """Satellites in use, at most twelve, and the dilutions of precision."""
    numbers = [f"{2 * index + 3:02d}" for index in range(min(satellites, 12))] if valid else []
    numbers += [""] * (12 - len(numbers))
    vdop = min(99.9, 1.4 * hdop)
    dops = (f"{min(99.9, (hdop**2 + vdop**2) ** 0.5):.1f}", f"{hdop:.1f}", f"{vdop:.1f}")
    return sentence(f"{talker}GSA", "A", "3" if valid else "1", *numbers, *dops)


def zda(*, utc: dt.datetime, talker: str = "GP") -> str:
    """Time and date, with no local zone."""
    return sentence(f"{talker}ZDA", _time(utc), f"{utc:%d}", f"{utc:%m}", f"{utc:%Y}", "00", "00")


def hdt(*, heading_deg: float, talker: str = "HC") -> str:
    """Write the true heading."""
    return sentence(f"{talker}HDT", _bearing(heading_deg), "T")


def mwv(*, off_bow_deg: float, speed_mps: float, talker: str = "WI") -> str:
    """Apparent wind: degrees from the bow, clockwise, and its speed in knots."""
    angle, knots = _bearing(off_bow_deg), f"{speed_mps / KNOT_MPS:.1f}"
    return sentence(f"{talker}MWV", angle, "R", knots, "N", "A")


def mwd(*, from_deg: float, speed_mps: float, talker: str = "WI") -> str:
    """Write the true wind over the ground: the true bearing it blows from, knots and m/s."""
    knots, mps = f"{speed_mps / KNOT_MPS:.1f}", f"{speed_mps:.1f}"
    return sentence(f"{talker}MWD", _bearing(from_deg), "T", "", "M", knots, "N", mps, "M")


def dpt(*, below_transducer_m: float, transducer_below_water_m: float, talker: str = "SD") -> str:
    """Depth below the transducer; a positive offset takes it to the waterline."""
    depth, offset = f"{below_transducer_m:.1f}", f"{transducer_below_water_m:.1f}"
    return sentence(f"{talker}DPT", depth, offset)


def _time(utc: dt.datetime) -> str:
    return f"{utc:%H%M%S}.{utc.microsecond // 10_000:02d}"


def _bearing(deg: float | None) -> str:
    if deg is None:
        return ""
    return f"{round(deg % 360.0, 1) % 360.0:.1f}"


def _place(lat_deg: float, lon_deg: float, decimals: int) -> tuple[str, str, str, str]:
    return (
        _degrees_minutes(lat_deg, decimals, width=2),
        "S" if lat_deg < 0 else "N",
        _degrees_minutes(lon_deg, decimals, width=3),
        "W" if lon_deg < 0 else "E",
    )


def quantised_deg(deg: float, decimals: int) -> float:
    """Give a latitude or longitude as it is read back from minutes with so many decimals."""
    per_deg = 60 * 10**decimals
    return math.copysign(round(abs(deg) * per_deg) / per_deg, deg)


def _degrees_minutes(deg: float, decimals: int, *, width: int) -> str:
    # In whole units of the last decimal before splitting: 59.99996' must carry into the degrees.
    unit = 10**decimals
    degrees, minutes = divmod(round(abs(deg) * 60 * unit), 60 * unit)
    if decimals == 0:
        return f"{degrees:0{width}d}{minutes:02d}"
    return f"{degrees:0{width}d}{minutes // unit:02d}.{minutes % unit:0{decimals}d}"
