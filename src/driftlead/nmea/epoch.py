"""Merges the sentences of one epoch into one fix, with as little waiting as can be.

A receiver sends the same sentences in the same order each time, so the last one that carries a
time *closes* the epoch: it is learned from two epochs that ended alike. Until it is known, and
when it goes missing, an epoch closes when the next one begins. VTG and GSA carry no time; they
count for the epoch that is open, or for the next one when none is.
"""

from typing import Final

from driftlead.nmea.fix import Fix, NoFix
from driftlead.nmea.observations import CourseReport, DilutionReport, PositionReport

SATELLITE: Final = "satellite"
_SATELLITE_TALKERS: Final = frozenset({"GP", "GN", "GL", "GA", "GB", "BD", "GQ", "QZ", "GI", "GS"})
"""Talkers of satellite receivers; one receiver mixes them within one epoch."""
_ECHO_S: Final = 0.9
"""What is said again later than this after the epoch began is no echo."""
_NOT_TOLD: Final = 0
_NO_FIX: Final = 1
"""Fix dimensions of GSA, and none."""


def receiver_group(talker: str) -> str:
    """Talkers of one group are one receiver: all satellite talkers, or each other one alone.

    An integrated instrument (``II``) on the same wire repeats the receiver's fix later; kept
    apart, the two do not garble each other's epochs.
    """
    return SATELLITE if talker in _SATELLITE_TALKERS else talker


class EpochMerger:
    """Merges the reports of one receiver on one source."""

    def __init__(self, source: str) -> None:
        self._source = source
        self._open = False
        self._tod_s: float | None = None
        self._mono_s = 0.0
        self._kinds: dict[str, PositionReport] = {}
        self._usable = True
        self._best: PositionReport | None = None
        self._sog_mps: float | None = None
        self._cog_deg: float | None = None
        self._hdop: float | None = None
        self._satellites: int | None = None
        self._dimension = _NOT_TOLD
        self._last_kind = ""
        self._ended_with = ""
        self._closer = ""

    def position(self, mono_s: float, report: PositionReport) -> tuple[Fix | NoFix, ...]:
        """Take a position report; gives the epoch it closed, if any (two at the most)."""
        same_epoch = report.tod_s == self._tod_s
        if same_epoch:
            heard = self._kinds.get(report.kind)
            if heard is not None:
                if self._repeats(mono_s, report, heard):
                    return ()
                same_epoch = False
        closed: tuple[Fix | NoFix, ...] = ()
        if not same_epoch or not self._kinds:
            if self._open:
                closed = (self._close(),)
            self._learn()
            self._begin(mono_s, report.tod_s)
        # It may be late for an epoch already given out: then the closer was wrong, and a later one
        # is learned; speed and HDOP serve the next.
        self._take(report)
        if report.kind == self._closer:
            return (*closed, self._close())
        return closed

    def course(self, report: CourseReport) -> None:
        """Take speed and course for the open epoch, or for the next."""
        if self._sog_mps is None or not self._open:
            self._sog_mps = report.sog_mps
            self._cog_deg = report.cog_deg

    def dilution(self, report: DilutionReport) -> None:
        """Take fix dimension and HDOP for the open epoch, or for the next."""
        # One GSA for each satellite system: one that has none in use may say "no fix".
        self._dimension = max(self._dimension, report.dimension)
        if self._hdop is None or not self._open:
            self._hdop = report.hdop

    def _begin(self, mono_s: float, tod_s: float | None) -> None:
        self._open = True
        self._tod_s = tod_s
        self._mono_s = mono_s
        self._kinds = {}
        self._usable = True
        self._best = None

    def _repeats(self, mono_s: float, report: PositionReport, heard: PositionReport) -> bool:
        """Whether a sentence said twice is an echo, and not the next epoch in the same second.

        A receiver may say the same once for each satellite system (GPGGA, GAGGA), and two wires
        may be joined. A talker without fractions of a second moves on within one, and one that is
        stuck goes on for ever: neither is an echo.
        """
        return (
            report.tod_s is not None
            and mono_s - self._mono_s < _ECHO_S
            and report.lat_deg == heard.lat_deg
            and report.lon_deg == heard.lon_deg
            and report.usable is heard.usable
        )

    def _learn(self) -> None:
        if self._last_kind and self._last_kind == self._ended_with:
            self._closer = self._last_kind
        self._ended_with = self._last_kind

    def _take(self, report: PositionReport) -> None:
        self._kinds[report.kind] = report
        self._last_kind = report.kind
        if not report.usable:
            # One sentence that says "no fix" outweighs others that do not know yet.
            self._usable = False
            return
        if self._best is None or report.quantum_m < self._best.quantum_m:
            self._best = report
        if report.sog_mps is not None:
            self._sog_mps = report.sog_mps
            self._cog_deg = report.cog_deg
        self._take_quality(report)

    def _take_quality(self, report: PositionReport) -> None:
        if report.hdop is not None:
            self._hdop = report.hdop
        if report.satellites is not None:
            self._satellites = report.satellites

    def _close(self) -> Fix | NoFix:
        self._open = False
        best = self._best
        epoch: Fix | NoFix
        if best is None or not self._usable or self._dimension == _NO_FIX:
            epoch = NoFix(self._source, self._mono_s, self._tod_s)
        else:
            epoch = Fix(
                self._source,
                self._mono_s,
                self._tod_s,
                best.lat_deg,
                best.lon_deg,
                best.quantum_m,
                self._sog_mps,
                self._cog_deg,
                self._hdop,
                self._satellites,
            )
        self._sog_mps = self._cog_deg = self._hdop = None
        self._satellites = None
        # GSA may come once a minute: what it said of one epoch must not outlive it.
        self._dimension = _NOT_TOLD
        return epoch
