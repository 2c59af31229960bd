"""The way out of every source: stamped lines, and health when it changes."""

from collections.abc import Iterable

from driftlead.lines import StampedLine
from driftlead.recording.format import quantise_s
from driftlead.sources.base import Clock, Emit, OnHealth, SourceHealth


class Outlet:
    """Hands on the lines and the health of the source ``name``."""

    def __init__(self, name: str, *, emit: Emit, clock: Clock, on_health: OnHealth) -> None:
        self.name = name
        self._emit = emit
        self._clock = clock
        self._on_health = on_health
        self._last: SourceHealth | None = None

    def lines(self, texts: Iterable[str]) -> None:
        """Emit lines that arrived together, and now."""
        mono_s = quantise_s(self._clock())
        for text in texts:
            self._emit(StampedLine(mono_s, self.name, text))

    def opened(self, detail: str) -> None:
        """Tell that lines can come in."""
        self._health(SourceHealth(self.name, True, detail))

    def closed(self, detail: str) -> None:
        """Tell that no lines can come in, and why; the same again is not told twice."""
        self._health(SourceHealth(self.name, False, detail))

    def _health(self, health: SourceHealth) -> None:
        if health != self._last:
            self._last = health
            self._on_health(health)
