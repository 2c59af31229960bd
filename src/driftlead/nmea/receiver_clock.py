"""UTC as the receiver tells it. The computer's own clock is never asked.

A Raspberry Pi has no battery clock: at boot its time is wrong until something corrects it, and
then it jumps. The receiver knows better, and between its sentences the monotonic clock carries on.
"""

import datetime as dt
from typing import Final

_DAY_S: Final = 86_400.0
_HALF_DAY_S: Final = 43_200.0
_OLD_DATE_S: Final = 60.0
"""How long after midnight a receiver may go on sending yesterday's date."""
_WEEKS_A_CYCLE: Final = 1024
"""GPS counts weeks modulo 1024 (IS-GPS-200); an old receiver is off by whole cycles."""


class ReceiverClock:
    """Keeps UTC from times of day, dates when they come, and the monotonic clock between."""

    def __init__(self, earliest_date: dt.date | None = None) -> None:
        self._earliest = earliest_date
        self._day: int | None = None
        self._tod_s: float | None = None
        self._utc_s: float | None = None
        self._mono_s = 0.0
        self._date: dt.date | None = None
        self._dated_day = 0
        self.weeks_corrected = 0
        """By how many weeks the receiver's date was moved on (GPS week rollover)."""

    def assume_date(self, date: dt.date) -> None:
        """Take this date for a log that never says one."""
        if self._day is None:
            self._day = _unix_day(date)

    def hear(self, mono_s: float, tod_s: float, date: dt.date | None) -> None:
        """Take a time of day, with a date if the sentence had one."""
        self._count_day(mono_s, tod_s)
        if date is not None:
            if date != self._date:
                self._date = date
                self._dated_day = _unix_day(self._corrected(date))
            # Around midnight some receivers send the new time with the old date.
            late = self._dated_day + 1 == self._day and tod_s < _OLD_DATE_S
            if not late:
                self._day = self._dated_day
        self._tod_s = tod_s
        self._mono_s = mono_s
        self._utc_s = None if self._day is None else self._day * _DAY_S + tod_s

    def utc_s(self, mono_s: float) -> float | None:
        """Unix seconds at ``mono_s``, None before the receiver has told date and time."""
        if self._utc_s is None:
            return None
        return self._utc_s + (mono_s - self._mono_s)

    def _count_day(self, mono_s: float, tod_s: float) -> None:
        """Carry the day over midnight by the time alone."""
        if self._day is None or self._tod_s is None:
            return
        step_s = tod_s - self._tod_s
        if step_s < -_HALF_DAY_S:
            self._day += 1
        elif step_s > _DAY_S - _OLD_DATE_S and mono_s - self._mono_s < _OLD_DATE_S:
            # A straggler from before midnight, after the first sentence from after it.
            self._day -= 1

    def _corrected(self, date: dt.date) -> dt.date:
        weeks = 0
        if self._earliest is not None:
            while date < self._earliest:
                date += dt.timedelta(weeks=_WEEKS_A_CYCLE)
                weeks += _WEEKS_A_CYCLE
        self.weeks_corrected = weeks
        return date


_UNIX_EPOCH_ORDINAL: Final = dt.date(1970, 1, 1).toordinal()


def _unix_day(date: dt.date) -> int:
    return date.toordinal() - _UNIX_EPOCH_ORDINAL
