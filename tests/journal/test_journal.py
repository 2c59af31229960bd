"""The journal: what it confirmed is there after any kill, and no file of a person is lost."""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from attrs import evolve

import driftlead
from driftlead.errors import JournalError
from driftlead.journal import database
from driftlead.journal import journal as module
from driftlead.journal.database import Schema
from driftlead.journal.journal import Journal

# Saves number after number and says each number once the journal has confirmed it. The snapshot
# is long enough to take several pages, so that a kill finds the writing half done.
SAVING = """
import sys
from pathlib import Path
from driftlead.journal.journal import Journal
journal = Journal.open(Path(sys.argv[1]))
number = int((journal.load_snapshot() or "0").split()[0])
while True:
    number += 1
    journal.save(f"{number} " + "x" * 9000, [f"{number} first", f"{number} second"])
    sys.stdout.write(f"{number}\\n")
    sys.stdout.flush()
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where a journal may be begun."""
    return tmp_path / "state" / "journal.db"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    """Begin a new journal."""
    with closing(Journal.open(path)) as opened:
        yield opened


def event_texts(journal: Journal) -> list[str]:
    """Give all events."""
    return [event.text for event in journal.events(limit=1_000_000)]


def consistent_number(journal: Journal) -> int:
    """Check that the events are those up to the snapshot's number, each once; give the number."""
    number = int((journal.load_snapshot() or "0").split()[0])
    wanted = [f"{n} {part}" for n in range(1, number + 1) for part in ("first", "second")]
    assert event_texts(journal) == wanted
    return number


def test_a_new_journal_is_empty(journal: Journal, path: Path) -> None:
    """Its folder is made for it."""
    assert path.is_file()
    assert journal.load_snapshot() is None
    assert journal.events() == ()
    assert journal.last_event_id() == 0
    assert journal.get("first_part") is None
    assert journal.recovered_from is None


def test_what_was_saved_is_there_after_opening_again(path: Path) -> None:
    """The last snapshot, all events in order, and the small values."""
    with closing(Journal.open(path)) as journal:
        journal.save('{"state":"let-go"}', ["one", "two"])
        journal.save('{"state":"riding"}', ["three"])
        journal.put("first_part", "41")
        journal.put("first_part", "42")
    with closing(Journal.open(path)) as journal:
        assert journal.load_snapshot() == '{"state":"riding"}'
        assert event_texts(journal) == ["one", "two", "three"]
        assert journal.last_event_id() == 3
        assert journal.get("first_part") == "42"
        assert journal.recovered_from is None


def test_events_are_read_in_pages(journal: Journal) -> None:
    """Each page begins after the number where the one before ended."""
    journal.save("s", [str(n) for n in range(7)])
    pages = []
    after_id = 0
    while page := journal.events(after_id, limit=3):
        pages.append([event.text for event in page])
        after_id = page[-1].event_id
    assert pages == [["0", "1", "2"], ["3", "4", "5"], ["6"]]


def test_every_commit_waits_for_the_disk(journal: Journal) -> None:
    """Write-ahead log with synchronous FULL (2) is what the SQLite manual calls durable."""
    assert journal._connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert journal._connection.execute("PRAGMA synchronous").fetchone() == (2,)


def test_a_refused_event_takes_the_snapshot_back_with_it(journal: Journal) -> None:
    """Snapshot and events are one transaction."""
    journal.save("old", ["1"])
    journal._connection.execute(
        "CREATE TRIGGER refuse BEFORE INSERT ON event WHEN new.body = 'bad'"
        " BEGIN SELECT raise(ABORT, 'refused'); END"
    )
    with pytest.raises(JournalError, match="refused"):
        journal.save("new", ["2", "bad"])
    assert journal.load_snapshot() == "old"
    assert event_texts(journal) == ["1"]
    journal.save("newer", ["3"])
    assert event_texts(journal) == ["1", "3"]


def test_a_kill_at_any_moment_loses_nothing_that_was_confirmed(path: Path) -> None:
    """Twenty-four processes are killed (SIGKILL) while they save as fast as they can."""
    chance = random.Random(20)
    source = Path(driftlead.__file__).parents[1]
    number = 0
    for _ in range(24):
        with subprocess.Popen(
            [sys.executable, "-c", SAVING, str(path)],
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": os.pathsep.join([str(source), *sys.path])},
        ) as child:
            assert child.stdout is not None
            confirmed = number
            for _ in range(chance.randint(1, 12)):
                confirmed = int(child.stdout.readline())
            child.kill()
            # What it confirmed between our last look and its death; a torn last number is none.
            rest = child.stdout.read().decode().splitlines(keepends=True)
            confirmed = max([confirmed, *(int(line) for line in rest if line.endswith("\n"))])
        with closing(Journal.open(path)) as journal:
            assert journal.recovered_from is None
            number = consistent_number(journal)
        assert confirmed <= number <= confirmed + 1


