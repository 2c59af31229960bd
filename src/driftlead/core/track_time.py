"""Running time for the track: the receiver's own seconds, kept from ever going backwards.

The receiver's seconds are exact where our own arrival times jitter, and they make a recording
played fast decide as it did at sea. A receiver that repeats or steps back is overruled by the
monotonic clock.
"""

from typing import Final

_DAY_S: Final = 86_400.0
_MAX_STEP_S: Final = 43_200.0


class TrackTime:
    """Turns epoch times into a running time in seconds."""

    def __init__(self) -> None:
        self._time_s = 0.0
        self._tod_s: float | None = None
        self._mono_s: float | None = None

    def at(self, mono_s: float, tod_s: float | None) -> float:
        """The running time of an epoch with this time of day that arrived at ``mono_s``."""
        if self._mono_s is None:
            step_s = 0.0
        else:
            step_s = mono_s - self._mono_s
            if tod_s is not None and self._tod_s is not None:
                told_s = (tod_s - self._tod_s) % _DAY_S
                if 0.0 < told_s < _MAX_STEP_S:
                    step_s = told_s
        if step_s > 0.0:
            self._time_s += step_s
        self._mono_s = mono_s
        self._tod_s = tod_s
        return self._time_s
