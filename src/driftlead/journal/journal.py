"""The journal: what must survive a power cut, in one SQLite database.

It holds the snapshot of the watch, the events in order, and a few small values. What ``save``
has confirmed is on the disk. It never writes a time of its own.
"""

import datetime as dt
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from attrs import frozen

from driftlead.errors import JournalError
from driftlead.journal.database import Schema, open_or_begin_anew, primary_code
from driftlead.journal.prune import EventRow, choose_last_doomed, event_time
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

SCHEMA: Final = Schema(
    what="a journal",
    application_id=0x64726674,  # "drft": tells our databases from others
    migrations=MIGRATIONS,
)
PRUNED_AT_ONCE: Final = 1000
"""So that a save of the watch never waits long behind it."""
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
        begun.
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
            connection, aside = open_or_begin_anew(path, SCHEMA, busy_s=busy_s)
        except sqlite3.Error as error:
            raise _journal_error(path, "opened", error) from error
        return cls(path, connection, recovered_from=aside)

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

    def prune(self, *, keep_s: float, cap_bytes: int, protect_from: int) -> int:
        """Drop old events, at most ``PRUNED_AT_ONCE`` of them; how many have gone.

        Age is counted back from the newest event. Those numbered ``protect_from`` and above stay,
        and the newest in any case: numbers go on from it. The file does not shrink, but what is
        freed is used again.
        """
        with self._transaction("pruned"):
            newest = self._connection.execute(
                "SELECT event_id, body FROM event ORDER BY event_id DESC LIMIT 1"
            ).fetchone()
            if newest is None:
                return 0
            newest_time = event_time(newest[1])
            rows = self._connection.execute(
                "SELECT event_id, body FROM event ORDER BY event_id LIMIT ?", (PRUNED_AT_ONCE,)
            ).fetchall()
            total = self._connection.execute(
                "SELECT sum(length(CAST(body AS BLOB))) FROM event"
            ).fetchone()
            last = choose_last_doomed(
                (EventRow(event_id, text) for event_id, text in rows),
                total_bytes=int(total[0] or 0),
                cap_bytes=cap_bytes,
                oldest=None if newest_time is None else newest_time - dt.timedelta(seconds=keep_s),
                protect_from=min(protect_from, int(newest[0])),
            )
            if last is None:
                return 0
            return self._connection.execute(
                "DELETE FROM event WHERE event_id <= ?", (last,)
            ).rowcount

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


def _journal_error(path: Path, done: str, error: sqlite3.Error) -> JournalError:
    remedy = _REMEDIES.get(primary_code(error), _OTHER_REMEDY)
    return JournalError(f"The journal {path} cannot be {done}: {error}.", remedy=remedy)
