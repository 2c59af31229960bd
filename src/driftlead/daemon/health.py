"""The health of the computer the watch runs on: what is wrong with it becomes an alert."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable
from typing import Final, Protocol

from driftlead.core.inputs import Fault

_LOGGER = logging.getLogger(__name__)
LOOK_EVERY_S: Final = 30.0


class Probe(Protocol):
    """Looks at one thing."""

    @property
    def name(self) -> str:
        """The alert it is when something is wrong."""

    @property
    def instance(self) -> str:
        """Which one, where there are several; else empty."""

    def look(self) -> str | None:
        """Say what is wrong, with what to do about it; None: nothing. May wait for the disk."""


class Health:
    """Looks again and again, each probe on its own, so that a disk that hangs hides nothing else.

    ``on_fault`` hears of every look in the event loop; telling the same again is no news to it.
    """

    def __init__(
        self,
        probes: Iterable[Probe],
        *,
        on_fault: Callable[[Fault], None],
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        look_every_s: float = LOOK_EVERY_S,
    ) -> None:
        self._probes = tuple(probes)
        self._on_fault = on_fault
        self._sleep = sleep
        self._look_every_s = look_every_s

    async def run(self) -> None:
        """Look until cancelled."""
        await asyncio.gather(*(self._keep_looking(probe) for probe in self._probes))

    async def _keep_looking(self, probe: Probe) -> None:
        is_broken = False
        while True:
            try:
                text = await asyncio.to_thread(probe.look)
            except Exception:  # a probe that breaks must not end the daemon, nor fill the log
                if not is_broken:
                    _LOGGER.exception("Looking at %s failed", probe.name)
                is_broken = True
            else:
                self._on_fault(Fault(name=probe.name, instance=probe.instance, text=text))
            await self._sleep(self._look_every_s)