def test_a_log_cut_short_anywhere_gives_an_earlier_whole_state(tmp_path: Path) -> None:
    """As after a power cut: the tail of the write-ahead log never reached the disk."""
    chance = random.Random(21)
    before = tmp_path / "before.db"
    with closing(Journal.open(before)) as journal:
        for number in range(1, 13):
            journal.save(f"{number} " + "x" * 5000, [f"{number} first", f"{number} second"])
        files = {ending: Path(f"{before}{ending}").read_bytes() for ending in ("", "-wal")}
    found = set()
    for attempt in range(40):
        path = tmp_path / str(attempt) / "journal.db"
        path.parent.mkdir()
        path.write_bytes(files[""])
        Path(f"{path}-wal").write_bytes(files["-wal"][: chance.randint(0, len(files["-wal"]))])
        with closing(Journal.open(path)) as journal:
            assert journal.recovered_from is None
            found.add(consistent_number(journal))
            journal.save("0", [])
    assert len(found) > 5  # the cuts fell between many different saves


def damage_head(file: Path) -> None:
    """Wipe the first 100 bytes, which say that it is a database."""
    file.write_bytes(b"\0" * 100 + file.read_bytes()[100:])


def damage_tables(file: Path) -> None:
    """Wipe everything behind the first page."""
    raw = bytearray(file.read_bytes())
    raw[4096:] = b"\xa5" * (len(raw) - 4096)
    file.write_bytes(raw)


