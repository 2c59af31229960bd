"""One line of text into one typed observation, counting what it refuses and never raising.

pynmea2 tells where each field stands (``layout``). Framing, checksum and numbers are done here,
because ``pynmea2.parse`` takes sentences without a checksum and hands back raw text for a number
it cannot read, and because this runs for every line of the night.
"""

from collections import Counter
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Final

from driftlead.nmea import fields
from driftlead.nmea.checksum import checksum
from driftlead.nmea.layout import field_index, known_kinds
from driftlead.nmea.observations import (
    CourseReport,
    DepthReport,
    DilutionReport,
    HeadingReport,
    North,
    Observation,
    PositionReport,
    TimeReport,
    WaterSpeedReport,
    WindReference,
    WindReport,
)
from driftlead.nmea.rejects import Reject, RejectedError
from driftlead.nmea.tag_block import split_tag_block
from driftlead.units import FATHOM_M, FOOT_M, KNOT_MPS

MAX_SENTENCE: Final = 120
"""Longest sentence taken, in characters. The standard says 82 with ``$`` and line end; real
receivers overrun it (GNS and GSV of several systems reach 100 and more)."""

KMH_MPS: Final = 1000.0 / 3600.0

_RMC_TIME = field_index("RMC", "timestamp")
_RMC_STATUS = field_index("RMC", "status")
_RMC_LAT = field_index("RMC", "lat")
_RMC_SOG = field_index("RMC", "spd_over_grnd")
_RMC_COG = field_index("RMC", "true_course")
_RMC_DATE = field_index("RMC", "datestamp")
_RMC_VARIATION = field_index("RMC", "mag_variation")
_RMC_MODE = field_index("RMC", "mode_indicator")
_GGA_TIME = field_index("GGA", "timestamp")
_GGA_LAT = field_index("GGA", "lat")
_GGA_QUALITY = field_index("GGA", "gps_qual")
_GGA_SATELLITES = field_index("GGA", "num_sats")
_GGA_HDOP = field_index("GGA", "horizontal_dil")
_GLL_LAT = field_index("GLL", "lat")
_GLL_TIME = field_index("GLL", "timestamp")
_GLL_STATUS = field_index("GLL", "status")
_GLL_MODE = field_index("GLL", "faa_mode")
_GNS_TIME = field_index("GNS", "timestamp")
_GNS_LAT = field_index("GNS", "lat")
_GNS_MODE = field_index("GNS", "mode_indicator")
_GNS_SATELLITES = field_index("GNS", "num_sats")
_GNS_HDOP = field_index("GNS", "hdop")
_VTG_COG = field_index("VTG", "true_track")
_VTG_KN = field_index("VTG", "spd_over_grnd_kts")
_VTG_KMH = field_index("VTG", "spd_over_grnd_kmph")
_VTG_MODE = field_index("VTG", "faa_mode")
_ZDA_TIME = field_index("ZDA", "timestamp")
_ZDA_DAY = field_index("ZDA", "day")
_ZDA_MONTH = field_index("ZDA", "month")
_ZDA_YEAR = field_index("ZDA", "year")
_GSA_DIMENSION = field_index("GSA", "mode_fix_type")
_GSA_HDOP = field_index("GSA", "hdop")
_HDT_HEADING = field_index("HDT", "heading")
_THS_HEADING = field_index("THS", "heading")
_THS_MODE = field_index("THS", "mode")
_HDG_HEADING = field_index("HDG", "heading")
_HDG_DEVIATION = field_index("HDG", "deviation")
_HDG_VARIATION = field_index("HDG", "variation")
_HDM_HEADING = field_index("HDM", "heading")
_MWV_ANGLE = field_index("MWV", "wind_angle")
_MWV_REFERENCE = field_index("MWV", "reference")
_MWV_SPEED = field_index("MWV", "wind_speed")
_MWV_UNIT = field_index("MWV", "wind_speed_units")
_MWV_STATUS = field_index("MWV", "status")
_MWD_TRUE = field_index("MWD", "direction_true")
_MWD_MAGNETIC = field_index("MWD", "direction_magnetic")
_MWD_KN = field_index("MWD", "wind_speed_knots")
_MWD_MPS = field_index("MWD", "wind_speed_meters")
_DPT_DEPTH = field_index("DPT", "depth")
_DPT_OFFSET = field_index("DPT", "offset")
_DBT_FT = field_index("DBT", "depth_feet")
_DBT_M = field_index("DBT", "depth_meters")
_DBT_FM = field_index("DBT", "depth_fathoms")
_VHW_TRUE = field_index("VHW", "heading_true")
_VHW_MAGNETIC = field_index("VHW", "heading_magnetic")
_VHW_KN = field_index("VHW", "water_speed_knots")
_VHW_KMH = field_index("VHW", "water_speed_km")

