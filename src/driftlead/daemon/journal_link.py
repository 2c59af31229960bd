"""The journal as the daemon needs it: the watch to take up, and saving that nobody waits for."""

import asyncio
import logging
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path

from attrs import frozen

from driftlead.core.snapshot import Snapshot, snapshot_from_json
from driftlead.daemon.rescue import rescue_snapshot
from driftlead.daemon.unsaved_file import UnsavedFile
from driftlead.errors import JournalError
from driftlead.journal.journal import Journal
from driftlead.journal.settings import JournalSettings
from driftlead.journal.writer import JournalWriter

_LOGGER = logging.getLogger(__name__)


@frozen(kw_only=True)
class Loaded:
    """What was found: the watch to take up, and what went wrong in finding it, if anything.

    ``unwritable``: the journal cannot be opened; ``damaged``: it could not be trusted or read.
    """

    snapshot: Snapshot | None
    unwritable: str | None = None
    damaged: str | None = None


class JournalLink:
    """Loads once, then saves in order. ``on_fault`` hears when saving fails and works again."""

    def __init__(
        self, path: Path, *, on_fault: Callable[[str | None], None], workspace: Path | None = None
    ) -> None:
        self._path = path
        self._on_fault = on_fault
        self._workspace = workspace
        self._writer = JournalWriter(lambda: Journal.open(path), on_fault=self._hear)
        self._retrying: asyncio.Task[bool] | None = None
        # Beside the control socket: memory, which a killed program leaves as it is.
        self._unsaved = UnsavedFile(None if workspace is None else workspace / "unsaved.json")
        self._to_keep: dict[str, str] = {}
        self._keeping: set[asyncio.Task[None]] = set()
        self.is_failing = False

    async def load(self) -> Loaded:
        """Open the journal and read the watch. Never fails: what is wrong is told instead."""
        unwritable: str | None = None
        damaged: str | None = None
        try:
            text = await self._writer.load_snapshot()
        except JournalError as error:
            unwritable = str(error)
            self.is_failing = True
            text = await self._rescue(self._path)
        if self._writer.recovered_from is not None:
            damaged = f"The journal was damaged; it is kept as {self._writer.recovered_from}."
            text = await self._rescue(self._writer.recovered_from)
        text = await self._take_unsaved(text)
        snapshot = None
        if text is not None:
            try:
                snapshot = snapshot_from_json(text)
            except JournalError as error:
                damaged = error.message
                with suppress(JournalError):
                    await self._writer.put("damaged_snapshot", text)
        if damaged is not None:
            damaged += (
                " NO WATCH IS KEPT. Look at the anchor and set the watch anew: driftlead let-go."
                if snapshot is None
                else " The watch was taken from what could be read of it: look at the anchor."
            )
        return Loaded(snapshot=snapshot, unwritable=unwritable, damaged=damaged)

    def save(self, snapshot: str, events: Sequence[str]) -> asyncio.Future[None]:
        """Save; wait for what is returned, or leave it. Waiting raises JournalError."""
        # Before anybody is called: notifiers run once the loop turns again.
        ticket = self._unsaved.note(snapshot, events)
        future = asyncio.ensure_future(self._writer.save(snapshot, events))
        future.add_done_callback(lambda done: self._saved(done, ticket))
        return future

    async def get(self, name: str) -> str | None:
        """Give a small value kept by ``put``, None if there is none or it cannot be read."""
        with suppress(JournalError):
            return await self._writer.get(name)
        return None

    async def put(self, name: str, value: str) -> None:
        """Keep a small value, if the disk lets us."""
        with suppress(JournalError):
            await self._writer.put(name, value)

    def keep(self, name: str, value: str) -> None:
        """Keep a small value without anybody waiting for it; of several the last one is kept."""
        waits = name in self._to_keep
        self._to_keep[name] = value
        if not waits:
            task = asyncio.create_task(self._keep(name), name=f"keep {name}")
            self._keeping.add(task)
            task.add_done_callback(self._keeping.discard)

    def retry(self) -> None:
        """Try again what could not be saved, unless that is being tried already."""
        if self.is_failing and (self._retrying is None or self._retrying.done()):
            self._retrying = asyncio.create_task(self._writer.retry(), name="journal retry")

    async def prune(self, settings: JournalSettings, *, protect_from: int) -> None:
        """Drop old events, if the disk lets us; those numbered ``protect_from`` and above stay."""
        with suppress(JournalError):
            while await self._writer.prune(
                keep_s=settings.keep_s, cap_bytes=settings.cap_bytes, protect_from=protect_from
            ):
                pass

    async def close(self) -> None:
        """Save what is left and close the journal."""
        if self._keeping:
            await asyncio.wait(self._keeping)
        try:
            await self._writer.close()
        except JournalError:
            _LOGGER.exception("The journal was not closed well")

    async def _keep(self, name: str) -> None:
        await self.put(name, self._to_keep.pop(name))

    async def _take_unsaved(self, text: str | None) -> str | None:
        """Save what a killed run had still to save; the snapshot that stands then."""
        left = self._unsaved.after(text)
        try:
            for snapshot, _ in left:
                snapshot_from_json(snapshot)
        except JournalError:
            left = []  # what the journal has is good
        for ticket, (snapshot, events) in zip(self._unsaved.begin(text, left), left, strict=True):
            text = snapshot
            with suppress(JournalError):
                await self._writer.save(snapshot, events)
                self._unsaved.saved(ticket)
        return text

    async def _rescue(self, path: Path) -> str | None:
        return await asyncio.to_thread(rescue_snapshot, path, workspace=self._workspace)

    def _saved(self, future: asyncio.Future[None], ticket: int) -> None:
        # Asking for the exception also keeps asyncio from complaining that nobody did.
        if not future.cancelled() and future.exception() is None:
            self._unsaved.saved(ticket)
            if self.is_failing:
                self._hear(None)

    def _hear(self, text: str | None) -> None:
        self.is_failing = text is not None
        self._on_fault(text)
