"""Running time for the track: the receiver's own seconds, kept from ever going backwards.

The receiver's seconds are exact where our own arrival times jitter, and they make a recording
played fast decide as it did at sea. A receiver that repeats or steps back is overruled by the
monotonic clock.
"""

from typing import Final

_DAY_S: Final = 86_400.0
_MAX_STEP_S: Final = 43_200.0
_STRAGGLE_S: Final = 60.0
"""A time no farther back than this is a straggler; farther back, the receiver set its clock."""


class TrackTime:
    """Turns epoch times into a running time in seconds."""

    def __init__(self) -> None:
        self._time_s = 0.0
        # The latest epoch that moved the time on, from which the next is counted. Repeats and
        # stragglers leave it alone: counted from one of them, a second would be counted twice.
        self._since_s = 0.0
        self._since_tod_s: float | None = None
        self._since_mono_s: float | None = None

    def at(self, mono_s: float, tod_s: float | None) -> float:
        """The running time of an epoch with this time of day that arrived at ``mono_s``."""
        if self._since_mono_s is None:
            self._since_mono_s = mono_s
            self._since_tod_s = tod_s
            return self._time_s
        step_s = mono_s - self._since_mono_s
        if tod_s is not None and self._since_tod_s is not None:
            told_s = (tod_s - self._since_tod_s) % _DAY_S
            if 0.0 < told_s < _MAX_STEP_S:
                step_s = told_s
            elif told_s == 0.0 or told_s >= _DAY_S - _STRAGGLE_S:
                self._time_s = max(self._time_s, self._since_s + step_s)
                return self._time_s
        self._time_s = self._since_s = max(self._time_s, self._since_s + step_s)
        self._since_mono_s = mono_s
        self._since_tod_s = tod_s
        return self._time_s
