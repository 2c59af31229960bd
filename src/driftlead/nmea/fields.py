"""Fields of a sentence into numbers: strict, because a wrong number here moves the boat.

Every function takes the field's text as sent and raises RejectedError with the reason; it never
guesses. An empty field is None where the standard allows it to be empty.
"""

import datetime as dt
import math
from functools import lru_cache
from typing import Final

from driftlead.nmea.rejects import Reject, RejectedError
from driftlead.units import KNOT_MPS, NAUTICAL_MILE_M

_MAX_SPEED_MPS = 150.0
_MAX_DEPTH_M = 12_000.0
_MAX_OFFSET_M = 50.0


_REMEMBERED: Final = 4096
"""Readings come in tenths and repeat all night: looking one up costs a tenth of reading it."""


@lru_cache(maxsize=_REMEMBERED)
def number(text: str) -> float:
    """A finite decimal number; signs allowed, exponents, blanks and underscores are not."""
    # float() alone would take "1e5", " 1", "1_0", "nan" and "inf".
    if not text.lstrip("+-").replace(".", "", 1).isdecimal() or not text.isascii():
        raise RejectedError(Reject.MALFORMED_NUMBER)
    try:
        value = float(text)
    except ValueError:
        raise RejectedError(Reject.MALFORMED_NUMBER) from None
    if math.isinf(value):
        raise RejectedError(Reject.IMPOSSIBLE_VALUE)
    return value


def optional_number(text: str) -> float | None:
    """A number, or None where the field is empty."""
    return number(text) if text else None


@lru_cache(maxsize=_REMEMBERED)
def bearing(text: str) -> float | None:
    """Degrees in [0, 360); 360 itself is sent by some talkers and means 0."""
    if not text:
        return None
    value = number(text)
    if 0.0 <= value < 360.0:
        return value
    if value == 360.0:
        return 0.0
    raise RejectedError(Reject.IMPOSSIBLE_VALUE)


@lru_cache(maxsize=_REMEMBERED)
def knots(text: str) -> float | None:
    """Knots as metres a second."""
    return _speed(number(text) * KNOT_MPS) if text else None


def _speed(speed_mps: float) -> float:
    if 0.0 <= speed_mps <= _MAX_SPEED_MPS:
        return speed_mps
    raise RejectedError(Reject.IMPOSSIBLE_VALUE)


def agreeing_speed(
    first: str, first_mps: float, second: str, second_mps: float, *, slack: float = 0.03
) -> float | None:
    """One speed sent in two units, in metres a second; the first is preferred.

    ``first_mps`` and ``second_mps`` are what one of each unit is. Rounding in the talker is
    allowed for: ``slack`` of the value and 0.15 of either unit.
    """
    one = _speed(number(first) * first_mps) if first else None
    two = _speed(number(second) * second_mps) if second else None
    if one is None or two is None:
        return two if one is None else one
    if abs(one - two) > slack * max(one, two) + 0.15 * max(first_mps, second_mps):
        raise RejectedError(Reject.CONTRADICTING_UNITS)
    return one


def depth(value_m: float) -> float:
    """A depth that water on this planet can have."""
    if 0.0 <= value_m <= _MAX_DEPTH_M:
        return value_m
    raise RejectedError(Reject.IMPOSSIBLE_VALUE)


def transducer_offset(value_m: float) -> float:
    """How far a transducer can be from the waterline or the keel."""
    if abs(value_m) <= _MAX_OFFSET_M:
        return value_m
    raise RejectedError(Reject.IMPOSSIBLE_VALUE)


_ZEROS: Final = frozenset({"", "0", "00", "000"})


