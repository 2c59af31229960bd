"""An output pin: a horn or relay, a lamp, a light that all is well, a dead man's handle."""

import asyncio
import contextlib
import importlib
import logging
import shlex
import sys
from collections.abc import Iterator, Mapping
from types import ModuleType
from typing import Any, Self

from driftlead.alerts.alert import Alert
from driftlead.errors import NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.notify.blinker import Blinker
from driftlead.notify.gpio_options import ActiveLevel, GpioOptions, PinPattern, Shows
from driftlead.notify.lamp import DARK, STEADY, Code, Lamp
from driftlead.notify.options import structure_options

_LOGGER = logging.getLogger(__name__)
FEED_LIMIT_S = 10.0
"""How long after the last heartbeat the watch counts as no longer kept."""
_LOOK_EVERY_S = 1.0


class GpioNotifier:
    """Shows on the pin what the options say, from the first moment to ``close``.

    What it can show depends on the alerts sent to it, and on the heartbeat of the watch: without
    one for ``FEED_LIMIT_S`` the watch is not kept any more, and a pin that ``fails_loud`` sounds.
    Before the first beat it is silent.
    """

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
        self._lamp = Lamp()
        self._on_watch = False
        self._beat_s = context.clock()
        self._is_fed = True
        self._is_on = False
        self._reported: str | None = None
        self._feeding: asyncio.Task[None] | None = None
        self._lock = asyncio.Lock()
        self._blinker = Blinker(
            self._switch, sleep=context.sleep, report=self._report, name=context.name
        )
        gpiozero = load_gpiozero()
        with self._pin_errors():
            self._device = gpiozero.DigitalOutputDevice(
                options.pin,
                active_high=options.active is ActiveLevel.HIGH,
                initial_value=options.fails_loud,
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
        wanted = self._context.wants(alert)
        self._lamp.update(alert, wanted=wanted)
        if alert.state.sounds and wanted:
            self._waiting.add(alert.key)
        else:
            self._waiting.discard(alert.key)
        await self._show()

    def beat(self, *, on_watch: bool) -> None:
        """Hear that the watch is kept."""
        self._beat_s = self._context.clock()
        self._on_watch = on_watch
        if self._options.shows is Shows.FEED:
            self._feed(on=not self._is_on)
        if self._feeding is None and self._depends_on_the_beat:
            self._feeding = asyncio.get_running_loop().create_task(
                self._watch_the_beat(), name=f"beat {self._context.name}"
            )

    async def check(self) -> str:
        """Read the pin back without switching it: nobody is woken by a check."""
        with self._pin_errors():
            state = "on" if self._device.value else "off"
        silent = ", which keeps the horn silent" if self._options.fails_loud else ""
        return f"GPIO{self._options.pin} is held as an output and reads {state}{silent}."

    async def close(self) -> None:
        """Switch the pin off and give it back; one that ``fails_loud`` sounds then."""
        self._waiting.clear()
        if self._feeding is not None:
            self._feeding.cancel()
            await asyncio.wait({self._feeding})
        async with self._lock:
            await self._blinker.close()
        if not self._device.closed:
            # The level first: a pin that is given back may keep it.
            with contextlib.suppress(Exception), self._pin_errors():
                self._device.off()
        with self._pin_errors():
            self._device.close()

    @property
    def _depends_on_the_beat(self) -> bool:
        return self._options.fails_loud or self._options.shows in (Shows.ALL_WELL, Shows.FEED)

    async def _watch_the_beat(self) -> None:
        while True:
            await self._context.sleep(_LOOK_EVERY_S)
            was_fed = self._is_fed
            self._is_fed = self._context.clock() - self._beat_s <= FEED_LIMIT_S
            if was_fed and not self._is_fed:
                _LOGGER.critical("The watch is not kept any more: no heartbeat comes.")
            if self._is_fed and self._options.shows is Shows.FEED:
                continue  # each beat switches it
            try:
                await self._show()
            except NotifierError as error:
                self._report(str(error))
            else:
                self._report(None)

    async def _show(self) -> None:
        async with self._lock:
            if self._options.shows is not Shows.FEED:
                await self._blinker.show(self._code())
            elif not self._is_fed:
                self._switch(False)

    def _code(self) -> Code:
        match self._options.shows:
            case Shows.LAMP:
                return self._lamp.code
            case Shows.ALL_WELL:
                well = self._on_watch and self._is_fed and self._lamp.all_is_well
                return STEADY if well and self._feeding is not None else DARK
            case _:
                starved = self._options.fails_loud and not self._is_fed
                if not self._waiting and not starved:
                    return DARK
                pulse_s = self._options.pulse_s
                pulsed = self._options.pattern is PinPattern.PULSED
                return ((pulse_s, pulse_s),) if pulsed else STEADY

    def _feed(self, *, on: bool) -> None:
        try:
            self._switch(on)
        except NotifierError as error:
            self._report(str(error))
        else:
            self._report(None)

    def _report(self, text: str | None) -> None:
        if text != self._reported:
            self._reported = text
            self._context.report(text)

    def _switch(self, on: bool) -> None:
        with self._pin_errors():
            # A relay that fails loud is energised for silence.
            if on != self._options.fails_loud:
                self._device.on()
            else:
                self._device.off()
        self._is_on = on

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
            remedy=f"Install it: {shlex.quote(sys.executable)} -m pip install 'driftlead[gpio]'.",
        ) from error
