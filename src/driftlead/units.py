"""The edge of the SI world: lengths, speeds, times, sizes and positions as people write them.

Inside driftlead everything is metres, seconds, metres a second and degrees; feet, fathoms and
knots exist only here. Definitions: the international foot is 0.3048 m exactly and the nautical
mile 1852 m exactly (NIST SP 811, Appendix B); the knot is one nautical mile an hour (SI Brochure,
8th edition, table 8). The fathom is 6 feet and the shackle (US: shot) 15 fathoms, as the trade
counts chain.
"""

import re
from collections.abc import Mapping
from enum import StrEnum
from fractions import Fraction

from attrs import evolve, field, frozen

from driftlead.errors import UserInputError
from driftlead.geodesy.position import Position

_FOOT = Fraction("0.3048")
_FATHOM = 6 * _FOOT
_SHACKLE = 15 * _FATHOM
_NAUTICAL_MILE = Fraction(1852)
_KNOT = _NAUTICAL_MILE / 3600

FOOT_M = float(_FOOT)
FATHOM_M = float(_FATHOM)
SHACKLE_M = float(_SHACKLE)
NAUTICAL_MILE_M = float(_NAUTICAL_MILE)
KNOT_MPS = float(_KNOT)
POUND_FORCE_N = 4.4482216152605  # exact (NIST SP 811, Appendix B)

_LONGEST_TEXT = 64  # nobody writes a longer quantity; it also bounds the arithmetic


@frozen(kw_only=True)
class _Kind:
    """One kind of quantity: how its units are spelt (case folded) and what they are in SI.

    ``refused`` holds spellings that mean two things, with the reason and what to write instead.
    """

    name: str
    units: Mapping[str, Fraction]
    examples: str
    refused: Mapping[str, tuple[str, str]] = field(factory=dict)


def _spelt(table: Mapping[Fraction, str]) -> dict[str, Fraction]:
    return {spelling: si for si, all_ in table.items() for spelling in all_.split("|")}


_LENGTH = _Kind(
    name="length",
    units=_spelt(
        {
            Fraction(1): "m|metre|metres|meter|meters",
            Fraction(1, 1000): "mm",
            Fraction(1, 100): "cm",
            Fraction(1000): "km",
            _FOOT: "ft|foot|feet",
            _FATHOM: "fm|fathom|fathoms",
            _SHACKLE: "shackle|shackles|shot|shots",
            _NAUTICAL_MILE: "nm|nmi|nautical mile|nautical miles",
        }
    ),
    examples="30m, 100ft or 5fm",
    refused={"M": ("may mean metres or nautical miles", "Write m for metres or nm for miles.")},
)
_ROPE_AND_WATER = evolve(
    _LENGTH,
    units={spelling: si for spelling, si in _LENGTH.units.items() if spelling != "mm"},
    refused={**_LENGTH.refused, "mm": ("is not one for rode or water", "Write 30m or 6.5m.")},
)
_SPEED = _Kind(
    name="speed",
    units=_spelt(
        {
            Fraction(1): "m/s|mps",
            _KNOT: "kn|kt|kts|knot|knots",
            Fraction(1000, 3600): "km/h|kmh",
        }
    ),
    examples="15kn or 8m/s",
)
_DURATION = _Kind(
    name="time",
    units=_spelt(
        {
            Fraction(1, 1000): "ms",
            Fraction(1): "s|sec|second|seconds",
            Fraction(60): "min|mins|minute|minutes",
            Fraction(3600): "h|hour|hours",
            Fraction(86400): "d|day|days",
        }
    ),
    examples="30s, 5min or 2h",
    refused=dict.fromkeys(
        ("m", "M"),
        ("may mean minutes or metres", "Write min for minutes or s for seconds."),
    ),
)
_SIZE = _Kind(
    name="size",
    units=_spelt(
        {
            Fraction(1): "b|byte|bytes",
            Fraction(10**3): "kb",
            Fraction(10**6): "mb",
            Fraction(10**9): "gb",
            Fraction(10**12): "tb",
            Fraction(2**10): "kib",
            Fraction(2**20): "mib",
            Fraction(2**30): "gib",
            Fraction(2**40): "tib",
        }
    ),
    examples="2GB, 500MB or 8MiB",
)

_QUANTITY = re.compile(
    r"(?P<sign>-?)(?P<number>[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?P<unit>[^0-9].*|)", re.DOTALL
)
_COMMA = re.compile(r"-?[0-9]+,[0-9]")
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf(?:inity)?)(?:\W.*)?", re.IGNORECASE)