def cut_in_half(file: Path) -> None:
    """Cut it short in the middle of a page."""
    raw = file.read_bytes()
    file.write_bytes(raw[: len(raw) // 2 + 10])


def replace_by_noise(file: Path) -> None:
    """Put noise in its place."""
    file.write_bytes(random.Random(22).randbytes(20_000))


@pytest.mark.parametrize(
    "damage", [damage_head, damage_tables, cut_in_half, replace_by_noise], ids=lambda f: f.__name__
)
def test_a_damaged_journal_is_moved_aside_and_a_new_one_begun(
    path: Path, damage: Callable[[Path], None]
) -> None:
    """The watch must start, somebody must hear of it, and nothing is deleted."""
    with closing(Journal.open(path)) as journal:
        journal.save("s" * 20_000, ["e" * 5000])
    damage(path)
    damaged = path.read_bytes()
    with closing(Journal.open(path)) as journal:
        aside = path.with_name("journal.db.damaged-1")
        assert journal.recovered_from == aside
        assert journal.load_snapshot() is None
        journal.save("new", ["first"])
        assert aside.read_bytes() == damaged
    with closing(Journal.open(path)) as journal:
        assert journal.recovered_from is None
        assert journal.load_snapshot() == "new"


def test_what_the_log_of_a_damaged_journal_held_is_kept_with_it(path: Path, tmp_path: Path) -> None:
    """Neither is it lost, nor does the new journal take it for its own."""
    Journal.open(path).close()
    with closing(Journal.open(path)) as journal:
        journal.save("only in the log", ["this too"])
        copied = shutil.copytree(path.parent, tmp_path / "copies") / "journal.db"
    copied.write_bytes(b"not a database" * 100)
    assert b"only in the log" in Path(f"{copied}-wal").read_bytes()
    with closing(Journal.open(copied)) as journal:
        assert journal.load_snapshot() is None
        assert journal.events() == ()
    kept = b"".join(file.read_bytes() for file in copied.parent.glob("*.damaged-1*"))
    assert b"only in the log" in kept
    assert b"this too" in kept


def test_all_files_of_a_database_are_moved_aside_together(path: Path) -> None:
    """Whichever of them a crash has left behind."""
    path.parent.mkdir()
    for ending in ("", "-wal", "-journal"):
        Path(f"{path}{ending}").write_text(f"old{ending}")
    path.with_name("journal.db.damaged-1-shm").write_text("older")
    aside = database._move_aside(path)
    assert {file.name: file.read_text() for file in path.parent.iterdir()} == {
        "journal.db.damaged-1-shm": "older",
        "journal.db.damaged-2": "old",
        "journal.db.damaged-2-wal": "old-wal",
        "journal.db.damaged-2-journal": "old-journal",
    }
    assert aside.name == "journal.db.damaged-2"


def test_a_second_damaged_journal_does_not_replace_the_first(path: Path) -> None:
    """Every one is kept under a number of its own."""
    path.parent.mkdir()
    for number in (1, 2, 3):
        path.write_text(f"damage {number} " * 100)
        with closing(Journal.open(path)) as journal:
            assert journal.recovered_from == path.with_name(f"journal.db.damaged-{number}")
    for number in (1, 2, 3):
        kept = path.with_name(f"journal.db.damaged-{number}").read_text()
        assert kept.startswith(f"damage {number} ")


def test_a_full_disk_is_an_error_and_the_old_state_stays(journal: Journal) -> None:
    """The error names the file, says what is wrong and what to do; later it works again."""
    journal.save("old", ["1"])
    # The database may not grow beyond the pages it has: SQLite then answers as on a full disk.
    pages = journal._connection.execute("PRAGMA page_count").fetchone()[0]
    journal._connection.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(JournalError, match="full") as caught:
        journal.save("new" * 20_000, ["2"])
    assert str(journal.path) in caught.value.message
    assert "free some space" in caught.value.remedy
    assert journal.load_snapshot() == "old"
    journal._connection.execute("PRAGMA max_page_count = 1000000")
    journal.save("new", ["2"])
    assert event_texts(journal) == ["1", "2"]


def test_a_read_only_journal_is_an_error_with_a_remedy(path: Path) -> None:
    """Opened read-only by SQLite itself, which even root cannot pass."""
    Journal.open(path).close()
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True, isolation_level=None)
    with closing(Journal(path, connection)) as journal:
        with pytest.raises(JournalError, match="readonly") as caught:
            journal.save("s", [])
        assert "read-only" in caught.value.remedy
        with pytest.raises(JournalError, match="readonly"):
            journal.put("name", "value")


def test_a_journal_locked_by_another_program_is_an_error_with_a_remedy(path: Path) -> None:
    """It is waited for, but not for ever."""
    with (
        closing(Journal.open(path, busy_s=0.0)) as journal,
        closing(sqlite3.connect(path, isolation_level=None)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(JournalError, match="locked") as caught:
            journal.save("s", [])
        assert "Another program" in caught.value.remedy
        other.execute("ROLLBACK")
        journal.save("s", [])


def test_a_path_that_is_a_folder_is_an_error_with_a_remedy(tmp_path: Path) -> None:
    """The folder stays as it is."""
    with pytest.raises(JournalError, match="cannot be opened") as caught:
        Journal.open(tmp_path)
    assert str(tmp_path) in caught.value.message
    assert "path" in caught.value.remedy
    assert tmp_path.is_dir()


def test_a_path_below_a_file_is_an_error_with_a_remedy(tmp_path: Path) -> None:
    """The folder cannot be made."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(JournalError, match="folder") as caught:
        Journal.open(tmp_path / "file" / "deeper" / "journal.db")
    assert caught.value.remedy


def test_the_database_of_another_program_is_left_alone(path: Path) -> None:
    """A wrong path in the configuration must not cost somebody's data, not even a byte."""
    path.parent.mkdir()
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE waypoint (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(JournalError, match="something else, not a journal"):
        Journal.open(path)
    assert path.read_bytes() == before
    assert list(path.parent.iterdir()) == [path]


def test_a_journal_of_a_newer_version_is_left_alone(path: Path) -> None:
    """Going back to an older driftlead does not harm what the newer one wrote."""
    with closing(Journal.open(path)) as journal:
        journal._connection.execute("PRAGMA user_version = 99")
    with pytest.raises(JournalError, match="version 99") as caught:
        Journal.open(path)
    assert "newer" in caught.value.remedy


def with_step(step: tuple[str, ...]) -> Schema:
    """The journal's schema of the next version."""
    return evolve(module.SCHEMA, migrations=(*module.MIGRATIONS, step))


def test_an_older_journal_is_brought_up_to_date(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each missing step is taken once, and what was saved stays."""
    with closing(Journal.open(path)) as journal:
        journal.save("old", ["1"])
    step = ("ALTER TABLE event ADD COLUMN seen INTEGER NOT NULL DEFAULT 0",)
    monkeypatch.setattr(module, "SCHEMA", with_step(step))
    for _ in range(2):
        with closing(Journal.open(path)) as journal:
            assert journal.load_snapshot() == "old"
            assert event_texts(journal) == ["1"]
            assert journal._connection.execute("SELECT seen FROM event").fetchall() == [(0,)]


def test_a_migration_that_fails_changes_nothing(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All steps and the version number are one transaction."""
    with closing(Journal.open(path)) as journal:
        journal.save("old", ["1"])
    steps = ("CREATE TABLE half (done INTEGER)", "CREATE TABLE event (again INTEGER)")
    with monkeypatch.context() as patch:
        patch.setattr(module, "SCHEMA", with_step(steps))
        with pytest.raises(JournalError, match="already exists"):
            Journal.open(path)
    with closing(Journal.open(path)) as journal:
        assert journal.load_snapshot() == "old"
        tables = journal._connection.execute("SELECT name FROM sqlite_master").fetchall()
        assert ("half",) not in tables


def test_a_closed_journal_says_so_and_may_be_closed_again(journal: Journal) -> None:
    """Using it is an error of ours, not a crash of SQLite."""
    journal.close()
    journal.close()
    with pytest.raises(JournalError, match="closed"):
        journal.save("s", [])
