"""When each line of a log was sent, in seconds from its first line."""

from typing import Final

from driftlead.nmea.decode import Decoder
from driftlead.nmea.observations import PositionReport, TimeReport
from driftlead.recording.format import RecordedInput, is_recording, parse_recorded

_DAY_S: Final = 86400.0
_STRAGGLE_S: Final = 10.0
"""Sentences of one receiver may tell times a few seconds apart; farther back is a new clock."""
_LONGEST_GAP_S: Final = 3600.0
"""A longer step forward is a receiver that set its clock, not an hour without a sentence."""


class SentenceTimeline:
    """Bare NMEA: time passes as RMC, GGA, GLL, GNS and ZDA tell it, whatever their date."""

    def __init__(self) -> None:
        self.elapsed_s: float = 0.0
        self._decoder = Decoder(require_checksum=False)
        self._latest_s: float | None = None

    def take(self, line: str) -> str:
        """Move ``elapsed_s`` on to the time in the line, if it tells one; the line to play."""
        report = self._decoder.decode(line)
        if isinstance(report, PositionReport | TimeReport) and report.tod_s is not None:
            self._move_to(report.tod_s)
        return line

    def _move_to(self, tod_s: float) -> None:
        if self._latest_s is None:
            self._latest_s = tod_s
            return
        # The nearest such time of day: over midnight too.
        step_s = (tod_s - self._latest_s + _DAY_S / 2) % _DAY_S - _DAY_S / 2
        if 0 < step_s <= _LONGEST_GAP_S:
            self.elapsed_s += step_s
        elif -_STRAGGLE_S <= step_s <= 0:
            return
        self._latest_s = tod_s


class RecordedTimeline:
    """A recording: each line has its time. Plays the lines of ``only``, or of every source."""

    def __init__(self, *, only: str | None) -> None:
        self.elapsed_s: float = 0.0
        self._only = only
        self._latest_s: float | None = None

    def take(self, line: str) -> str | None:
        """Move ``elapsed_s`` on to the time of the line; the text to play, or None.

        Raises RecordingError for a line that is damaged.
        """
        recorded = parse_recorded(line)
        if isinstance(recorded, RecordedInput):
            if recorded.kind == "part":
                # The machine may have been started anew since, and its clock with it.
                self._latest_s = None
            return None
        if recorded is None or self._only not in (None, recorded.source):
            return None
        if self._latest_s is not None:
            self.elapsed_s += max(0.0, recorded.mono_s - self._latest_s)
        self._latest_s = recorded.mono_s
        return recorded.text


Timeline = SentenceTimeline | RecordedTimeline


def timeline_for(first_line: str, *, only: str | None) -> Timeline:
    """Choose by the first line of the log; ``only`` is of use to a recording alone."""
    return RecordedTimeline(only=only) if is_recording(first_line) else SentenceTimeline()
