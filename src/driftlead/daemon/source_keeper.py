"""Running the sources, each on its own, and knowing how they are."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable
from typing import Final

from driftlead.core.inputs import Fault
from driftlead.errors import SourceError
from driftlead.sources.base import Clock, Emit, Source, SourceHealth
from driftlead.sources.build import build_source
from driftlead.sources.settings import SourceSettings

_LOGGER = logging.getLogger(__name__)
AGAIN_S: Final = 5.0
"""How long a source that broke is left alone before it is started again."""

BuildSource = Callable[..., Source]


class SourceKeeper:
    """Starts every source and tells the core which of them are closed."""

    def __init__(
        self,
        settings: Iterable[SourceSettings],
        *,
        emit: Emit,
        clock: Clock,
        on_fault: Callable[[Fault], None],
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        build: BuildSource = build_source,
    ) -> None:
        self._settings = tuple(settings)
        self._emit = emit
        self._clock = clock
        self._on_fault = on_fault
        self._sleep = sleep
        self._build = build
        self._tasks: list[asyncio.Task[None]] = []
        self.health = {
            each.name: SourceHealth(each.name, False, "Not opened yet.") for each in self._settings
        }

    def start(self) -> None:
        """Start them all."""
        for settings in self._settings:
            task = asyncio.create_task(self._keep(settings), name=f"source {settings.name}")
            self._tasks.append(task)

    async def wait(self) -> None:
        """Wait until all have ended, which only logs do by themselves."""
        await asyncio.gather(*self._tasks)

    async def stop(self) -> None:
        """Stop them all."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    async def _keep(self, settings: SourceSettings) -> None:
        while True:
            source = self._build(
                settings,
                emit=self._emit,
                clock=self._clock,
                on_health=self._hear,
                sleep=self._sleep,
            )
            try:
                await source.run()
            except SourceError as error:
                self._hear(SourceHealth(settings.name, False, str(error)))
                return
            except Exception as error:  # one source that breaks must not take the others along
                _LOGGER.exception("Source %s broke", settings.name)
                text = f"It broke: {type(error).__name__}: {error}. It is started again."
                self._hear(SourceHealth(settings.name, False, text))
                await self._sleep(AGAIN_S)
            else:
                return

    def _hear(self, health: SourceHealth) -> None:
        self.health[health.source] = health
        _LOGGER.log(
            logging.INFO if health.open else logging.WARNING,
            "Source %s: %s",
            health.source,
            health.detail,
        )
        self._on_fault(
            Fault(
                name="source_silent",
                instance=health.source,
                text=None if health.open else health.detail,
            )
        )
