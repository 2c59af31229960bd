"""Taking the watch up from a journal, whatever became of it, and saving to it."""

import asyncio
import sqlite3
from pathlib import Path

import pytest
from attrs import evolve

from driftlead.core.snapshot import Snapshot, snapshot_to_json
from driftlead.daemon.journal_link import JournalLink, Loaded
from driftlead.daemon.rescue import rescue_snapshot
from driftlead.daemon.unsaved_file import UnsavedFile
from driftlead.errors import JournalError
from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.journal.journal import Journal
from driftlead.watch.anchored import Anchored
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.state_table import WatchState

PLACE = Position(46.5, -31.2)
RIDING = Snapshot(
    state=WatchState.RIDING,
    anchored=Anchored(
        drop=PLACE, place=AnchorInPlane(0.0, 0.0, 3.0), method=AnchorMethod.MARKED, rode_m=30.0
    ),
    origin=PLACE,
    last_number=7,
)
Faults = list[str | None]


def stored(folder: Path, text: str = snapshot_to_json(RIDING)) -> Path:
    """Make a journal that holds a snapshot, and some events to be of a size."""
    path = folder / "journal.db"
    journal = Journal.open(path)
    journal.save(text, ["{}" * 50] * 500)
    journal.close()
    return path


async def loaded(path: Path, faults: Faults) -> Loaded:
    """Load what is there."""
    link = JournalLink(path, on_fault=faults.append)
    try:
        return await link.load()
    finally:
        await link.close()


@pytest.mark.asyncio
async def test_the_watch_is_taken_up(tmp_path: Path) -> None:
    """As it was saved."""
    assert await loaded(stored(tmp_path), []) == Loaded(snapshot=RIDING)


@pytest.mark.asyncio
async def test_a_first_start_has_nothing_to_take_up_and_no_fault(tmp_path: Path) -> None:
    """There is no journal yet."""
    faults: Faults = []
    assert await loaded(tmp_path / "new" / "journal.db", faults) == Loaded(snapshot=None)
    assert faults == []


