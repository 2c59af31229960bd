"""Listening to the sources for a while, without a watch."""

import asyncio
from collections.abc import Awaitable, Callable

from driftlead.check.hearing import Hearing
from driftlead.config.model import Config
from driftlead.errors import SourceError
from driftlead.lines import StampedLine
from driftlead.sources.base import Clock, Source, SourceHealth
from driftlead.sources.build import build_source
from driftlead.sources.settings import SourceSettings


async def listen(
    config: Config,
    *,
    for_s: float,
    clock: Clock,
    sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    build: Callable[..., Source] = build_source,
) -> list[Hearing]:
    """Open every source for ``for_s`` seconds; what was heard of each, in the order of trust."""
    hearings = {
        settings.name: Hearing(
            SourceHealth(settings.name, False, "It was not opened."),
            require_checksum=config.require_checksum,
        )
        for settings in config.sources
    }

    def hear(health: SourceHealth) -> None:
        hearings[health.source].health = health

    def take(line: StampedLine) -> None:
        hearings[line.source].take(line.text)

    async def run(settings: SourceSettings) -> None:
        source = build(settings, emit=take, clock=clock, on_health=hear, sleep=sleep)
        try:
            await source.run()
        except SourceError as error:
            hear(SourceHealth(settings.name, False, str(error)))

    tasks = [asyncio.create_task(run(settings)) for settings in config.sources]
    await sleep(for_s)
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return list(hearings.values())
