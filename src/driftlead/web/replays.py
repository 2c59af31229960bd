"""Replays for the page: each in a process of its own, told at the pace that is asked for."""

import asyncio
import contextlib
import json
import logging
import math
import sys
from asyncio.subprocess import DEVNULL, PIPE, Process
from collections.abc import Awaitable, Callable
from typing import Final

from attrs import define, field, frozen

from driftlead.errors import DaemonError
from driftlead.web.event_stream import EventStream, event_frame
from driftlead.web.night_folder import Night
from driftlead.web.replay_worker import RUN_ID

_LOGGER = logging.getLogger(__name__)
MOST: Final = 2
NOWS_A_SECOND: Final = 10.0
"""Of ours; at a higher speed the glances are farther apart."""
BEAT_S: Final = 2.0
MOST_MISSED: Final = 8
"""Beats; one who has missed so many takes nothing any more."""
_LINE_BYTES: Final = 1024 * 1024


@define(eq=False)
class Replay:
    """One that is going on."""

    process: Process
    device_id: str | None
    ended: asyncio.Event = field(factory=asyncio.Event)


@frozen
class _Told:
    """One line of the worker."""

    run_s: float
    kind: str
    frame: bytes


@define
class _Pace:
    """How far it is told."""

    told_s: float


class Replays:
    """At most ``MOST`` at once and one for each client: another one ends it.

    ``clock`` gives monotonic seconds and ``sleep`` waits for some.
    """

    def __init__(
        self, *, clock: Callable[[], float], sleep: Callable[[float], Awaitable[None]]
    ) -> None:
        self._clock = clock
        self._sleep = sleep
        self._going: dict[str, Replay] = {}
        self._beginning = asyncio.Lock()

    def end(self, device_id: str | None = None) -> None:
        """End what this device is told; None: all."""
        for replay in self._going.values():
            if device_id is None or replay.device_id == device_id:
                replay.ended.set()

    async def begin(
        self, night: Night, *, client: str, device_id: str | None, from_s: float, speed: float
    ) -> Replay | None:
        """Start the worker; None if there is no room for another. Raises DaemonError."""
        async with self._beginning:
            before = self._going.get(client)
            if before is None and len(self._going) >= MOST:
                return None
            replay = Replay(await _start(night, from_s, speed), device_id)
            if before is not None:
                before.ended.set()
            self._going[client] = replay
        return replay

    async def tell(
        self, replay: Replay, stream: EventStream, *, from_s: float, speed: float
    ) -> None:
        """Tell of it until it is over or ended. Raises ConnectionError when the client is gone."""
        told = _Pace(from_s)
        tasks = (
            asyncio.create_task(replay.ended.wait()),
            asyncio.create_task(self._tell(replay.process, stream, told, speed)),
            asyncio.create_task(self._beat(stream, told)),
        )
        try:
            done, _ = await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
            for task in done:
                task.result()
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    async def finish(self, replay: Replay, client: str) -> None:
        """Leave nothing of it behind."""
        if self._going.get(client) is replay:
            del self._going[client]
        with contextlib.suppress(ProcessLookupError):
            replay.process.kill()
        await replay.process.wait()

    async def _tell(self, process: Process, stream: EventStream, pace: _Pace, speed: float) -> None:
        assert process.stdout is not None  # noqa: S101  # it was made with a pipe
        from_s, began_s = pace.told_s, math.nan
        while line := await process.stdout.readline():
            told = _told(line)
            if math.isnan(began_s):
                began_s = self._clock()
            ahead_s = (told.run_s - from_s) / speed - (self._clock() - began_s)
            if ahead_s > 0.0 and told.kind != "end":
                await self._sleep(ahead_s)
            pace.told_s = max(pace.told_s, told.run_s)
            if told.kind != "now" or stream.has_room:
                await stream.send(told.frame)
            if told.kind == "end":
                return
        _LOGGER.warning("A replay broke off.")
        text = json.dumps({"text": "The replay broke off.", "run_s": pace.told_s})
        await stream.send(event_frame("end", text))

    async def _beat(self, stream: EventStream, pace: _Pace) -> None:
        missed = 0
        while missed < MOST_MISSED:
            missed += 1
            if stream.has_room:
                missed = 0
                data = json.dumps({"run_id": RUN_ID, "run_s": round(pace.told_s, 3)})
                await stream.send(event_frame("beat", data))
            await self._sleep(BEAT_S)
        stream.hang_up()


async def _start(night: Night, from_s: float, speed: float) -> Process:
    step_s = max(1.0, speed / NOWS_A_SECOND)
    arguments = (f"{from_s:.3f}", f"{step_s:.3f}", *map(str, night.files))
    try:
        return await asyncio.create_subprocess_exec(
            *(sys.executable, "-m", "driftlead.web.replay_worker", *arguments),
            stdin=DEVNULL,
            stdout=PIPE,
            stderr=DEVNULL,
            limit=_LINE_BYTES,
        )
    except OSError as error:
        raise DaemonError(
            f"The replay cannot be started: {error.strerror or error}.", remedy="Try again."
        ) from error


def _told(line: bytes) -> _Told:
    run_s, kind, event_id, text = line.decode().rstrip("\n").split(" ", 3)
    frame = event_frame(kind, text, None if event_id == "-" else event_id)
    return _Told(float(run_s), kind, frame)
