"""The temperature of the processor.

A Raspberry Pi slows its cores down from 80 C, and everything from 85 C (Raspberry Pi documentation,
"Frequency management and thermal control"); at 75 C there is still time to do something. The zones
are those of the kernel's thermal sysfs interface, in thousandths of a degree.
"""

from pathlib import Path
from typing import Final

ZONES: Final = Path("/sys/class/thermal")
HOT_C: Final = 75.0
TOO_HOT_C: Final = 85.0
HYSTERESIS_C: Final = 5.0
"""How far below a limit it must have cooled before that is over."""
_POSSIBLE_C: Final = (-60.0, 200.0)


class HeatProbe:
    """Tells that the hottest zone is hot."""

    name = "cpu_hot"
    instance = ""

    def __init__(self, *, zones: Path = ZONES) -> None:
        self._zones = zones
        self._is_hot = self._is_too_hot = False

    def look(self) -> str | None:
        """Say so if it is, and how hot; a computer without a thermometer is never hot."""
        hottest_c = max(self._temperatures_c(), default=None)
        if hottest_c is None:
            self._is_hot = self._is_too_hot = False
            return None
        self._is_hot = _above(hottest_c, HOT_C, before=self._is_hot)
        self._is_too_hot = _above(hottest_c, TOO_HOT_C, before=self._is_too_hot)
        remedy = "Give it air, shade it, or take other work off it."
        if self._is_too_hot:
            return f"The processor is too hot, above {TOO_HOT_C:.0f} °C: it may fail. {remedy}"
        if self._is_hot:
            return f"The processor is hot, above {HOT_C:.0f} °C: it will soon slow down. {remedy}"
        return None

    def _temperatures_c(self) -> list[float]:
        found = []
        for path in self._zones.glob("thermal_zone*/temp"):
            try:
                degrees_c = int(path.read_text(encoding="ascii", errors="replace")) / 1000.0
            except (OSError, ValueError):
                continue  # a zone that is switched off cannot be read
            if _POSSIBLE_C[0] < degrees_c < _POSSIBLE_C[1]:
                found.append(degrees_c)
        return found


def _above(degrees_c: float, limit_c: float, *, before: bool) -> bool:
    return degrees_c >= (limit_c - HYSTERESIS_C if before else limit_c)