def parse_length_m(text: str) -> float:
    """Metres from ``"30m"``, ``"100 ft"``, ``"5fm"``, ``"2 shackles"``, ``"0.1nm"``.

    Raises UserInputError with a remedy for anything else: no unit, negative, a decimal comma.
    """
    return float(_si(text, _LENGTH))


def parse_rode_or_depth_m(text: str) -> float:
    """Metres of rode or of water: as a length, but millimetres are a slip for metres."""
    return float(_si(text, _ROPE_AND_WATER))


def parse_speed_mps(text: str) -> float:
    """Metres a second from ``"15kn"``, ``"8 m/s"``, ``"20km/h"``. Raises UserInputError."""
    return float(_si(text, _SPEED))


def parse_duration_s(text: str) -> float:
    """Seconds from ``"30s"``, ``"5 min"``, ``"2h"``, ``"500ms"``. Raises UserInputError."""
    return float(_si(text, _DURATION))


def parse_size_bytes(text: str) -> int:
    """Whole bytes from ``"2GB"`` (10^9), ``"500 MB"``, ``"8MiB"`` (2^20). Raises UserInputError."""
    return round(_si(text, _SIZE))


def _si(text: str, kind: _Kind) -> Fraction:
    """Work exactly, so that 100ft is the float nearest 30.48 and not a rounding beside it."""
    stripped = text.strip()
    shown = _shown(stripped)
    write = f"Write {kind.examples}."
    if not stripped:
        raise UserInputError(f"The {kind.name} is empty.", remedy=write)
    if _COMMA.match(stripped):
        remedy = f"Decimals take a point, thousands no mark at all: {kind.examples}."
        raise UserInputError(f"{shown} has a comma in its number.", remedy=remedy)
    match = _QUANTITY.fullmatch(stripped)
    if _NOT_FINITE.fullmatch(stripped):
        raise UserInputError(f"{shown} is not a finite {kind.name}.", remedy=write)
    if match is None or len(stripped) > _LONGEST_TEXT:
        raise UserInputError(f"{shown} is not a {kind.name}.", remedy=write)
    if match["sign"]:
        raise UserInputError(f"{shown} is negative: a {kind.name} is zero or more.", remedy=write)
    return Fraction(match["number"]) * _unit(" ".join(match["unit"].split()), shown, kind)


def _unit(unit: str, shown: str, kind: _Kind) -> Fraction:
    if not unit:
        raise UserInputError(f"{shown} has no unit.", remedy=f"Write {kind.examples}.")
    if unit in kind.refused:
        why, remedy = kind.refused[unit]
        raise UserInputError(f"The unit {unit} in {shown} {why}.", remedy=remedy)
    factor = kind.units.get(unit.casefold())
    if factor is None:
        message = f"{_shown(unit)} in {shown} is not a unit of {kind.name} known here."
        raise UserInputError(message, remedy=f"Write {kind.examples}.")
    return factor


def _shown(text: str) -> str:
    """Make the text fit to stand in a one-line message."""
    cut = text if len(text) <= _LONGEST_TEXT else f"{text[:_LONGEST_TEXT]}..."
    return cut if cut.isprintable() else ascii(cut)


class UnitSystem(StrEnum):
    """The units of one printout. A fathom chart has feet for what is short, and so have we."""

    METRIC = "metric"
    FEET = "feet"
    FATHOMS = "fathoms"


class WindUnit(StrEnum):
    """The unit of winds on a printout: whatever the system of lengths, forecasts have either."""

    KNOTS = "knots"
    MPS = "m/s"

    @property
    def mps(self) -> float:
        """One of it in metres a second."""
        return KNOT_MPS if self is WindUnit.KNOTS else 1.0

    @property
    def sign(self) -> str:
        """As it stands behind a figure."""
        return "kn" if self is WindUnit.KNOTS else "m/s"


