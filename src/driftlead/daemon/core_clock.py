"""The one clock behind everything the core hears."""

from collections.abc import Callable

from driftlead.recording.format import quantise_s


class CoreClock:
    """Monotonic seconds, to the microsecond that a recording keeps, never going backwards."""

    def __init__(self, monotonic: Callable[[], float]) -> None:
        self._monotonic = monotonic
        self._last_s = quantise_s(monotonic())

    def __call__(self) -> float:
        """Give the time now."""
        self._last_s = max(self._last_s, quantise_s(self._monotonic()))
        return self._last_s
