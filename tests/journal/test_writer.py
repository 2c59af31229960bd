"""The writer: saves in order, durable when done, and nothing forgotten while the disk fails."""

import asyncio
import threading
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest

from driftlead.errors import JournalError
from driftlead.journal import writer as module
from driftlead.journal.journal import Journal
from driftlead.journal.writer import JournalWriter


class FailingDisk:
    """Opens journals that fail to save while ``broken``; a factory for the writer."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.broken = False
        self.openings = 0

    def __call__(self) -> Journal:
        """Open the journal."""
        self.openings += 1
        opened = Journal.open(self.path)
        if self.broken:
            opened._connection.execute("PRAGMA query_only = ON")
        return opened

    def saved(self) -> tuple[str | None, list[str]]:
        """Read snapshot and events through a connection of its own."""
        with closing(Journal.open(self.path)) as journal:
            return journal.load_snapshot(), [e.text for e in journal.events(limit=100_000)]


@pytest.fixture
def disk(tmp_path: Path) -> FailingDisk:
    """Provide a disk that can be broken and mended."""
    return FailingDisk(tmp_path / "journal.db")


@pytest.fixture
def faults() -> list[str | None]:
    """Collect what the writer reports, in order."""
    return []


@pytest.fixture
def writer(disk: FailingDisk, faults: list[str | None]) -> JournalWriter:
    """Make a writer on that disk."""
    return JournalWriter(disk, on_fault=faults.append)


async def broken_writer(disk: FailingDisk, writer: JournalWriter) -> None:
    """Let one save succeed, then break the disk under the open journal."""
    await writer.save("s0", ["e0"])
    disk.broken = True
    assert writer._journal is not None
    writer._journal._connection.execute("PRAGMA query_only = ON")


@pytest.mark.asyncio
async def test_a_save_is_on_the_disk_when_it_is_done(
    disk: FailingDisk, writer: JournalWriter, faults: list[str | None]
) -> None:
    """Another connection sees it before the writer is closed."""
    await writer.save("s1", ["e1", "e2"])
    assert disk.saved() == ("s1", ["e1", "e2"])
    await writer.close()
    assert faults == []


@pytest.mark.asyncio
async def test_saves_not_awaited_are_carried_out_in_order(
    disk: FailingDisk, writer: JournalWriter
) -> None:
    """The order of the calls is the order in the journal, and close waits for all of them."""
    for number in range(50):
        writer.save(f"s{number}", [f"e{number}"])
    await writer.close()
    assert disk.saved() == ("s49", [f"e{n}" for n in range(50)])


@pytest.mark.asyncio
async def test_a_cancelled_wait_does_not_cancel_the_save(
    disk: FailingDisk, faults: list[str | None]
) -> None:
    """The save behind a slow one is cancelled while it is still in the queue."""
    gate = threading.Event()

    def slow_opening() -> Journal:
        assert gate.wait(timeout=10)
        return disk()

    writer = JournalWriter(slow_opening, on_fault=faults.append)
    first = writer.save("s1", ["e1"])
    second = asyncio.ensure_future(writer.save("s2", ["e2"]))
    second.cancel()
    gate.set()
    await first
    await writer.close()
    assert second.cancelled()
    assert disk.saved() == ("s2", ["e1", "e2"])


@pytest.mark.asyncio
async def test_what_failed_goes_in_with_the_next_save(
    disk: FailingDisk, writer: JournalWriter, faults: list[str | None]
) -> None:
    """Every event once and in order; the failure and its end are each reported once."""
    await broken_writer(disk, writer)
    for number in (1, 2, 3):
        with pytest.raises(JournalError, match=r"journal\.db"):
            await writer.save(f"s{number}", [f"e{number}"])
    assert len(faults) == 1
    assert faults[0] is not None
    assert "read-only" in faults[0]
    assert disk.saved() == ("s0", ["e0"])
    disk.broken = False
    await writer.save("s4", ["e4"])
    assert faults[1:] == [None]
    assert disk.saved() == ("s4", ["e0", "e1", "e2", "e3", "e4"])
    await writer.close()


@pytest.mark.asyncio
async def test_retry_saves_what_failed_when_the_disk_is_back(
    disk: FailingDisk, writer: JournalWriter, faults: list[str | None]
) -> None:
    """Without waiting for a new event, which may not come before the next alarm."""
    await broken_writer(disk, writer)
    with pytest.raises(JournalError):
        await writer.save("s1", ["e1"])
    assert not await writer.retry()
    assert len(faults) == 1
    disk.broken = False
    assert await writer.retry()
    assert faults[1:] == [None]
    assert disk.saved() == ("s1", ["e0", "e1"])
    openings = disk.openings
    assert await writer.retry()
    assert disk.openings == openings
    assert disk.saved() == ("s1", ["e0", "e1"])
    await writer.close()


@pytest.mark.asyncio
async def test_a_journal_that_cannot_be_opened_yet_is_opened_later(
    tmp_path: Path, faults: list[str | None]
) -> None:
    """The disk was not mounted when the first event came."""
    folder = tmp_path / "mount"
    folder.write_text("in the way")
    disk = FailingDisk(folder / "journal.db")
    writer = JournalWriter(disk, on_fault=faults.append)
    with pytest.raises(JournalError):
        await writer.save("s1", ["e1"])
    folder.unlink()
    assert await writer.retry()
    assert [fault is None for fault in faults] == [False, True]
    await writer.close()
    assert disk.saved() == ("s1", ["e1"])


@pytest.mark.asyncio
async def test_close_makes_a_last_attempt(disk: FailingDisk, writer: JournalWriter) -> None:
    """The disk came back just before the end."""
    await broken_writer(disk, writer)
    with pytest.raises(JournalError):
        await writer.save("s1", ["e1"])
    disk.broken = False
    await writer.close()
    await writer.close()
    assert disk.saved() == ("s1", ["e0", "e1"])


@pytest.mark.asyncio
async def test_close_says_what_could_not_be_saved(disk: FailingDisk, writer: JournalWriter) -> None:
    """Silence at the end would look like success."""
    await broken_writer(disk, writer)
    with pytest.raises(JournalError):
        await writer.save("s1", ["e1", "e2"])
    with pytest.raises(JournalError, match="last 2 events"):
        await writer.close()
    assert disk.saved() == ("s0", ["e0"])


@pytest.mark.asyncio
async def test_too_many_waiting_events_lose_the_oldest_and_are_counted(
    disk: FailingDisk, writer: JournalWriter
) -> None:
    """Memory is bounded; what is newest says most about the boat now."""
    await broken_writer(disk, writer)
    for number in range(3):
        with pytest.raises(JournalError):
            await writer.save(f"s{number}", [f"{number} {n}" for n in range(4000)])
    assert writer.lost_events == 12_000 - module.KEPT_EVENTS
    disk.broken = False
    assert await writer.retry()
    snapshot, events = disk.saved()
    assert snapshot == "s2"
    assert events[:2] == ["e0", "0 2000"]
    assert events[-1] == "2 3999"
    assert len(events) == 1 + module.KEPT_EVENTS
    await writer.close()


class LateFailure(Journal):
    """Commits, and then fails all the same, as when the disk fails in the last sync."""

    def save(self, snapshot: str, events: Sequence[str]) -> None:
        """Commit, then fail."""
        super().save(snapshot, events)
        raise JournalError("The disk failed.")


@pytest.mark.asyncio
async def test_events_that_were_written_by_a_failed_save_are_not_written_twice(
    tmp_path: Path, faults: list[str | None]
) -> None:
    """A commit whose sync failed may be found in the log when the journal is opened again."""
    disk = FailingDisk(tmp_path / "journal.db")
    kinds = iter([Journal, LateFailure, Journal])

    def factory() -> Journal:
        opened = disk()
        return next(kinds)(opened.path, opened._connection)

    writer = JournalWriter(factory, on_fault=faults.append)
    await writer.save("s0", ["e0"])
    assert writer._journal is not None
    writer._journal.close()
    with pytest.raises(JournalError):  # drops the closed journal; e1 waits
        await writer.save("s1", ["e1"])
    with pytest.raises(JournalError):  # writes e1 and e2, and fails
        await writer.save("s2", ["e2"])
    await writer.save("s3", ["e3"])
    await writer.close()
    assert disk.saved() == ("s3", ["e0", "e1", "e2", "e3"])


@pytest.mark.asyncio
async def test_what_survived_is_read_through_the_same_thread(
    disk: FailingDisk, writer: JournalWriter, faults: list[str | None]
) -> None:
    """A restart finds snapshot, events and small values."""
    assert await writer.load_snapshot() is None
    await writer.save("s1", ["e1"])
    await writer.put("first_part", "7")
    await writer.close()
    again = JournalWriter(disk, on_fault=faults.append)
    assert await again.load_snapshot() == "s1"
    assert [event.text for event in await again.events()] == ["e1"]
    assert await again.events(after_id=1) == ()
    assert await again.get("first_part") == "7"
    assert again.recovered_from is None
    await again.close()


@pytest.mark.asyncio
async def test_a_damaged_journal_found_at_the_start_is_told(
    disk: FailingDisk, writer: JournalWriter
) -> None:
    """So that the daemon can raise an alert about it."""
    disk.path.write_bytes(b"damage" * 1000)
    assert await writer.load_snapshot() is None
    assert writer.recovered_from == disk.path.with_name("journal.db.damaged-1")
    await writer.close()


@pytest.mark.asyncio
async def test_faults_are_reported_in_the_event_loop(disk: FailingDisk) -> None:
    """The daemon's state is touched by one thread only."""
    threads: list[int] = []
    disk.broken = True
    writer = JournalWriter(disk, on_fault=lambda _: threads.append(threading.get_ident()))
    with pytest.raises(JournalError):
        await writer.save("s1", ["e1"])
    disk.broken = False
    await writer.save("s2", ["e2"])
    await writer.close()
    assert threads == [threading.get_ident()] * 2
