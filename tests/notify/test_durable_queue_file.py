"""The queue on the disk: what was saved outlives anything."""

import shutil
import sqlite3
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from driftlead.alerts.alert import AlertState, Priority
from driftlead.errors import NotifierError
from driftlead.notify.durable_queue import QueuedAlert
from driftlead.notify.durable_queue_file import QueueFile


def entry(key: str, **fields: object) -> QueuedAlert:
    """Make an entry with texts that need care."""
    made: dict[str, object] = {
        "name": "drag",
        "instance": "two\nlines\x00 錨",
        "occurrence": "1@None",
        "priority": Priority.ALARM,
        "state": AlertState.ACTIVE_UNACKNOWLEDGED,
        "idempotency_key": key,
        "timestamp": "1780000000",
        "body": b'{"text":"\x00\xff"}',
    }
    return QueuedAlert(**(made | fields))  # type: ignore[arg-type]


A, B, C = entry("a"), entry("b", priority=Priority.CAUTION), entry("c", state=AlertState.NORMAL)


def load(path: Path) -> list[QueuedAlert]:
    """Read it as the next run would."""
    file = QueueFile(path)
    try:
        return file.load()
    finally:
        file.close()


def test_what_was_saved_is_there_in_order(tmp_path: Path) -> None:
    """Whole, to the last byte; what was taken out is gone."""
    file = QueueFile(tmp_path / "q.db")
    assert file.load() == []
    file.save(lambda: [A, B])
    file.save(lambda: [A, B, C])
    file.save(lambda: [A, C])
    file.save(lambda: [A, C])
    file.close()
    file.close()
    assert load(tmp_path / "q.db") == [A, C]


def test_a_run_that_was_killed_leaves_what_it_saved(tmp_path: Path) -> None:
    """With SIGKILL, the moment after ``save`` returned."""
    program = """
        import os, signal, sys
        from pathlib import Path
        from driftlead.alerts.alert import AlertState, Priority
        from driftlead.notify.durable_queue import QueuedAlert
        from driftlead.notify.durable_queue_file import QueueFile
        file = QueueFile(Path(sys.argv[1]))
        file.load()
        file.save(lambda: [QueuedAlert(name="drag", instance="", occurrence="1@None",
            priority=Priority.ALARM, state=AlertState.ACTIVE_UNACKNOWLEDGED,
            idempotency_key="k", timestamp="0", body=b"body")])
        os.kill(os.getpid(), signal.SIGKILL)
    """
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(program), str(tmp_path / "q.db")], check=False
    )
    assert done.returncode == -9
    (kept,) = load(tmp_path / "q.db")
    assert (kept.idempotency_key, kept.body) == ("k", b"body")


def test_a_torn_end_costs_at_most_what_was_being_written(tmp_path: Path) -> None:
    """The log cut off at any length: the first entry is there, the second whole or not at all."""
    file = QueueFile(tmp_path / "q.db")
    file.load()
    file.save(lambda: [A])
    wal = tmp_path / "q.db-wal"
    sure_bytes = wal.stat().st_size
    file.save(lambda: [A, B])
    full_bytes = wal.stat().st_size
    assert full_bytes > sure_bytes
    seen = set()
    for number, cut_bytes in enumerate(range(sure_bytes, full_bytes + 1, 61)):
        folder = tmp_path / str(number)
        folder.mkdir()
        shutil.copy(tmp_path / "q.db", folder)
        (folder / "q.db-wal").write_bytes(wal.read_bytes()[:cut_bytes])
        found = load(folder / "q.db")
        assert found in ([A], [A, B])
        seen.add(len(found))
    assert 1 in seen
    file.close()
    assert load(tmp_path / "q.db") == [A, B]


@pytest.mark.parametrize("kind", ["text", "torn"])
def test_a_damaged_file_is_moved_aside_and_a_new_one_begun(tmp_path: Path, kind: str) -> None:
    """Nothing is deleted, and the notifier works on."""
    path = tmp_path / "q.db"
    file = QueueFile(path)
    file.load()
    file.save(lambda: [entry(str(number), body=b"x" * 900) for number in range(30)])
    file.close()
    old = path.read_bytes()
    path.write_bytes(b"no database " * 400 if kind == "text" else old[:4096] + b"\x55" * 8192)
    for number in (1, 2):
        again = QueueFile(path)
        if number == 2:
            path.write_bytes(b"once more " * 400)
        assert again.load() == []
        again.save(lambda: [A])
        again.close()
        assert (tmp_path / f"q.db.damaged-{number}").exists()
    assert load(path) == [A]


def test_one_of_a_newer_program_is_left_alone_and_told(tmp_path: Path) -> None:
    """What waits in it is not ours to judge; alerts are sent all the same, from memory."""
    path = tmp_path / "q.db"
    file = QueueFile(path)
    file.load()
    file.save(lambda: [A])
    file.close()
    with sqlite3.connect(path) as other:
        other.execute("PRAGMA user_version = 99")
    other.close()
    before = path.read_bytes()
    with pytest.raises(NotifierError, match="version 99") as refused:
        QueueFile(path).load()
    assert "move the file away" in refused.value.remedy
    assert path.read_bytes() == before


def test_a_row_that_makes_no_sense_is_left_out(tmp_path: Path) -> None:
    """An alert of a later version must not keep the others from being sent."""
    path = tmp_path / "q.db"
    file = QueueFile(path)
    file.load()
    file.save(lambda: [A, B])
    file.close()
    with sqlite3.connect(path) as other:
        other.execute("UPDATE waiting SET priority = 'emergency' WHERE idempotency_key = 'a'")
    other.close()
    file = QueueFile(path)
    assert file.load() == [B]
    file.save(lambda: [B])
    file.close()
    with sqlite3.connect(path) as other:
        assert other.execute("SELECT count(*) FROM waiting").fetchone()[0] == 1
    other.close()


def test_a_disk_that_cannot_be_written_is_told_and_tried_again(tmp_path: Path) -> None:
    """As soon as it can be, everything that still waits is saved."""
    folder = tmp_path / "mount"
    file = QueueFile(folder / "q.db")
    for work in (file.load, lambda: file.save(lambda: [A])):
        with pytest.raises(NotifierError, match=r"q\.db") as caught:
            work()
        assert caught.value.remedy
    folder.mkdir()
    assert file.load() == []
    file.save(lambda: [A, B])
    file.close()
    assert load(folder / "q.db") == [A, B]


def test_a_lock_held_by_another_program_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is lost: the next save writes it."""
    monkeypatch.setattr("driftlead.notify.durable_queue_file._BUSY_S", 0.01)
    path = tmp_path / "q.db"
    file = QueueFile(path)
    file.load()
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(NotifierError, match="locked"):
        file.save(lambda: [A])
    other.execute("ROLLBACK")
    other.close()
    file.save(lambda: [A, B])
    file.close()
    assert load(path) == [A, B]


def test_a_closed_file_says_so(tmp_path: Path) -> None:
    """And is not opened again behind anybody's back."""
    file = QueueFile(tmp_path / "q.db")
    file.close()
    with pytest.raises(NotifierError, match="was closed"):
        file.save(lambda: [A])
    assert not (tmp_path / "q.db").exists()