@lru_cache(maxsize=256)
def time_of_day(text: str) -> float | None:
    """``hhmmss`` or ``hhmmss.sss`` as seconds since midnight; a leap second (60) is allowed."""
    if not text:
        return None
    digits = text[:6]
    if len(digits) != 6 or not digits.isdecimal() or not text.isascii():
        raise RejectedError(Reject.MALFORMED_TIME)
    whole = int(digits)
    hours, minutes, seconds = whole // 10000, whole // 100 % 100, whole % 100
    if hours > 23 or minutes > 59 or seconds > 60:
        raise RejectedError(Reject.MALFORMED_TIME)
    tod_s = hours * 3600.0 + minutes * 60.0 + seconds
    if len(text) == 6:
        return tod_s
    fraction = text[7:]
    if text[6] != "." or (fraction and not fraction.isdecimal()):
        raise RejectedError(Reject.MALFORMED_TIME)
    if fraction in _ZEROS:
        return tod_s
    return tod_s + float(f"0.{fraction}")


@lru_cache(maxsize=8)
def date_ddmmyy(text: str) -> dt.date | None:
    """``ddmmyy`` of RMC: years 80 to 99 are the 1900s, GPS being no older (common practice)."""
    if not text:
        return None
    if len(text) != 6 or not text.isdecimal() or not text.isascii():
        raise RejectedError(Reject.MALFORMED_DATE)
    year = int(text[4:])
    return _date(2000 + year if year < 80 else 1900 + year, int(text[2:4]), int(text[:2]))


def date_from_parts(day: str, month: str, year: str) -> dt.date | None:
    """Day, month and four-digit year of ZDA."""
    if not (day and month and year):
        return None
    digits = f"{day}{month}{year}"
    well_formed = len(day) <= 2 and len(month) <= 2 and len(year) == 4
    if not (well_formed and digits.isdecimal() and digits.isascii()):
        raise RejectedError(Reject.MALFORMED_DATE)
    return _date(int(year), int(month), int(day))


def _date(year: int, month: int, day: int) -> dt.date:
    try:
        return dt.date(year, month, day)
    except ValueError:
        raise RejectedError(Reject.MALFORMED_DATE) from None


# A boat at anchor swings over some hundreds of these, and comes back to each.
@lru_cache(maxsize=_REMEMBERED)
def latitude(text: str, hemisphere: str) -> float:
    """``ddmm.mmm`` and N or S as degrees, north positive."""
    return _angle(text, hemisphere, 4, 90.0, "N", "S")


@lru_cache(maxsize=_REMEMBERED)
def longitude(text: str, hemisphere: str) -> float:
    """``dddmm.mmm`` and E or W as degrees, east positive."""
    return _angle(text, hemisphere, 5, 180.0, "E", "W")


def _angle(
    text: str, hemisphere: str, width: int, limit_deg: float, positive: str, negative: str
) -> float:
    # The point must stand right after the whole minutes: this is what tells ddmm.mm from the
    # decimal degrees some talkers send.
    length = len(text)
    if (
        length < width
        or (length > width and text[width] != ".")
        or not (text[:width] + text[width + 1 :]).isdecimal()
        or not text.isascii()
    ):
        raise RejectedError(Reject.MALFORMED_POSITION)
    minutes = float(text[width - 2 :])
    if minutes >= 60.0:
        raise RejectedError(Reject.MALFORMED_POSITION)
    degrees = int(text[: width - 2]) + minutes / 60.0
    if degrees > limit_deg:
        raise RejectedError(Reject.IMPOSSIBLE_VALUE)
    if hemisphere == positive:
        return degrees
    if hemisphere == negative:
        return -degrees
    raise RejectedError(Reject.UNKNOWN_CODE)


def quantum_m(latitude_text: str) -> float:
    """The size in metres of the last decimal of a ``ddmm.mmm`` latitude (1852 m a minute)."""
    return _quantum_of(len(latitude_text) - len("ddmm."))


@lru_cache(maxsize=32)
def _quantum_of(decimals: int) -> float:
    return NAUTICAL_MILE_M if decimals <= 0 else NAUTICAL_MILE_M * math.pow(10.0, -decimals)


def letter(text: str, expected: str) -> None:
    """Refuse a unit or reference letter that is not the one the sentence must carry.

    An empty one is let pass: many talkers leave it out with the value.
    """
    if text and text != expected:
        raise RejectedError(Reject.UNKNOWN_CODE)
