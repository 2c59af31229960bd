"""The queue of a notifier on the disk: one small SQLite database.

What ``save`` has done is on the disk, whole, whatever happens to the power after it: SQLite's
write-ahead log with synchronous = FULL, whose torn end SQLite passes over at the next opening.
"""

import logging
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from driftlead.alerts.alert import AlertState, Priority
from driftlead.errors import JournalError, NotifierError
from driftlead.journal.database import Schema, open_or_begin_anew
from driftlead.journal.transaction import transaction
from driftlead.notify.durable_queue import QueuedAlert

_LOGGER = logging.getLogger(__name__)

_BUSY_S: Final = 2.0
_TABLE: Final = """
CREATE TABLE waiting (
    entry_id INTEGER PRIMARY KEY, idempotency_key TEXT NOT NULL UNIQUE, name TEXT NOT NULL,
    instance TEXT NOT NULL, occurrence TEXT NOT NULL, priority TEXT NOT NULL, state TEXT NOT NULL,
    timestamp TEXT NOT NULL, body BLOB NOT NULL
)
"""
_INSERT: Final = """
INSERT INTO waiting (idempotency_key, name, instance, occurrence, priority, state, timestamp, body)
VALUES (?, ?, ?, ?, ?, ?, ?, ?)
"""
_SCHEMA: Final = Schema(what="a queue of alerts", application_id=0, migrations=((_TABLE,),))


class QueueFile:
    """One notifier's file. Its methods may be called from any thread.

    ``load`` and ``save`` open it when need be, a damaged one is moved aside and never deleted.
    They raise NotifierError, with a remedy, when the disk or the file fails.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._connection: sqlite3.Connection | None = None
        self._lock = threading.Lock()
        self._on_disk: set[str] = set()
        self._closed = False

    def load(self) -> list[QueuedAlert]:
        """Give everything that waits, in order of arrival; a row that makes no sense is left out.

        The next ``save`` removes what is not given back to it, such rows too.
        """
        with self._opened() as connection:
            rows = connection.execute("SELECT * FROM waiting ORDER BY entry_id").fetchall()
            self._on_disk = {row["idempotency_key"] for row in rows}
        return [entry for row in rows if (entry := _entry(row)) is not None]

    def save(self, entries: Callable[[], Iterable[QueuedAlert]]) -> None:
        """Make the file hold exactly these, on the disk on return: all or nothing.

        ``entries`` is called when the file is free, so that of several calls the last to write
        writes what is then so.
        """
        with self._opened() as connection:
            wanted = {entry.idempotency_key: entry for entry in entries()}
            new = [_row(entry) for key, entry in wanted.items() if key not in self._on_disk]
            gone = [(key,) for key in self._on_disk - wanted.keys()]
            if not new and not gone:
                return
            with transaction(connection):
                connection.executemany("DELETE FROM waiting WHERE idempotency_key = ?", gone)
                connection.executemany(_INSERT, new)
            self._on_disk = set(wanted)

    def close(self) -> None:
        """Close it for good. Closing twice does no harm."""
        with self._lock:
            self._closed = True
            if self._connection is not None:
                self._connection.close()
                self._connection = None

    @contextmanager
    def _opened(self) -> Iterator[sqlite3.Connection]:
        with self._lock:
            if self._closed:
                raise NotifierError(f"{self.path} was closed.", remedy="Start driftlead again.")
            try:
                if self._connection is None:
                    self._connection = _opened_or_begun(self.path)
                yield self._connection
            except sqlite3.Error as error:
                raise _file_error(self.path, error) from error


def _opened_or_begun(path: Path) -> sqlite3.Connection:
    try:
        connection, aside = open_or_begin_anew(path, _SCHEMA, busy_s=_BUSY_S)
    except JournalError as error:
        raise NotifierError(error.message, remedy=error.remedy) from error
    if aside is not None:
        _LOGGER.error("%s was damaged and is now %s; what waited in it is lost", path, aside)
    connection.row_factory = sqlite3.Row
    return connection


def _file_error(path: Path, error: sqlite3.Error) -> NotifierError:
    return NotifierError(
        f"Alerts that wait cannot be kept in {path}: {error}.",
        remedy="Check the disk, and that the user driftlead runs as may write there.",
    )


def _row(entry: QueuedAlert) -> tuple[object, ...]:
    return (
        entry.idempotency_key,
        entry.name,
        entry.instance,
        entry.occurrence,
        entry.priority.value,
        entry.state.value,
        entry.timestamp,
        entry.body,
    )


def _entry(row: sqlite3.Row) -> QueuedAlert | None:
    try:
        return QueuedAlert(
            name=row["name"],
            instance=row["instance"],
            occurrence=row["occurrence"],
            priority=Priority(row["priority"]),
            state=AlertState(row["state"]),
            idempotency_key=row["idempotency_key"],
            timestamp=row["timestamp"],
            body=row["body"],
        )
    except ValueError:
        _LOGGER.warning("A waiting alert cannot be read and is left out: %s", row["name"])
        return None
