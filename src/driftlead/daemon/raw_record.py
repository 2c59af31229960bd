"""Recording what the sources say into one file, without a watch."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import BinaryIO, Final

from attrs import frozen

from driftlead.config.load import core_settings
from driftlead.config.model import Config
from driftlead.core.settings_json import settings_to_json
from driftlead.daemon.core_clock import CoreClock
from driftlead.daemon.source_keeper import BuildSource, SourceKeeper
from driftlead.lines import StampedLine
from driftlead.nmea.decode import Decoder
from driftlead.recording.format import HEADER, format_input, format_line
from driftlead.sources.build import build_source

_FLUSH_EVERY_S: Final = 1.0


@frozen
class RawSummary:
    """How long the recording is, and for each source its lines by fate."""

    seconds: float
    sources: dict[str, Decoder]


async def record_raw(
    config: Config,
    out: BinaryIO,
    *,
    stop: asyncio.Event,
    monotonic: Callable[[], float],
    sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    build: BuildSource = build_source,
) -> RawSummary:
    """Record until ``stop`` is set or every source has ended. Raises OSError if ``out`` fails."""
    clock = CoreClock(monotonic)
    began_s = clock()
    decoders = {
        source.name: Decoder(require_checksum=config.require_checksum) for source in config.sources
    }

    def write(text: str) -> None:
        out.write(f"{text}\n".encode("ascii"))

    def take(line: StampedLine) -> None:
        write(format_line(line))
        decoders[line.source].decode(line.text)

    async def flush() -> None:
        while True:
            await sleep(_FLUSH_EVERY_S)
            out.flush()

    write(HEADER)
    settings = settings_to_json(core_settings(config))
    write(
        format_input(began_s, "part", {"run": 1, "part": 1, "settings": settings, "snapshot": None})
    )
    keeper = SourceKeeper(
        config.sources,
        emit=take,
        clock=clock,
        on_fault=lambda _: None,
        sleep=sleep,
        build=build,
    )
    keeper.start()
    waiting = {
        asyncio.create_task(stop.wait()),
        asyncio.create_task(keeper.wait()),
        asyncio.create_task(flush()),
    }
    try:
        done, _ = await asyncio.wait(waiting, return_when=asyncio.FIRST_COMPLETED)
        for task in done:
            task.result()
    finally:
        for task in waiting:
            task.cancel()
        await keeper.stop()
    ended_s = clock()
    write(format_input(ended_s, "end", {}))
    out.flush()
    return RawSummary(ended_s - began_s, decoders)
