"""What the owner may say about a pin."""

import enum
from collections.abc import Iterator

from attrs import fields, frozen

from driftlead.notify.options import Seconds

LAST_PIN = 27
"""The lines of the 40-pin header are GPIO0 to GPIO27 (BCM numbers)."""


class ActiveLevel(enum.StrEnum):
    """The level of the pin that switches the thing on."""

    HIGH = "high"
    LOW = "low"


class PinPattern(enum.StrEnum):
    """What the pin does while an alert sounds."""

    STEADY = "steady"
    PULSED = "pulsed"


class Shows(enum.StrEnum):
    """What is on the pin."""

    ALERTS = "alerts"
    """A horn, a relay: on while an alert waits for an answer."""
    LAMP = "lamp"
    """A lamp: tells in flashes how urgent and whether answered."""
    ALL_WELL = "all_well"
    """A small light: on while the watch is kept and no alarm or warning is up."""
    FEED = "feed"
    """A dead man's handle: changes its level every second, as long as the watch is kept."""


@frozen(kw_only=True)
class GpioOptions:
    """The owner's options.

    ``pin`` is the number of the GPIO line (BCM, not the place on the header). ``active`` is the
    level that energises what is there. ``pattern`` and ``pulse``, both the on and the off time,
    are for ``shows = "alerts"``. So is ``fails_loud``: the relay is held energised while all is
    quiet, and wired so that the horn sounds when it drops: when an alert sounds, when the watch is
    no longer kept, and when the computer is dead.
    """

    pin: int
    shows: Shows = Shows.ALERTS
    active: ActiveLevel = ActiveLevel.HIGH
    pattern: PinPattern = PinPattern.STEADY
    pulse_s: Seconds = 0.5
    fails_loud: bool = False

    def problems(self) -> Iterator[str]:
        """Say what cannot be or contradicts itself."""
        if not 0 <= self.pin <= LAST_PIN:
            yield (
                f"option 'pin': GPIO{self.pin} is not on the header: give the BCM number, 0 to"
                f" {LAST_PIN}, not the place."
            )
        if self.shows is Shows.ALERTS:
            return
        defaults = {field.name: field.default for field in fields(GpioOptions)}
        for name in ("pattern", "pulse_s", "fails_loud"):
            if getattr(self, name) != defaults[name]:
                key = name.removesuffix("_s")
                yield f'option {key!r} does nothing where shows = "{self.shows.value}".'
