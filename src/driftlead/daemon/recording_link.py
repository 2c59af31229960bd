"""The recording as the daemon needs it: fed with inputs, and kept in order beside the watch."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Mapping
from typing import Any, Final

from driftlead.journal.recorder import Recorder
from driftlead.journal.settings import RecordingSettings
from driftlead.lines import StampedLine

_LOGGER = logging.getLogger(__name__)
_WATCH_PART: Final = "watch_from_part"


class RecordingLink:
    """Wraps the recorder: new parts, compression and pruning, and which parts a watch protects.

    ``on_fault`` is called from the event loop, never within a call to this. ``get`` and ``put``
    keep a small value across restarts.
    """

    def __init__(
        self,
        settings: RecordingSettings,
        *,
        on_fault: Callable[[str | None], None],
        get: Callable[[str], Awaitable[str | None]],
        put: Callable[[str, str], Awaitable[None]],
    ) -> None:
        self._loop = asyncio.get_running_loop()
        self._on_fault = on_fault
        self._recorder = Recorder(settings, on_fault=self._fault_later)
        self._get = get
        self._put = put
        self._protect_from: int | None = None
        self._tidying: asyncio.Task[None] | None = None
        self._noting: asyncio.Task[None] | None = None
        self.start = self._recorder.start
        self.input = self._recorder.input
        self.line: Callable[[StampedLine], None] = self._recorder.line

    @property
    def lost_lines(self) -> int:
        """How many lines and inputs a failing disk has cost."""
        return self._recorder.lost_lines

    async def remember(self) -> None:
        """Find out with which part the watch began that an earlier run kept."""
        text = await self._get(_WATCH_PART)
        if text is not None and text.isdecimal():
            self._protect_from = int(text)

    def watch_is(self, on_watch: bool) -> None:
        """Protect the parts from here on while a watch is on."""
        if not on_watch:
            self._protect_from = None
        elif self._protect_from is None:
            self._protect_from = self._recorder.sequence
            note = self._put(_WATCH_PART, str(self._recorder.sequence))
            self._noting = asyncio.ensure_future(_done(note))

    def housekeep(self, mono_s: float, header: Callable[[], Mapping[str, Any]]) -> None:
        """Write out, and begin a new part if it is time. Call it every second or so."""
        self._recorder.flush()
        if self._recorder.needs_rotation(mono_s):
            self._recorder.rotate(mono_s, header())
            self.tidy()

    def tidy(self) -> None:
        """Compress and prune in a thread, unless that is going on already."""
        if self._tidying is None or self._tidying.done():
            self._tidying = asyncio.create_task(self._tidy(), name="tidy recordings")

    def close(self, mono_s: float) -> None:
        """End the run cleanly, with the end mark."""
        self._recorder.close(mono_s)

    def flush(self) -> None:
        """Write out what there is, without an end mark."""
        self._recorder.flush()

    def _fault_later(self, text: str | None) -> None:
        # It may be told from within the recording of an input that the core has still to hear.
        self._loop.call_soon(self._on_fault, text)

    async def _tidy(self) -> None:
        try:
            await asyncio.to_thread(self._recorder.compress_finished)
            await asyncio.to_thread(self._recorder.prune, self._protect_from)
        except Exception:  # the watch does not depend on it
            _LOGGER.exception("Recordings could not be tidied")


async def _done(work: Awaitable[None]) -> None:
    await work
