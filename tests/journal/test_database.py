"""Opening a database of ours; the journal's and the records' own tests open theirs by it too."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from attrs import evolve

from driftlead.errors import JournalError
from driftlead.journal.database import (
    Schema,
    is_damage,
    open_database,
    open_or_begin_anew,
    primary_code,
)

SCHEMA = Schema(
    what="a list of marks",
    application_id=0x6D61726B,
    migrations=(("CREATE TABLE mark (name TEXT NOT NULL)",),),
)
UNSIGNED = evolve(SCHEMA, application_id=0)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where it is to be."""
    return tmp_path / "marks.db"


def write(path: Path, schema: Schema = SCHEMA) -> None:
    """Begin one that has a mark in it."""
    with closing(open_database(path, schema, busy_s=1.0)) as connection:
        connection.execute("INSERT INTO mark VALUES ('pier')")


def read(path: Path, schema: Schema = SCHEMA) -> list[tuple[str]]:
    """What is in it, as another opening finds it."""
    with closing(open_database(path, schema, busy_s=1.0)) as connection:
        return connection.execute("SELECT name FROM mark").fetchall()


def test_it_is_begun_with_its_version_and_owner_and_is_durable(path: Path) -> None:
    write(path)
    assert read(path) == [("pier",)]
    with closing(open_database(path, SCHEMA, busy_s=1.0)) as connection:
        for pragma, wanted in (
            ("user_version", 1),
            ("application_id", SCHEMA.application_id),
            ("journal_mode", "wal"),
            ("synchronous", 2),
        ):
            assert connection.execute(f"PRAGMA {pragma}").fetchone() == (wanted,)


def test_one_that_was_written_without_a_sign_of_its_owner_is_opened_without_one(
    path: Path,
) -> None:
    """Such a database may be asked for by the id 0; by any other it is somebody else's."""
    with closing(sqlite3.connect(path, isolation_level=None)) as older:
        older.execute("CREATE TABLE mark (name TEXT NOT NULL)")
        older.execute("INSERT INTO mark VALUES ('rock')")
        older.execute("PRAGMA user_version = 1")
    assert read(path, UNSIGNED) == [("rock",)]
    with pytest.raises(JournalError, match="something else, not a list of marks"):
        open_database(path, SCHEMA, busy_s=1.0)


def test_a_newer_one_is_left_alone(path: Path) -> None:
    write(path, evolve(SCHEMA, migrations=(*SCHEMA.migrations, ())))
    before = path.read_bytes()
    with pytest.raises(JournalError, match="a list of marks of version 2; this driftlead knows 1"):
        open_or_begin_anew(path, SCHEMA, busy_s=1.0)
    assert path.read_bytes() == before


def test_a_damaged_one_is_named_as_such_or_moved_aside_and_begun_anew(path: Path) -> None:
    path.write_bytes(b"no database at all " * 300)
    with pytest.raises(sqlite3.DatabaseError) as caught:
        open_database(path, SCHEMA, busy_s=1.0)
    assert is_damage(caught.value)
    connection, aside = open_or_begin_anew(path, SCHEMA, busy_s=1.0)
    with closing(connection):
        assert connection.execute("SELECT count(*) FROM mark").fetchone() == (0,)
    assert aside == path.with_name("marks.db.damaged-1")
    assert aside.read_bytes().startswith(b"no database")


def test_a_whole_one_is_not_moved(path: Path) -> None:
    write(path)
    connection, aside = open_or_begin_anew(path, SCHEMA, busy_s=1.0)
    connection.close()
    assert aside is None
    assert read(path) == [("pier",)]


def test_one_that_is_locked_is_not_taken_for_damaged(path: Path) -> None:
    """It is left where it is, however long another program holds it."""
    write(path)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(sqlite3.OperationalError) as caught:
            open_or_begin_anew(path, SCHEMA, busy_s=0.0)
        assert primary_code(caught.value) == sqlite3.SQLITE_BUSY
        assert not is_damage(caught.value)
        other.execute("ROLLBACK")
    assert [each.name for each in path.parent.glob("*damaged*")] == []