# Mode indicators of a real satellite fix; E (dead reckoning), M (typed in), S (simulated) and
# N (none) are no fix to watch an anchor by.
_FIX_MODES: Final = frozenset("ADRFP")
_NO_FIX_MODES: Final = frozenset("NEMS")
_FIX_QUALITIES: Final = frozenset("123459")
"""GGA quality 9 is sent by some receivers for a satellite-augmented fix."""
_NO_FIX_QUALITIES: Final = frozenset("0678")
_MWV_UNIT_MPS: Final = {"N": KNOT_MPS, "M": 1.0, "K": KMH_MPS, "S": 1609.344 / 3600.0}
_ADDRESS_LENGTH: Final = 5


_NOT_REMEMBERED: Final = frozenset({"RMC", "GGA", "GLL", "GNS", "ZDA", "MWV", "MWD"})
"""Sentences with a time never come again to the letter, and the wind's hardly ever: to remember
them costs more than it saves, and would push out those that do."""
_SEEN_LIMIT: Final = 4096

_Taker = Callable[[str, list[str]], Observation | None]
_Entry = tuple[str, str, _Taker]


class Decoder:
    """Decodes the lines of one source and keeps count.

    ``accepted`` counts sentences by type (``RMC``...), ``unsupported`` sound sentences of no use
    here by type, ``rejected`` lines by reason.
    """

    def __init__(self, *, require_checksum: bool = True) -> None:
        self._require_checksum = require_checksum
        self.accepted: Counter[str] = Counter()
        self.unsupported: Counter[str] = Counter()
        self.rejected: Counter[Reject] = Counter()
        # RMC and GGA of one epoch repeat time and position to the letter: read them once.
        self._time_text = ""
        self._tod_s: float | None = None
        self._position_text: Sequence[str] = ()
        self._position = (0.0, 0.0, 0.0)
        # Most others come again to the letter (GSA, depth, head): a night's worth is decoded once.
        # Observations are frozen, so they can be given out again.
        self._seen: dict[str, tuple[str, Observation]] = {}
        self._addresses: dict[str, _Entry] = {}
        self._takers: dict[str, _Taker] = {
            "RMC": self._rmc,
            "GGA": self._gga,
            "GLL": self._gll,
            "GNS": self._gns,
            "VTG": self._vtg,
            "ZDA": self._zda,
            "GSA": self._gsa,
            "HDT": self._hdt,
            "HDG": self._hdg,
            "HDM": self._hdm,
            "THS": self._ths,
            "MWV": self._mwv,
            "MWD": self._mwd,
            "DPT": self._dpt,
            "DBT": self._dbt,
            "VHW": self._vhw,
        }

    def decode(self, text: str) -> Observation | None:
        """The observation in ``text``, or None: rejected, unsupported, or saying nothing."""
        seen = self._seen.get(text)
        if seen is not None:
            self.accepted[seen[0]] += 1
            return seen[1]
        try:
            sentence = self._sentence(text)
            if sentence is None:
                return None
            entry = self._addresses.get(sentence[0]) or self._meet(sentence[0])
            if entry is None:
                return None
            kind, talker, taker = entry
            del sentence[0]
            observation = taker(talker, sentence)
        except RejectedError as refusal:
            self.rejected[refusal.reason] += 1
            return None
        except IndexError:
            self.rejected[Reject.TOO_FEW_FIELDS] += 1
            return None
        self.accepted[kind] += 1
        if observation is not None and kind not in _NOT_REMEMBERED:
            if len(self._seen) >= _SEEN_LIMIT:
                self._seen.clear()
            self._seen[text] = (kind, observation)
        return observation

    def _sentence(self, text: str) -> list[str] | None:
        """Address and fields of the last sentence in the line, its checksum proved."""
        # A receiver that restarts in mid-sentence, or binary before it: the last $ starts the
        # only sentence that can be whole.
        start = text.rfind("$")
        if start != 0:
            if start < 0:
                self._count_without_start(text)
                return None
            _check_tag_block(text)
            text = text[start:]
        if len(text) > MAX_SENTENCE:
            raise RejectedError(Reject.TOO_LONG)
        if text[-3:-2] != "*":
            text = text.rstrip()
            if text[-3:-2] != "*":
                if "*" in text:
                    raise RejectedError(Reject.BAD_CHECKSUM)
                if self._require_checksum:
                    raise RejectedError(Reject.NO_CHECKSUM)
                return text[1:].split(",")
        body = text[1:-3]
        if _HEX.get(text[-2:]) != checksum(body):
            raise RejectedError(Reject.BAD_CHECKSUM)
        return body.split(",")

    def _count_without_start(self, text: str) -> None:
        if "!" not in text:
            raise RejectedError(Reject.NO_START)
        # Encapsulated sentences (AIS) begin with "!"; none is of use here.
        self.unsupported["!"] += 1

    def _meet(self, address: str) -> _Entry | None:
        """An address heard for the first time: what takes it, None if nothing does."""
        well_formed = address.isalnum() and address.isupper() and address.isascii()
        if not well_formed or (len(address) != _ADDRESS_LENGTH and address[0] != "P"):
            raise RejectedError(Reject.BAD_ADDRESS)
        kind = address[2:]
        taker = self._takers.get(kind)
        if taker is None or address[0] == "P":
            self._count_unsupported(address)
            return None
        entry = (kind, address[:2], taker)
        if len(self._addresses) < _SEEN_LIMIT:
            self._addresses[address] = entry
        return entry

    def _count_unsupported(self, address: str) -> None:
        if address[0] == "P":
            self.unsupported["P"] += 1
            return
        kind = address[2:]
        # Types nobody declared share one count, so that a flood of invented ones cannot grow it.
        self.unsupported[kind if kind in _KNOWN_KINDS else "?"] += 1

    def _time(self, text: str) -> float | None:
        if text != self._time_text or not text:
            self._tod_s = fields.time_of_day(text)
            self._time_text = text
        return self._tod_s

    def _place(self, sentence: list[str], at: int) -> tuple[float, float, float]:
        texts = sentence[at : at + 4]
        if texts != self._position_text:
            if len(texts) != 4:
                raise RejectedError(Reject.TOO_FEW_FIELDS)
            position = (
                fields.latitude(texts[0], texts[1]),
                fields.longitude(texts[2], texts[3]),
                fields.quantum_m(texts[0]),
            )
            self._position_text = texts
            self._position = position
        return self._position

    def _rmc(self, talker: str, f: list[str]) -> PositionReport:
        tod_s = self._time(f[_RMC_TIME])
        date = fields.date_ddmmyy(f[_RMC_DATE])
        usable = _status(f[_RMC_STATUS]) and (len(f) <= _RMC_MODE or _mode(f[_RMC_MODE]))
        if not usable:
            return PositionReport("RMC", talker, tod_s, False, 0.0, 0.0, 0.0, date)
        lat_deg, lon_deg, quantum_m = self._place(f, _RMC_LAT)
        return PositionReport(
            "RMC",
            talker,
            tod_s,
            True,
            lat_deg,
            lon_deg,
            quantum_m,
            date,
            fields.knots(f[_RMC_SOG]),
            fields.bearing(f[_RMC_COG]),
            None,
            None,
            # A talker that garbles its variation still has a sound position.
            _signed(f[_RMC_VARIATION], f[_RMC_VARIATION + 1])
            if f[_RMC_VARIATION] and f[_RMC_VARIATION + 1] in ("E", "W")
            else None,
        )

    def _gga(self, talker: str, f: list[str]) -> PositionReport:
        tod_s = self._time(f[_GGA_TIME])
        if not _quality(f[_GGA_QUALITY]):
            return PositionReport("GGA", talker, tod_s, False, 0.0, 0.0, 0.0)
        return self._graded("GGA", talker, tod_s, f, (_GGA_LAT, _GGA_HDOP, _GGA_SATELLITES))

    def _gll(self, talker: str, f: list[str]) -> PositionReport:
        # Before NMEA 0183 version 2 GLL had no status; a fix that vouches for nothing is no fix.
        tod_s = self._time(f[_GLL_TIME]) if len(f) > _GLL_TIME else None
        usable = len(f) > _GLL_STATUS and _status(f[_GLL_STATUS])
        if usable and len(f) > _GLL_MODE:
            usable = _mode(f[_GLL_MODE])
        if not usable:
            return PositionReport("GLL", talker, tod_s, False, 0.0, 0.0, 0.0)
        lat_deg, lon_deg, quantum_m = self._place(f, _GLL_LAT)
        return PositionReport("GLL", talker, tod_s, True, lat_deg, lon_deg, quantum_m)

    def _gns(self, talker: str, f: list[str]) -> PositionReport:
        tod_s = self._time(f[_GNS_TIME])
        modes = f[_GNS_MODE]
        if not _FIX_MODES.issuperset(modes) and not _GNS_MODES.issuperset(modes):
            raise RejectedError(Reject.UNKNOWN_CODE)
        # One letter a satellite system: one system with a fix is enough.
        if _FIX_MODES.isdisjoint(modes):
            return PositionReport("GNS", talker, tod_s, False, 0.0, 0.0, 0.0)
        return self._graded("GNS", talker, tod_s, f, (_GNS_LAT, _GNS_HDOP, _GNS_SATELLITES))

    def _graded(
        self, kind: str, talker: str, tod_s: float | None, f: list[str], at: tuple[int, int, int]
    ) -> PositionReport:
        """A position with HDOP and satellites; ``at`` says where latitude and those two stand."""
        lat_at, hdop_at, satellites_at = at
        lat_deg, lon_deg, quantum_m = self._place(f, lat_at)
        return PositionReport(
            kind,
            talker,
            tod_s,
            True,
            lat_deg,
            lon_deg,
            quantum_m,
            None,
            None,
            None,
            _hdop(f[hdop_at]),
            _count(f[satellites_at]),
        )

    def _vtg(self, talker: str, f: list[str]) -> CourseReport:
        fields.letter(f[_VTG_COG + 1], "T")
        fields.letter(f[_VTG_KN + 1], "N")
        if len(f) > _VTG_MODE and not _mode(f[_VTG_MODE]):
            return CourseReport(talker, None, None)
        fields.letter(f[_VTG_KMH + 1], "K")
        sog_mps = fields.agreeing_speed(f[_VTG_KN], KNOT_MPS, f[_VTG_KMH], KMH_MPS)
        return CourseReport(talker, sog_mps, fields.bearing(f[_VTG_COG]))

    def _zda(self, talker: str, f: list[str]) -> TimeReport | None:
        tod_s = self._time(f[_ZDA_TIME])
        if tod_s is None:
            return None
        date = fields.date_from_parts(f[_ZDA_DAY], f[_ZDA_MONTH], f[_ZDA_YEAR])
        return TimeReport(talker, tod_s, date)

    def _gsa(self, talker: str, f: list[str]) -> DilutionReport:
        dimension = f[_GSA_DIMENSION]
        if dimension not in ("1", "2", "3"):
            raise RejectedError(Reject.UNKNOWN_CODE)
        return DilutionReport(talker, int(dimension), _hdop(f[_GSA_HDOP]))

    def _hdt(self, talker: str, f: list[str]) -> HeadingReport | None:
        fields.letter(f[_HDT_HEADING + 1], "T")
        return _heading(talker, f[_HDT_HEADING], North.TRUE)

    def _ths(self, talker: str, f: list[str]) -> HeadingReport | None:
        mode = f[_THS_MODE]
        if mode not in ("A", "E", "M", "S", "V"):
            raise RejectedError(Reject.UNKNOWN_CODE)
        return _heading(talker, f[_THS_HEADING], North.TRUE) if mode == "A" else None

    def _hdm(self, talker: str, f: list[str]) -> HeadingReport | None:
        fields.letter(f[_HDM_HEADING + 1], "M")
        return _heading(talker, f[_HDM_HEADING], North.MAGNETIC)

    def _hdg(self, talker: str, f: list[str]) -> HeadingReport | None:
        sensor_deg = fields.bearing(f[_HDG_HEADING])
        if sensor_deg is None:
            return None
        deviation_deg = _signed(f[_HDG_DEVIATION], f[_HDG_DEVIATION + 1])
        variation_deg = _signed(f[_HDG_VARIATION], f[_HDG_VARIATION + 1])
        magnetic_deg = (sensor_deg + (deviation_deg or 0.0)) % 360.0
        return HeadingReport(talker, magnetic_deg, North.MAGNETIC, variation_deg)

    def _mwv(self, talker: str, f: list[str]) -> WindReport | None:
        status = f[_MWV_STATUS]
        if status not in ("A", "V"):
            raise RejectedError(Reject.UNKNOWN_CODE)
        angle_deg, speed = fields.bearing(f[_MWV_ANGLE]), fields.optional_number(f[_MWV_SPEED])
        if status == "V" or angle_deg is None or speed is None:
            return None
        unit_mps = _MWV_UNIT_MPS.get(f[_MWV_UNIT])
        reference = _MWV_REFERENCES.get(f[_MWV_REFERENCE])
        if unit_mps is None or reference is None:
            raise RejectedError(Reject.UNKNOWN_CODE)
        return WindReport(talker, _wind_speed(speed * unit_mps), angle_deg, reference)

    def _mwd(self, talker: str, f: list[str]) -> WindReport | None:
        fields.letter(f[_MWD_KN + 1], "N")
        fields.letter(f[_MWD_MPS + 1], "M")
        speed_mps = fields.agreeing_speed(f[_MWD_MPS], 1.0, f[_MWD_KN], KNOT_MPS)
        true_deg, magnetic_deg = fields.bearing(f[_MWD_TRUE]), fields.bearing(f[_MWD_MAGNETIC])
        if speed_mps is None:
            return None
        _wind_speed(speed_mps)
        if true_deg is not None:
            return WindReport(talker, speed_mps, true_deg, WindReference.TRUE_NORTH)
        if magnetic_deg is not None:
            return WindReport(talker, speed_mps, magnetic_deg, WindReference.MAGNETIC_NORTH)
        return None

    def _dpt(self, talker: str, f: list[str]) -> DepthReport | None:
        depth_m = fields.optional_number(f[_DPT_DEPTH])
        offset_m = fields.optional_number(f[_DPT_OFFSET]) if len(f) > _DPT_OFFSET else None
        if offset_m is not None:
            fields.transducer_offset(offset_m)
        if depth_m is None:
            return None
        return DepthReport(talker, fields.depth(depth_m), offset_m)

    def _dbt(self, talker: str, f: list[str]) -> DepthReport | None:
        fields.letter(f[_DBT_FT + 1], "f")
        fields.letter(f[_DBT_M + 1], "M")
        fields.letter(f[_DBT_FM + 1], "F")
        readings = [
            fields.depth(fields.number(text) * unit_m)
            for text, unit_m in ((f[_DBT_M], 1.0), (f[_DBT_FT], FOOT_M), (f[_DBT_FM], FATHOM_M))
            if text
        ]
        if not readings:
            return None
        # Talkers cut or round to a tenth of each unit; a tenth of a fathom is the coarsest.
        if max(readings) - min(readings) > 0.03 * max(readings) + 0.15 * FATHOM_M:
            raise RejectedError(Reject.CONTRADICTING_UNITS)
        return DepthReport(talker, readings[0])

    def _vhw(self, talker: str, f: list[str]) -> WaterSpeedReport:
        fields.letter(f[_VHW_TRUE + 1], "T")
        fields.letter(f[_VHW_MAGNETIC + 1], "M")
        fields.letter(f[_VHW_KN + 1], "N")
        fields.letter(f[_VHW_KMH + 1], "K")
        speed_mps = fields.agreeing_speed(f[_VHW_KN], KNOT_MPS, f[_VHW_KMH], KMH_MPS)
        heading = _heading(talker, f[_VHW_TRUE], North.TRUE) or _heading(
            talker, f[_VHW_MAGNETIC], North.MAGNETIC
        )
        return WaterSpeedReport(talker, speed_mps, heading)