@pytest.mark.asyncio
async def test_a_watch_in_a_journal_that_cannot_be_written_is_taken_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A card that has turned read-only still holds the watch."""
    path = stored(tmp_path)

    def refuse(path: Path) -> Journal:
        raise JournalError(f"{path} is read-only.")

    monkeypatch.setattr(Journal, "open", refuse)
    found = await loaded(path, [])
    assert found.snapshot == RIDING
    assert found.unwritable is not None
    assert found.damaged is None


@pytest.mark.asyncio
async def test_a_watch_that_can_be_read_in_a_damaged_journal_is_taken_up_with_a_warning(
    tmp_path: Path,
) -> None:
    """One broken page of events does not cost the watch; the file is kept."""
    path = stored(tmp_path)
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.seek(size - 4096)
        file.write(b"\xa5" * 4096)
    found = await loaded(path, [])
    assert found.snapshot == RIDING
    assert found.damaged is not None
    assert "look at the anchor" in found.damaged
    assert (tmp_path / "journal.db.damaged-1").is_file()


@pytest.mark.asyncio
async def test_a_journal_that_is_no_database_leaves_no_watch_but_a_warning(tmp_path: Path) -> None:
    """It is kept beside the new one."""
    path = tmp_path / "journal.db"
    path.write_bytes(b"not a database" * 1000)
    found = await loaded(path, [])
    assert found.snapshot is None
    assert found.damaged is not None
    assert "let-go" in found.damaged


@pytest.mark.parametrize("text", ["{", "[]", "{}", '{"version":99}', '{"version":1,"state":"x"}'])
@pytest.mark.asyncio
async def test_a_snapshot_that_makes_no_sense_is_kept_and_told(tmp_path: Path, text: str) -> None:
    """Somebody may want to look at it."""
    path = stored(tmp_path, text)
    found = await loaded(path, [])
    assert found.snapshot is None
    assert found.damaged is not None
    journal = Journal.open(path)
    assert journal.get("damaged_snapshot") == text
    journal.close()


@pytest.mark.asyncio
async def test_a_save_that_fails_raises_where_waited_for_and_nowhere_else(tmp_path: Path) -> None:
    """The fault is told once, and once more when all is on the disk."""
    (tmp_path / "state").write_text("in the way")
    faults: Faults = []
    link = JournalLink(tmp_path / "state" / "journal.db", on_fault=faults.append)
    link.save("{}", ["first"])  # nobody waits for this one
    with pytest.raises(JournalError):
        await link.save("{}", ["second"])
    await asyncio.sleep(0)
    assert len(faults) == 1
    (tmp_path / "state").unlink()
    link.retry()
    await asyncio.sleep(0)
    assert await link.get("nothing") is None  # it waits its turn behind the retry
    assert not link.is_failing
    await link.close()
    assert [fault is None for fault in faults] == [False, True]
    journal = Journal.open(tmp_path / "state" / "journal.db")
    assert [event.text for event in journal.events()] == ["first", "second"]
    journal.close()


@pytest.mark.asyncio
async def test_small_values_are_kept_and_a_failing_disk_is_no_error(tmp_path: Path) -> None:
    """They are never worth more than the watch."""
    link = JournalLink(tmp_path / "journal.db", on_fault=lambda _: None)
    await link.put("name", "value")
    assert await link.get("name") == "value"
    await link.close()
    (tmp_path / "file").write_text("")
    link = JournalLink(tmp_path / "file" / "journal.db", on_fault=lambda _: None)
    await link.put("name", "value")
    assert await link.get("name") is None
    await link.close()


def test_a_rescue_reads_what_is_only_in_the_log_yet(tmp_path: Path) -> None:
    """SQLite keeps the newest commits in a file of their own (WAL)."""
    path = tmp_path / "journal.db"
    journal = Journal.open(path)
    journal.save("newest", [])
    assert Path(f"{path}-wal").stat().st_size > 0
    assert rescue_snapshot(path, workspace=tmp_path) == "newest"
    journal.close()
    assert sorted(file.name for file in tmp_path.iterdir()) == ["journal.db"]


def test_a_rescue_of_nothing_is_none(tmp_path: Path) -> None:
    """No file, no database, no such table, nothing saved yet."""
    assert rescue_snapshot(tmp_path / "none.db") is None
    (tmp_path / "text.db").write_text("text" * 1000)
    assert rescue_snapshot(tmp_path / "text.db") is None
    sqlite3.connect(tmp_path / "empty.db").close()
    assert rescue_snapshot(tmp_path / "empty.db") is None
    Journal.open(tmp_path / "new.db").close()
    assert rescue_snapshot(tmp_path / "new.db") is None


@pytest.mark.asyncio
async def test_of_what_is_kept_in_haste_the_last_is_on_the_disk_at_the_end(tmp_path: Path) -> None:
    """Nobody waits for it but the end."""
    path, faults = stored(tmp_path), Faults()
    link = JournalLink(path, on_fault=faults.append)
    await link.load()
    for value in ("one", "two", "three"):
        link.keep("carried", value)
    link.keep("other", "x")
    await link.close()
    journal = Journal.open(path)
    assert (journal.get("carried"), journal.get("other")) == ("three", "x")
    journal.close()


@pytest.mark.asyncio
async def test_what_is_kept_while_the_disk_fails_is_no_fault_of_its_own(tmp_path: Path) -> None:
    """The saving of the watch tells of the disk; this is dropped."""
    (tmp_path / "file").write_text("")
    faults: Faults = []
    link = JournalLink(tmp_path / "file" / "journal.db", on_fault=faults.append)
    await link.load()
    link.keep("carried", "one")
    await link.close()
    assert faults == []


@pytest.mark.asyncio
async def test_what_was_decided_is_there_after_a_kill_though_no_disk_has_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It lies beside the control socket before anybody can have been called, and is saved then."""
    path, faults = stored(tmp_path), Faults()
    dragging = evolve(RIDING, state=WatchState.DRAGGING)
    run = JournalLink(path, on_fault=faults.append, workspace=tmp_path)
    assert (await run.load()).snapshot == RIDING
    never: asyncio.Future[None] = asyncio.get_running_loop().create_future()
    monkeypatch.setattr(run._writer, "save", lambda *_: never)
    saving = run.save(snapshot_to_json(dragging), ["{}"])
    assert await loaded(path, faults) == Loaded(snapshot=RIDING)  # without that place
    again = JournalLink(path, on_fault=faults.append, workspace=tmp_path)
    assert (await again.load()).snapshot == dragging
    await again.close()
    journal = Journal.open(path)
    assert journal.load_snapshot() == snapshot_to_json(dragging)
    assert journal.last_event_id() == 501
    journal.close()
    assert not (tmp_path / "unsaved.json").exists()
    saving.cancel()
    monkeypatch.undo()
    await run.close()
    assert faults == []


@pytest.mark.asyncio
async def test_what_was_left_but_makes_no_sense_does_not_cost_the_watch(tmp_path: Path) -> None:
    path, faults = stored(tmp_path), Faults()
    file = UnsavedFile(tmp_path / "unsaved.json")
    file.begin(snapshot_to_json(RIDING))
    file.note("{}", ())
    link = JournalLink(path, on_fault=faults.append, workspace=tmp_path)
    assert await link.load() == Loaded(snapshot=RIDING)
    await link.close()
    assert not (tmp_path / "unsaved.json").exists()