@frozen
class Printer:
    """Writes what is measured in the units of one system, and winds in one unit."""

    system: UnitSystem = UnitSystem.METRIC
    wind_unit: WindUnit = WindUnit.KNOTS

    @property
    def rode_step_m(self) -> float:
        """What rode is counted in: whole metres, whole feet, half fathoms."""
        return {
            UnitSystem.METRIC: 1.0,
            UnitSystem.FEET: FOOT_M,
            UnitSystem.FATHOMS: FATHOM_M / 2,
        }[self.system]

    def short(self, m: float) -> str:
        """A stretch, a draught, a height of tide, to a decimal: ``"0.4 m"``, ``"1.3 ft"``."""
        if self.system is UnitSystem.METRIC:
            return f"{_without_minus_zero(m)} m"
        return f"{_without_minus_zero(m / FOOT_M)} ft"

    def depth(self, m: float) -> str:
        """A depth of water to a decimal: ``"6.5 m"``, ``"21.3 ft"``, ``"3.6 fm"``."""
        if self.system is UnitSystem.FATHOMS:
            return f"{_without_minus_zero(m / FATHOM_M)} fm"
        return self.short(m)

    def rode(self, m: float) -> str:
        """A length of rode: ``"38 m"``, ``"125 ft"``, ``"22.5 fm"``."""
        if self.system is UnitSystem.METRIC:
            return f"{m:.0f} m"
        if self.system is UnitSystem.FEET:
            return f"{m / FOOT_M:.0f} ft"
        return f"{m / FATHOM_M:.1f}".removesuffix(".0") + " fm"

    def shackles(self, m: float) -> str:
        """The same in shackles where rode is counted in fathoms: ``" (1.5 shackles)"``."""
        return f" ({m / SHACKLE_M:.1f} shackles)" if self.system is UnitSystem.FATHOMS else ""

    def wind(self, mps: float) -> str:
        """A wind in whole knots, ``"25 kn"``, or metres a second, as forecasts give it."""
        return f"{mps / self.wind_unit.mps:.0f} {self.wind_unit.sign}"

    def force(self, n: float) -> str:
        """A load: ``"1.15 kN"``, ``"260 lbf"``."""
        if self.system is UnitSystem.METRIC:
            return f"{n / 1000:.2f} kN"
        return f"{n / POUND_FORCE_N:.0f} lbf"


def _without_minus_zero(value: float) -> str:
    return f"{round(value, 1) + 0.0:.1f}"


def format_knots(mps: float) -> str:
    """``"25 kn"``: a wind in whole knots, as forecasts give it."""
    return f"{mps / KNOT_MPS:.0f} kn"


_POSITION_REMEDY = "Write 46.5123,-31.2345 or 46°30.74'N 31°14.07'W."
_NUMBER = r"[0-9]+(?:\.[0-9]+)?"
_DECIMAL_PAIR = re.compile(rf"(-?{_NUMBER})(?:\s*,\s*|\s+)(-?{_NUMBER})")
_ANGLE = (
    rf"{_NUMBER}(?:\s*°\s*|\s+|$|(?=[NSEW,]))(?:{_NUMBER}(?:\s*['\"]\s*|\s+|$|(?=[NSEW,]))){{0,2}}"
)
_ANGLE_LETTER_LAST = re.compile(rf"({_ANGLE})([NSEW])[\s,]*({_ANGLE})([NSEW])")
_ANGLE_LETTER_FIRST = re.compile(rf"([NSEW])\s*({_ANGLE})[\s,]*([NSEW])\s*({_ANGLE})")
# What keyboards, charts and web pages write for the degree, minute and second marks and minus.
_ALIKE = str.maketrans(
    {
        "\N{MASCULINE ORDINAL INDICATOR}": "°",
        "\N{RING ABOVE}": "°",
        "\N{PRIME}": "'",
        "\N{LEFT SINGLE QUOTATION MARK}": "'",
        "\N{RIGHT SINGLE QUOTATION MARK}": "'",
        "\N{DOUBLE PRIME}": '"',
        "\N{LEFT DOUBLE QUOTATION MARK}": '"',
        "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
        "\N{MINUS SIGN}": "-",
    }
)


def parse_position(text: str) -> Position:
    """Read a position in decimal degrees, or in degrees, minutes and seconds with letters.

    Latitude comes first; north and east are positive. ``46.5123,-31.2345`` (both with decimals,
    for a pair of whole degrees is more often a decimal comma than an anchorage),
    ``46°30.74'N 31°14.07'W``, ``46 30.740N 031 14.070W``, ``N46°30'44" W31°14'04"``.
    Raises UserInputError with a remedy.
    """
    stripped = " ".join(text.split())
    plain = stripped.translate(_ALIKE).upper()
    shown = _shown(stripped)
    if not plain:
        raise UserInputError("The position is empty.", remedy=_POSITION_REMEDY)
    if len(plain) > _LONGEST_TEXT:
        raise UserInputError(f"{shown} is not a position.", remedy=_POSITION_REMEDY)
    if pair := _DECIMAL_PAIR.fullmatch(plain):
        if "." in pair[1]:  # so what follows it is a longitude, and no decimals of a comma
            _position(float(pair[1]), float(pair[2]), shown)
        if "." not in pair[1] or "." not in pair[2]:
            message = f"{shown} is a position in whole degrees, or has a decimal comma."
            raise UserInputError(message, remedy=_POSITION_REMEDY)
        return _position(float(pair[1]), float(pair[2]), shown)
    if last := _ANGLE_LETTER_LAST.fullmatch(plain):
        return _lettered(last[1], last[2], last[3], last[4], shown)
    if first := _ANGLE_LETTER_FIRST.fullmatch(plain):
        return _lettered(first[2], first[1], first[4], first[3], shown)
    if re.search(r"[0-9],[0-9]", plain):
        message = f"{shown} has a decimal comma."
        raise UserInputError(message, remedy=f"Decimals take a point. {_POSITION_REMEDY}")
    raise UserInputError(f"{shown} is not a position.", remedy=_POSITION_REMEDY)