_HEX: Final = {
    high + low: int(high + low, 16)
    for high in "0123456789ABCDEFabcdef"
    for low in "0123456789ABCDEFabcdef"
}
"""Two hex digits in either case; some talkers send small letters."""
_KNOWN_KINDS: Final = known_kinds()
_GNS_MODES: Final = _FIX_MODES | _NO_FIX_MODES
_MWV_REFERENCES: Final = {"R": WindReference.APPARENT, "T": WindReference.THEORETICAL}
_MAX_WIND_MPS: Final = 110.0


def _check_tag_block(text: str) -> None:
    if text[0] == "\\":
        tag, _rest = split_tag_block(text)
        if tag is not None and not tag.valid:
            raise RejectedError(Reject.BAD_TAG_BLOCK)


def _status(text: str) -> bool:
    if text == "A":
        return True
    if text in ("V", ""):
        return False
    raise RejectedError(Reject.UNKNOWN_CODE)


def _mode(text: str) -> bool:
    # An empty mode is a talker older than the field: its status alone speaks.
    if text in _FIX_MODES or not text:
        return True
    if text in _NO_FIX_MODES:
        return False
    raise RejectedError(Reject.UNKNOWN_CODE)


def _quality(text: str) -> bool:
    if text in _FIX_QUALITIES:
        return True
    if text in _NO_FIX_QUALITIES or not text:
        return False
    raise RejectedError(Reject.UNKNOWN_CODE)


