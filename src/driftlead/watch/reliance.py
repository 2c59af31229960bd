"""Says so when a head or a wind that the detector went by is no longer heard."""

from typing import Final

from driftlead.alerts.alert import Priority
from driftlead.alerts.condition import Condition

RELIED_S: Final = 300.0
"""Heard for so long, it counts as part of the watch."""
GONE_S: Final = 60.0

_TEXTS: Final = {
    "heading_lost": "No head is heard any more; a drag is now noticed some metres later.",
    "wind_lost": "No wind is heard any more; in light airs she is judged less surely.",
}


class Reliance:
    """One instrument: relied on once heard for a while, missed once silent for a while."""

    def __init__(self, name: str) -> None:
        """``name`` is the alert's: ``heading_lost`` or ``wind_lost``."""
        self.name = name
        self._heard_since_s: float | None = None
        self._silent_since_s: float | None = None
        self._relied = False
        self._missed = False

    def take(self, time_s: float, *, heard: bool) -> list[Condition]:
        """Take one step of the track's time; gives the condition if it begins or ends."""
        if heard:
            self._silent_since_s = None
            if self._heard_since_s is None:
                self._heard_since_s = time_s
            if time_s - self._heard_since_s >= RELIED_S:
                self._relied = True
            return self.end()
        self._heard_since_s = None
        if not self._relied or self._missed:
            return []
        if self._silent_since_s is None:
            self._silent_since_s = time_s
        if time_s - self._silent_since_s < GONE_S:
            return []
        self._missed = True
        return [
            Condition(
                name=self.name,
                priority=Priority.CAUTION,
                reason="instrument_silent",
                text=_TEXTS[self.name],
            )
        ]

    def end(self) -> list[Condition]:
        """It is heard again, or the watch has ended: nothing is missed any more."""
        if not self._missed:
            return []
        self._missed = False
        return [Condition(name=self.name, priority=None)]

    def resume(self) -> None:
        """Stand where a restart found the alert up."""
        self._relied = self._missed = True