def _lettered(angle_a: str, letter_a: str, angle_b: str, letter_b: str, shown: str) -> Position:
    if letter_a not in "NS" or letter_b not in "EW":
        message = f"{shown} does not give a latitude (N or S) and then a longitude (E or W)."
        raise UserInputError(message, remedy=_POSITION_REMEDY)
    lat_deg = _degrees(angle_a, shown) * (-1 if letter_a == "S" else 1)
    lon_deg = _degrees(angle_b, shown) * (-1 if letter_b == "W" else 1)
    return _position(float(lat_deg), float(lon_deg), shown)


def _degrees(angle: str, shown: str) -> Fraction:
    parts = re.findall(_NUMBER, angle)
    if any("." in part for part in parts[:-1]):
        message = f"{shown} has decimals in a part that is followed by a smaller one."
        raise UserInputError(message, remedy=_POSITION_REMEDY)
    values = [Fraction(part) for part in parts]
    if any(value >= 60 for value in values[1:]):
        message = f"{shown} has 60 or more minutes or seconds."
        raise UserInputError(message, remedy=_POSITION_REMEDY)
    return sum((value / 60**power for power, value in enumerate(values)), Fraction(0))


def _position(lat_deg: float, lon_deg: float, shown: str) -> Position:
    if abs(lat_deg) > 90:
        message = f"{shown} has a latitude beyond 90 degrees."
        raise UserInputError(message, remedy=f"Latitude comes first. {_POSITION_REMEDY}")
    if abs(lon_deg) > 180:
        message = f"{shown} has a longitude beyond 180 degrees."
        raise UserInputError(message, remedy="Count longitude from 0 to 180 east or west.")
    return Position(lat_deg, lon_deg)


_POINTS = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)


def compass_point(deg: float) -> str:
    """Name the nearest of the sixteen points, ``"SE"`` or ``"SSE"``; the bearing is finite."""
    return _POINTS[round(deg / 22.5) % 16]


def format_bearing(deg: float) -> str:
    """``"131° (SE)"``: three figures from 000 to 359, and the point, for a finite bearing."""
    return f"{round(deg) % 360:03d}° ({compass_point(deg)})"


def format_length(m: float) -> str:
    """``"4.2 m"`` below ten metres, ``"31 m"`` from there, ``"1.25 nm"`` from a nautical mile."""
    if abs(m) >= NAUTICAL_MILE_M:
        return f"{m / NAUTICAL_MILE_M:.2f} nm"
    return f"{m:.1f} m" if abs(m) < 9.95 else f"{m:.0f} m"


def format_speed(mps: float) -> str:
    """``"4.1 m/s (8.0 kn)"``; below one metre a second with two decimals: a drag is slow."""
    decimals = 2 if abs(mps) < 0.995 else 1
    return f"{mps:.{decimals}f} m/s ({mps / KNOT_MPS:.1f} kn)"


def format_position(position: Position) -> str:
    """``"46°30.740'N 031°14.070'W"``: degrees and minutes to a thousandth (under two metres)."""
    lat = _degrees_minutes(position.lat_deg, "NS", width=2)
    return f"{lat} {_degrees_minutes(position.lon_deg, 'EW', width=3)}"


def _degrees_minutes(deg: float, letters: str, *, width: int) -> str:
    # In thousandths of a minute before splitting, so that 59.9996' becomes a whole degree.
    degrees, thousandths = divmod(round(abs(deg) * 60_000), 60_000)
    letter = letters[1] if deg < 0 else letters[0]
    return f"{degrees:0{width}d}°{thousandths / 1000:06.3f}'{letter}"
