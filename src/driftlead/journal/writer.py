"""The journal from the event loop: one thread does the waiting for the disk, in order."""

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from driftlead.errors import JournalError
from driftlead.journal.journal import Journal, JournalledEvent

KEPT_EVENTS = 10_000
"""How many events wait in memory while the journal cannot be written; then the oldest go."""

_T = TypeVar("_T")


class JournalWriter:
    """Saves to a journal that may fail and come back.

    ``journal_factory`` opens the journal; it is called in the writer's thread, at the first use
    and again after every failure. ``on_fault`` is called in the event loop: with a text once when
    saving begins to fail, with None when everything has been saved again. Events of failed saves
    are kept, in order, and go in with the next save or ``retry``.
    """

    def __init__(
        self,
        journal_factory: Callable[[], Journal],
        *,
        on_fault: Callable[[str | None], None],
    ) -> None:
        self._open_journal = journal_factory
        self._on_fault = on_fault
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="journal")
        self._closed = False
        # From here on: only ever touched by that one thread.
        self._journal: Journal | None = None
        self._snapshot: str | None = None
        self._waiting: deque[str] = deque()
        self._last_event_id: int | None = None
        self._failing = False
        self._lost_events = 0
        self._recovered_from: Path | None = None

    @property
    def lost_events(self) -> int:
        """How many events were given up because the journal failed for too long."""
        return self._lost_events

    @property
    def recovered_from(self) -> Path | None:
        """The damaged journal that was moved aside last, None if none was."""
        return self._recovered_from

    def save(self, snapshot: str, events: Sequence[str]) -> Awaitable[None]:
        """Save the watch and its new events; what is returned is done when they are on the disk.

        Saves are carried out in the order of the calls, awaited or not, and even if the waiting is
        cancelled. Waiting raises JournalError if this save failed; it is then kept for later.
        """
        loop = asyncio.get_running_loop()
        return self._submit(self._save, loop, snapshot, tuple(events))

    def load_snapshot(self) -> Awaitable[str | None]:
        """Give the snapshot saved last, None if none ever was. Raises JournalError."""
        return self._submit(self._use, Journal.load_snapshot)

    def events(
        self, after_id: int = 0, limit: int = 1000
    ) -> Awaitable[tuple[JournalledEvent, ...]]:
        """Give journalled events numbered above ``after_id``, the oldest first, at most ``limit``.

        Raises JournalError.
        """
        return self._submit(self._use, lambda journal: journal.events(after_id, limit))

    def put(self, name: str, value: str) -> Awaitable[None]:
        """Keep a small value under a name. Raises JournalError; it is then not kept for later."""
        return self._submit(self._use, lambda journal: journal.put(name, value))

    def get(self, name: str) -> Awaitable[str | None]:
        """Give the value kept under a name, None if there is none. Raises JournalError."""
        return self._submit(self._use, lambda journal: journal.get(name))

    def prune(self, *, keep_s: float, cap_bytes: int, protect_from: int) -> Awaitable[int]:
        """Drop old events, see ``Journal.prune``; how many have gone. Raises JournalError."""
        return self._submit(
            self._use,
            lambda journal: journal.prune(
                keep_s=keep_s, cap_bytes=cap_bytes, protect_from=protect_from
            ),
        )

    async def retry(self) -> bool:
        """Try again to save what could not be saved; whether nothing is left to save."""
        return await self._submit(self._retry, asyncio.get_running_loop())

    async def close(self) -> None:
        """Save what is left and close the journal; the writer is of no use afterwards.

        Raises JournalError, after closing, if something could not be saved. Closing twice is fine.
        """
        if self._closed:
            return
        self._closed = True
        try:
            await self._submit(self._finish, asyncio.get_running_loop())
        finally:
            self._thread.shutdown(wait=False)

    def _submit(self, work: Callable[..., _T], *arguments: object) -> "asyncio.Future[_T]":
        # Shielded: cancelling the wait must not take the save out of the queue.
        job = asyncio.wrap_future(self._thread.submit(work, *arguments))
        return asyncio.shield(job)

    # What follows runs in the thread.

    def _save(
        self, loop: asyncio.AbstractEventLoop, snapshot: str, events: tuple[str, ...]
    ) -> None:
        self._snapshot = snapshot
        self._waiting.extend(events)
        try:
            self._use(self._write)
        except JournalError as error:
            self._give_up_oldest()
            if not self._failing:
                self._failing = True
                loop.call_soon_threadsafe(self._on_fault, str(error))
            raise
        self._waiting.clear()
        if self._failing:
            self._failing = False
            loop.call_soon_threadsafe(self._on_fault, None)

    def _write(self, journal: Journal) -> None:
        if self._snapshot is not None:
            journal.save(self._snapshot, self._waiting)
            self._last_event_id = journal.last_event_id()

    def _give_up_oldest(self) -> None:
        while len(self._waiting) > KEPT_EVENTS:
            self._forget_oldest()
            self._lost_events += 1

    def _forget_oldest(self) -> None:
        self._waiting.popleft()
        if self._last_event_id is not None:
            self._last_event_id += 1

    def _skip_saved(self, journal: Journal) -> None:
        """Forget waiting events that a save had written after all, although it failed."""
        # A sync that fails may leave the commit in the log, where the next opening finds it.
        last_event_id = journal.last_event_id()
        if self._last_event_id is None:
            self._last_event_id = last_event_id
        while self._waiting and self._last_event_id < last_event_id:
            self._forget_oldest()

    def _retry(self, loop: asyncio.AbstractEventLoop) -> bool:
        if self._failing and self._snapshot is not None:
            try:
                self._save(loop, self._snapshot, ())
            except JournalError:
                return False
        return True

    def _finish(self, loop: asyncio.AbstractEventLoop) -> None:
        saved = self._retry(loop)
        self._drop()
        if not saved:
            raise JournalError(
                f"The watch and its last {len(self._waiting)} events could not be journalled.",
                remedy="Look at the earlier error for the cause; the recording may have them.",
            )

    def _use(self, work: Callable[[Journal], _T]) -> _T:
        """Do some work with the journal, opening it if need be, dropping it if it fails."""
        try:
            if self._journal is None:
                self._journal = self._open_journal()
                self._recovered_from = self._journal.recovered_from or self._recovered_from
                self._skip_saved(self._journal)
            return work(self._journal)
        except JournalError:
            self._drop()
            raise

    def _drop(self) -> None:
        journal, self._journal = self._journal, None
        if journal is not None:
            with suppress(JournalError):  # the first failure is the one to report
                journal.close()
