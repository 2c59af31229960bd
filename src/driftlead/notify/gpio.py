"""An output pin that is on while an alert waits for an answer: a relay, a horn, a lamp."""

import asyncio
import contextlib
import enum
import importlib
from collections.abc import Iterator, Mapping
from types import ModuleType
from typing import Any, Self

from attrs import frozen

from driftlead.alerts.alert import Alert
from driftlead.errors import NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.notify.options import Seconds, structure_options


class ActiveLevel(enum.StrEnum):
    """The level of the pin that switches the thing on."""

    HIGH = "high"
    LOW = "low"


class PinPattern(enum.StrEnum):
    """What the pin does while it is on."""

    STEADY = "steady"
    PULSED = "pulsed"


@frozen(kw_only=True)
class GpioOptions:
    """The owner's options.

    ``pin`` is the number of the GPIO line (BCM, not the place on the header). ``pulse`` is both
    the on and the off time of the pulsed pattern.
    """

    pin: int
    active: ActiveLevel = ActiveLevel.HIGH
    pattern: PinPattern = PinPattern.STEADY
    pulse_s: Seconds = 0.5


class GpioNotifier:
    """Holds the pin on while any alert sent to it is active and unacknowledged."""

    def __init__(
        self,
        options: GpioOptions,
        context: NotifierContext,
        *,
        pin_factory: Any = None,
    ) -> None:
        self._options = options
        self._context = context
        self._waiting: set[tuple[str, str]] = set()
        self._pulsing: asyncio.Task[None] | None = None
        self._failed = False
        gpiozero = load_gpiozero()
        with self._pin_errors():
            self._device = gpiozero.DigitalOutputDevice(
                options.pin,
                active_high=options.active is ActiveLevel.HIGH,
                initial_value=False,
                pin_factory=pin_factory,
            )

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Self:
        """Build it and take the pin.

        Raises ConfigError for unusable options and NotifierError without gpiozero or the pin.
        """
        return cls(structure_options(GpioOptions, options, notifier=context.name), context)

    async def notify(self, alert: Alert) -> None:
        """Switch the pin as the alerts now demand. Raises NotifierError if the pin fails."""
        if alert.state.sounds and self._context.wants(alert):
            self._waiting.add(alert.key)
        else:
            self._waiting.discard(alert.key)
        if not self._waiting:
            await self._stop_pulsing()
        if self._options.pattern is PinPattern.PULSED and self._waiting:
            if self._pulsing is None:
                self._set(on=True)
                self._pulsing = asyncio.create_task(
                    self._pulse(), name=f"pulse {self._context.name}"
                )
        else:
            self._set(on=bool(self._waiting))

    async def check(self) -> str:
        """Read the pin back without switching it: nobody is woken by a check."""
        with self._pin_errors():
            state = "on" if self._device.value else "off"
        return f"GPIO{self._options.pin} is held as an output and reads {state}."

    async def close(self) -> None:
        """Switch the pin off and give it back."""
        self._waiting.clear()
        await self._stop_pulsing()
        with self._pin_errors():
            self._device.close()

    async def _pulse(self) -> None:
        on = True
        while True:
            await self._context.sleep(self._options.pulse_s)
            on = not on
            try:
                self._set(on=on)
            except NotifierError as error:
                self._failed = True
                self._context.report(str(error))
            else:
                if self._failed:
                    self._failed = False
                    self._context.report(None)

    async def _stop_pulsing(self) -> None:
        task, self._pulsing = self._pulsing, None
        if task is not None:
            task.cancel()
            await asyncio.wait({task})

    def _set(self, *, on: bool) -> None:
        with self._pin_errors():
            if on:
                self._device.on()
            else:
                self._device.off()

    @contextlib.contextmanager
    def _pin_errors(self) -> Iterator[None]:
        with pin_errors(f"Notifier {self._context.name!r}", self._options.pin):
            yield


@contextlib.contextmanager
def pin_errors(who: str, pin: int) -> Iterator[None]:
    """Turn what gpiozero and its pin libraries raise into NotifierError with a remedy."""
    try:
        yield
    except Exception as error:  # the pin libraries raise types of their own, and they vary
        raise NotifierError(
            f"{who} cannot use GPIO{pin}: {type(error).__name__}: {error}",
            remedy="Check the number of the pin and that nothing else uses it; on a Raspberry Pi "
            "install python3-lgpio and add the user to the group gpio.",
        ) from error


def load_gpiozero() -> ModuleType:
    """Import gpiozero when it is first needed. Raises NotifierError if it is not installed."""
    try:
        return importlib.import_module("gpiozero")
    except ModuleNotFoundError as error:
        raise NotifierError(
            "The pins need gpiozero, which is not installed.",
            remedy="Install it: pip install 'driftlead[gpio]'.",
        ) from error
