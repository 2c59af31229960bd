"""A recorded log played as if it were a receiver, to rehearse with."""

import asyncio
from collections.abc import Iterator
from contextlib import closing
from typing import Final

from driftlead.errors import RecordingError, SourceError
from driftlead.nmea.framing import LineFramer
from driftlead.sources.base import Clock, Emit, OnHealth, Sleep
from driftlead.sources.log_bytes import log_chunks
from driftlead.sources.log_timeline import Timeline, timeline_for
from driftlead.sources.outlet import Outlet
from driftlead.sources.settings import LogSettings

_LONGEST_RECORDED_BYTES: Final = 4096
"""A recorded line may be three times as long as the line it records, where all is escaped."""


class LogSource:
    """Plays one file of bare NMEA or one recording, plain or gzipped, and returns at its end."""

    def __init__(
        self, settings: LogSettings, *, emit: Emit, clock: Clock, on_health: OnHealth, sleep: Sleep
    ) -> None:
        self.name = settings.name
        self._path = settings.path
        self._pace = settings.pace
        self._only = settings.recorded_source
        self._clock = clock
        self._sleep = sleep
        self._outlet = Outlet(settings.name, emit=emit, clock=clock, on_health=on_health)
        self._timeline: Timeline | None = None
        self._began_s: float | None = None

    async def run(self) -> None:
        """Play the file. SourceError if it cannot be read on, after what was read before."""
        framer = LineFramer(_LONGEST_RECORDED_BYTES)
        with closing(log_chunks(self._path)) as chunks:
            while chunk := self._next(chunks):
                self._outlet.opened(f"Playing {self._path} {self._how_fast()}.")
                for line in framer.feed(chunk):
                    await self._play(line)
                # At pace 0 nothing else here waits: let the other tasks run.
                await asyncio.sleep(0)
        for line in framer.flush():
            await self._play(line)
        if self._began_s is None:
            raise self._told(
                SourceError(
                    f"{self._path} holds no line to play.",
                    remedy="Check path, and recorded_source if it is set.",
                )
            )
        self._outlet.closed(f"{self._path} was played to its end.")

    async def _play(self, line: str) -> None:
        if self._timeline is None:
            self._timeline = timeline_for(line, only=self._only)
        text = self._take(self._timeline, line)
        if text is None:
            return
        now_s = self._clock()
        if self._began_s is None:
            self._began_s = now_s
        if self._pace > 0:
            # From the beginning and not from line to line, so that delays do not add up.
            wait_s = self._began_s + self._timeline.elapsed_s / self._pace - now_s
            if wait_s > 0:
                await self._sleep(wait_s)
        self._outlet.lines([text])

    def _take(self, timeline: Timeline, line: str) -> str | None:
        try:
            return timeline.take(line)
        except RecordingError as error:
            failed = SourceError(f"{self._path}: {error.message}", remedy=error.remedy)
            raise self._told(failed) from error

    def _next(self, chunks: Iterator[bytes]) -> bytes:
        try:
            return next(chunks, b"")
        except SourceError as failed:
            self._told(failed)
            raise

    def _told(self, failed: SourceError) -> SourceError:
        self._outlet.closed(str(failed))
        return failed

    def _how_fast(self) -> str:
        if self._pace == 0:
            return "as fast as possible"
        return "as it was recorded" if self._pace == 1 else f"at {self._pace:g} times its pace"