@lru_cache(maxsize=1024)
def _hdop(text: str) -> float | None:
    if not text:
        return None
    hdop = fields.number(text)
    if hdop < 0.0:
        raise RejectedError(Reject.IMPOSSIBLE_VALUE)
    # Zero is how some receivers say that they do not know.
    return hdop or None


@lru_cache(maxsize=128)
def _count(text: str) -> int | None:
    if not text:
        return None
    if not (text.isdecimal() and text.isascii()):
        raise RejectedError(Reject.MALFORMED_NUMBER)
    return int(text)


def _heading(talker: str, text: str, north: North) -> HeadingReport | None:
    heading_deg = fields.bearing(text)
    return None if heading_deg is None else HeadingReport(talker, heading_deg, north)


def _signed(text: str, side: str) -> float | None:
    """Deviation or variation: degrees and E or W, east positive."""
    if not text:
        return None
    value = fields.number(text)
    if not 0.0 <= value <= 180.0:
        raise RejectedError(Reject.IMPOSSIBLE_VALUE)
    if side not in ("E", "W"):
        raise RejectedError(Reject.UNKNOWN_CODE)
    return value if side == "E" else -value


def _wind_speed(speed_mps: float) -> float:
    if 0.0 <= speed_mps <= _MAX_WIND_MPS:
        return speed_mps
    raise RejectedError(Reject.IMPOSSIBLE_VALUE)
