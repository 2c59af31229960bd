"""The supply voltage of a Raspberry Pi: too low, it corrupts the card and drops USB devices.

Two tellers, for kernels have one, the other or both. ``get_throttled`` of the firmware: bit 0 is
"under-voltage now", bit 16 "under-voltage has occurred" (Raspberry Pi documentation, vcgencmd
get_throttled). And ``in0_lcrit_alarm`` of the kernel's driver raspberrypi-hwmon, which calls its
chip ``rpi_volt``: 1 if it has been too low since the driver last asked, two seconds before at most.
Alarms of other chips are passed over: on many boards they watch inputs that are not connected.
"""

import logging
from collections.abc import Callable
from pathlib import Path
from typing import Final

_LOGGER = logging.getLogger(__name__)
THROTTLED: Final = Path("/sys/devices/platform/soc/soc:firmware/get_throttled")
HWMON: Final = Path("/sys/class/hwmon")
HOLD_S: Final = 300.0
"""How long it must have been good again; dips come in swarms."""
_LOW_NOW: Final = 1 << 0
_LOW_BEFORE: Final = 1 << 16
_CHIP: Final = "rpi_volt"


class SupplyProbe:
    """Tells that the supply is low, or was for a moment since it looked the last time."""

    name = "supply_low"
    instance = ""

    def __init__(
        self,
        *,
        clock: Callable[[], float],
        throttled: Path = THROTTLED,
        hwmon: Path = HWMON,
    ) -> None:
        self._clock = clock
        self._throttled = throttled
        self._hwmon = hwmon
        self._had_been_low: bool | None = None
        self._low_until_s: float | None = None

    def look(self) -> str | None:
        """Say so if it is; on a computer that cannot tell, nothing is ever said."""
        now_s = self._clock()
        # Both are asked each time: the firmware's memory of a dip must not grow stale.
        firmware, driver = self._firmware_says(), self._driver_says()
        if firmware or driver:
            self._low_until_s = now_s + HOLD_S
        if self._low_until_s is None or now_s >= self._low_until_s:
            self._low_until_s = None
            return None
        return (
            "The computer's supply voltage is too low, or was within the last"
            f" {HOLD_S / 60:.0f} minutes. It may stop, and its card may be damaged. Check the"
            " battery, the 5 V converter, and that its cable is short and thick."
        )

    def _firmware_says(self) -> bool:
        text = _read(self._throttled)
        try:
            bits = int(text, 16)
        except ValueError:
            return False
        had_been_low = bool(bits & _LOW_BEFORE)
        # One before we first looked (switching on often brings one) is history.
        is_news = had_been_low and self._had_been_low is False
        if had_been_low and self._had_been_low is None:
            _LOGGER.info("The supply voltage was too low for a moment before the start.")
        self._had_been_low = had_been_low
        return is_news or bool(bits & _LOW_NOW)

    def _driver_says(self) -> bool:
        return any(
            _read(path) == "1" and _read(path.with_name("name")) == _CHIP
            for path in self._hwmon.glob("hwmon*/in*_lcrit_alarm")
        )


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return ""
