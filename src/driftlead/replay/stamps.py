"""Arrival times for a bare NMEA log, which has none: the sentences' own times stand in.

The first time in the log is second 0. A line without a time arrived with the one before it. A
step of more than some seconds is believed only of a sentence whose checksum is right, so that one
garbled digit cannot leap an hour.
"""

from typing import Final

from driftlead.nmea.checksum import checksum
from driftlead.nmea.fields import time_of_day
from driftlead.nmea.rejects import RejectedError

_DAY_S: Final = 86_400.0
_STEP_BACK_S: Final = 60.0
"""Two receivers in one log differ by a second or so; more than this backwards is a new log."""
_USUAL_S: Final = 10.0
TIMED: Final = frozenset({"RMC", "GGA", "GNS", "ZDA", "GLL"})
"""Sentences with a time; others need not be asked."""


class BareStamps:
    """Gives each line of a log its time."""

    def __init__(self) -> None:
        self.mono_s = 0.0
        self._text = ""
        self._tod_s: float | None = None

    def stamp(self, line: str) -> float:
        """Seconds since the first time in the log at which ``line`` may be taken to arrive."""
        if line.startswith("\\"):
            line = line[line.rfind("$") :]
        kind = line[3:6]
        if kind not in TIMED:
            return self.mono_s
        text = _field(line, 5) if kind == "GLL" else line[7 : line.find(",", 7)]
        if text != self._text:
            self._advance(line, text)
        return self.mono_s

    def _advance(self, line: str, text: str) -> None:
        tod_s = _seconds(text)
        if tod_s is None:
            return
        step_s = _DAY_S if self._tod_s is None else (tod_s - self._tod_s) % _DAY_S
        if step_s > _USUAL_S and not _sound(line):
            return
        self._text = text
        if self._tod_s is None:
            self._tod_s = tod_s
            return
        if step_s < 0.5 * _DAY_S:
            self.mono_s = round(self.mono_s + step_s, 6)
            self._tod_s = tod_s
        elif _DAY_S - step_s > _STEP_BACK_S:
            self.mono_s += 1.0
            self._tod_s = tod_s


def _field(line: str, index: int) -> str:
    fields = line.split("*", 1)[0].split(",")
    return fields[index] if len(fields) > index else ""


def _seconds(text: str) -> float | None:
    try:
        return time_of_day(text)
    except RejectedError:
        return None


def _sound(line: str) -> bool:
    body, star, digits = line.strip()[1:].partition("*")
    try:
        return star == "*" and int(digits, 16) == checksum(body)
    except ValueError:
        return False
