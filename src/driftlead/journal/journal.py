"""The journal: what must survive a power cut, in one SQLite database.

It holds the snapshot of the watch, the events in order, and a few small values. What ``save``
has confirmed is on the disk. It never writes a time of its own.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from attrs import frozen

from driftlead.errors import JournalError
from driftlead.journal.sync_folder import sync_folder
from driftlead.journal.transaction import transaction

MIGRATIONS: Final[tuple[tuple[str, ...], ...]] = (
    (
        "CREATE TABLE snapshot (only_one INTEGER PRIMARY KEY CHECK (only_one = 1),"
        " body TEXT NOT NULL)",
        "CREATE TABLE event (event_id INTEGER PRIMARY KEY AUTOINCREMENT, body TEXT NOT NULL)",
        "CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
    ),
)
"""Step n takes a database of version n to n + 1. Steps are only ever added."""

_APPLICATION_ID = 0x64726674  # "drft": tells our databases from others
_DAMAGE = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
# The log first: were the power cut half-way, a new database must never meet an old log.
_FILE_ENDINGS = ("-wal", "-shm", "-journal", "")
_REMEDIES = {
    sqlite3.SQLITE_FULL: "The disk is full: free some space on it.",
    sqlite3.SQLITE_READONLY: "It is read-only: check how the disk is mounted and the file's owner.",
    sqlite3.SQLITE_PERM: "Let the user driftlead runs as write there.",
    sqlite3.SQLITE_CANTOPEN: "Check that the path is a file in a folder driftlead may write to.",
    sqlite3.SQLITE_BUSY: "Another program holds it locked: close that program.",
    sqlite3.SQLITE_LOCKED: "Another program holds it locked: close that program.",
    sqlite3.SQLITE_IOERR: "The disk fails: check its connection and its health.",
    sqlite3.SQLITE_CORRUPT: "The file is damaged: restart driftlead, which begins a new one.",
    sqlite3.SQLITE_NOTADB: "The file is damaged: restart driftlead, which begins a new one.",
}
_OTHER_REMEDY = "Check the disk and the file."


@frozen
class JournalledEvent:
    """An event as it was journalled: its number, counting up from 1, and its JSON text."""

    event_id: int
    text: str


class Journal:
    """An open journal. One thread at a time may use it.

    ``recovered_from`` is the damaged file that was moved aside at opening, None if there was none.
    Every method raises JournalError, naming the file and a remedy, when the database fails.
    """

    def __init__(
        self, path: Path, connection: sqlite3.Connection, *, recovered_from: Path | None = None
    ) -> None:
        self.path = path
        self.recovered_from = recovered_from
        self._connection = connection

    @classmethod
    def open(cls, path: Path, *, busy_s: float = 5.0) -> "Journal":
        """Open the journal, or begin one; ``busy_s`` is how long to wait for another's lock.

        A damaged file is moved aside to ``<name>.damaged-<n>``, never deleted, and a new journal
        begun. (SQLite has by then written into it whatever was whole in its log.)
        Raises JournalError if the file cannot be written, or is not ours.
        """
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise JournalError(
                f"The folder for the journal {path} cannot be made: {error.strerror}.",
                remedy="Check the path and who owns the folders in it.",
            ) from error
        try:
            return cls(path, _connect(path, busy_s))
        except sqlite3.Error as error:
            if _primary_code(error) not in _DAMAGE:
                raise _journal_error(path, "opened", error) from error
        aside = _move_aside(path)
        try:
            return cls(path, _connect(path, busy_s), recovered_from=aside)
        except sqlite3.Error as error:
            raise _journal_error(path, "begun anew", error) from error

    def save(self, snapshot: str, events: Sequence[str]) -> None:
        """Replace the snapshot and add the events: both or neither, on the disk on return."""
        with self._transaction("written"):
            self._connection.execute(
                "INSERT INTO snapshot (only_one, body) VALUES (1, ?)"
                " ON CONFLICT (only_one) DO UPDATE SET body = excluded.body",
                (snapshot,),
            )
            self._connection.executemany(
                "INSERT INTO event (body) VALUES (?)", [(event,) for event in events]
            )

    def load_snapshot(self) -> str | None:
        """Give the snapshot saved last, None if none ever was."""
        return self._text("SELECT body FROM snapshot")

    def events(self, after_id: int = 0, limit: int = 1000) -> tuple[JournalledEvent, ...]:
        """Give the events numbered above ``after_id``, the oldest first, at most ``limit``."""
        with self._guarded("read"):
            rows = self._connection.execute(
                "SELECT event_id, body FROM event WHERE event_id > ? ORDER BY event_id LIMIT ?",
                (after_id, limit),
            ).fetchall()
        return tuple(JournalledEvent(event_id, text) for event_id, text in rows)

    def last_event_id(self) -> int:
        """Give the number of the newest event, 0 if there never was one."""
        with self._guarded("read"):
            row = self._connection.execute("SELECT max(event_id) FROM event").fetchone()
        return int(row[0] or 0)

    def put(self, name: str, value: str) -> None:
        """Keep a small value under a name, in place of the one before; on the disk on return."""
        with self._transaction("written"):
            self._connection.execute(
                "INSERT INTO meta (name, value) VALUES (?, ?)"
                " ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                (name, value),
            )

    def get(self, name: str) -> str | None:
        """Give the value kept under a name, None if there is none."""
        return self._text("SELECT value FROM meta WHERE name = ?", name)

    def close(self) -> None:
        """Close the database. Closing twice does no harm."""
        with self._guarded("closed"):
            self._connection.close()

    def _text(self, query: str, *arguments: str) -> str | None:
        with self._guarded("read"):
            row = self._connection.execute(query, arguments).fetchone()
        return None if row is None else str(row[0])

    @contextmanager
    def _transaction(self, done: str) -> Iterator[None]:
        with self._guarded(done), transaction(self._connection):
            yield

    @contextmanager
    def _guarded(self, done: str) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise _journal_error(self.path, done, error) from error


def _connect(path: Path, busy_s: float) -> sqlite3.Connection:
    # No implicit transactions (isolation_level None): ours are written out. The writer's thread
    # opens the journal, another may close it; SQLite itself locks each call.
    connection = sqlite3.connect(
        path, timeout=busy_s, isolation_level=None, check_same_thread=False
    )
    try:
        _check_owner(path, connection)
        connection.execute("PRAGMA journal_mode = WAL")
        # FULL: every commit waits until the log is on the disk, not only in the system's memory.
        connection.execute("PRAGMA synchronous = FULL")
        _check_health(connection)
        # This also proves, at the start and not in the night, that the journal can be written.
        with transaction(connection):
            _migrate(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _check_health(connection: sqlite3.Connection) -> None:
    verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if verdict != "ok":
        error = sqlite3.DatabaseError(verdict)
        error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
        raise error


def _check_owner(path: Path, connection: sqlite3.Connection) -> None:
    version = _version(connection)
    owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    if owner != _APPLICATION_ID and (owner or version or tables):
        raise JournalError(
            f"{path} is the database of another program.",
            remedy="Give the journal a path of its own.",
        )
    if version > len(MIGRATIONS):
        raise JournalError(
            f"The journal {path} is of version {version}; this driftlead knows {len(MIGRATIONS)}.",
            remedy="Run the newer driftlead that wrote it, or move the file away.",
        )


def _migrate(connection: sqlite3.Connection) -> None:
    version = _version(connection)
    for steps in MIGRATIONS[version:]:
        for step in steps:
            connection.execute(step)
    if version < len(MIGRATIONS):
        connection.execute(f"PRAGMA application_id = {_APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def _move_aside(path: Path) -> Path:
    path = path.resolve()  # SQLite keeps its log beside the file itself, not beside a link to it
    number = 1
    while any(_beside(path, number, ending).exists() for ending in _FILE_ENDINGS):
        number += 1
    try:
        for ending in _FILE_ENDINGS:
            with suppress(FileNotFoundError):
                path.with_name(path.name + ending).rename(_beside(path, number, ending))
        sync_folder(path.parent)
    except OSError as error:
        raise JournalError(
            f"The journal {path} is damaged and cannot be moved aside: {error.strerror}.",
            remedy="Move it away by hand and keep it.",
        ) from error
    return _beside(path, number, "")


def _beside(path: Path, number: int, ending: str) -> Path:
    return path.with_name(f"{path.name}.damaged-{number}{ending}")


def _primary_code(error: sqlite3.Error) -> int | None:
    code = getattr(error, "sqlite_errorcode", None)
    return None if code is None else code & 0xFF  # the higher bits only tell more of the same


def _journal_error(path: Path, done: str, error: sqlite3.Error) -> JournalError:
    remedy = _REMEDIES.get(_primary_code(error) or 0, _OTHER_REMEDY)
    return JournalError(f"The journal {path} cannot be {done}: {error}.", remedy=remedy)
