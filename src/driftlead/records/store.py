"""The records of anchorings, in one SQLite database of their own."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Final

import cattrs
from attrs import evolve, frozen

from driftlead.errors import JournalError, UserInputError
from driftlead.journal.database import Schema, is_damage, open_database, primary_code
from driftlead.journal.reading import copy_in_memory, is_forbidden, who_may
from driftlead.journal.transaction import transaction
from driftlead.records.anchoring import Anchoring, TrackSample, merged

MIGRATIONS: Final[tuple[tuple[str, ...], ...]] = (
    (
        "CREATE TABLE anchoring (number INTEGER PRIMARY KEY AUTOINCREMENT,"
        " began_ms INTEGER NOT NULL UNIQUE, body TEXT NOT NULL, track TEXT NOT NULL)",
        "CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
    ),
)
"""Step n takes a database of version n to n + 1. Steps are only ever added."""

SCHEMA: Final = Schema(
    what="a file of anchorings",
    application_id=0x64726672,  # "drfr": tells our databases from others, and the journal
    migrations=MIGRATIONS,
)
_CONVERTER: Final = cattrs.Converter()
_MAKE_ROOM: Final = "Check the disk, and that you may write there."
_MOVE_AWAY: Final = (
    "Move it away and keep it; what the journal and the recordings still have is read in again."
)


@frozen
class Stored:
    """An anchoring with the number it has in the records."""

    number: int
    anchoring: Anchoring


class Records:
    """An open database of anchorings. One thread at a time may use it.

    ``is_copy``: what is saved is gone when it is closed (see ``open_or_copy``).
    Every method raises JournalError, naming the file and a remedy, when the database fails.
    """

    def __init__(
        self, path: Path, connection: sqlite3.Connection, *, is_copy: bool = False
    ) -> None:
        self.path = path
        self.is_copy = is_copy
        self._connection = connection

    @classmethod
    def open(cls, path: Path, *, busy_s: float = 5.0) -> "Records":
        """Open the records, or begin them. Raises JournalError if that cannot be."""
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise _error(path, "opened", error) from error
        try:
            return cls(path, open_database(path, SCHEMA, busy_s=busy_s))
        except sqlite3.Error as error:
            raise _error(path, "opened", error) from error

    @classmethod
    def open_or_copy(cls, path: Path, *, busy_s: float = 5.0) -> "Records":
        """Open the records; where one may only read, a copy of them in memory.

        Raises JournalError if they cannot be read either.
        """
        try:
            return cls.open(path, busy_s=busy_s)
        except JournalError as error:
            if not is_forbidden(error.__cause__):
                raise
        try:
            return cls(path, copy_in_memory(path, SCHEMA, busy_s=busy_s), is_copy=True)
        except (sqlite3.Error, OSError) as error:
            raise _error(path, "read", error) from error

    def save(self, anchoring: Anchoring) -> int:
        """Keep an anchoring, together with what is known of it already; give its number."""
        began_ms = round(anchoring.began_utc_s * 1000.0)
        with self._transaction():
            row = self._connection.execute(
                "SELECT number, body, track FROM anchoring WHERE began_ms = ?", (began_ms,)
            ).fetchone()
            whole = anchoring if row is None else merged(self._structured(row), anchoring)
            body, track = _texts(whole)
            # An insert that turns into an update would use a number up each time.
            if row is not None:
                self._connection.execute(
                    "UPDATE anchoring SET body = ?, track = ? WHERE number = ?",
                    (body, track, row[0]),
                )
                return int(row[0])
            inserted = self._connection.execute(
                "INSERT INTO anchoring (began_ms, body, track) VALUES (?, ?, ?)",
                (began_ms, body, track),
            )
        return int(inserted.lastrowid or 0)

    def all(self, *, with_tracks: bool = False) -> tuple[Stored, ...]:
        """Give every anchoring, the oldest first; tracks only if they are asked for."""
        track = "track" if with_tracks else "'[]'"
        with self._guarded("read"):
            rows = self._connection.execute(
                f"SELECT number, body, {track} FROM anchoring ORDER BY began_ms"  # noqa: S608
            ).fetchall()
        return tuple(Stored(int(row[0]), self._structured(row)) for row in rows)

    def get(self, number: int) -> Stored:
        """Give one anchoring with its track. Raises UserInputError if there is none."""
        with self._guarded("read"):
            row = self._connection.execute(
                "SELECT number, body, track FROM anchoring WHERE number = ?", (number,)
            ).fetchone()
        if row is None:
            raise UserInputError(
                f"There is no anchoring number {number} in {self.path}.",
                remedy="driftlead anchorages lists them with their numbers.",
            )
        return Stored(number, self._structured(row))

    def newest(self) -> int | None:
        """Give the number of the anchoring that began last, None if there is none."""
        with self._guarded("read"):
            row = self._connection.execute(
                "SELECT number FROM anchoring ORDER BY began_ms DESC LIMIT 1"
            ).fetchone()
        return None if row is None else int(row[0])

    def unfinished(self) -> Anchoring | None:
        """Give the newest anchoring if it has not ended, for a watch that is taken up again."""
        with self._guarded("read"):
            row = self._connection.execute(
                "SELECT number, body, track FROM anchoring ORDER BY began_ms DESC LIMIT 1"
            ).fetchone()
        anchoring = None if row is None else self._structured(row)
        return anchoring if anchoring is not None and anchoring.ended_utc_s is None else None

    def call(self, number: int, place: str) -> None:
        """Give the place of an anchoring a name; an empty one takes it away.

        Raises UserInputError for a copy, which would not keep it.
        """
        if self.is_copy:
            raise UserInputError(
                f"The records {self.path} are not yours to write.", remedy=who_may(self.path)
            )
        anchoring = evolve(self.get(number).anchoring, place=place.strip())
        with self._transaction():
            self._connection.execute(
                "UPDATE anchoring SET body = ? WHERE number = ?", (_texts(anchoring)[0], number)
            )

    def note(self, name: str, value: str) -> None:
        """Keep a small value under a name."""
        with self._transaction():
            self._connection.execute(
                "INSERT INTO meta (name, value) VALUES (?, ?)"
                " ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                (name, value),
            )

    def noted(self, name: str) -> str | None:
        """Give the value kept under a name, None if there is none."""
        with self._guarded("read"):
            row = self._connection.execute(
                "SELECT value FROM meta WHERE name = ?", (name,)
            ).fetchone()
        return None if row is None else str(row[0])

    def close(self) -> None:
        """Close the database. Closing twice does no harm."""
        with self._guarded("closed"):
            self._connection.close()

    def __enter__(self) -> "Records":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _structured(self, row: tuple[int, str, str]) -> Anchoring:
        number, body, track = row
        try:
            anchoring = _CONVERTER.structure(json.loads(body), Anchoring)
            samples = tuple(TrackSample(*sample) for sample in json.loads(track))
        except (cattrs.BaseValidationError, ValueError, TypeError) as error:
            raise JournalError(
                f"Anchoring {number} in {self.path} cannot be read ({type(error).__name__}).",
                remedy=_MOVE_AWAY,
            ) from error
        return evolve(anchoring, track=samples)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        with self._guarded("written"), transaction(self._connection):
            yield

    @contextmanager
    def _guarded(self, done: str) -> Iterator[None]:
        try:
            yield
        except sqlite3.Error as error:
            raise _error(self.path, done, error) from error


def _texts(anchoring: Anchoring) -> tuple[str, str]:
    body: dict[str, Any] = _CONVERTER.unstructure(anchoring)
    track = [[s["utc_s"], s["lat_deg"], s["lon_deg"], s["state"]] for s in body.pop("track")]
    return json.dumps(body, sort_keys=True), json.dumps(track, separators=(",", ":"))


def _error(path: Path, done: str, error: sqlite3.Error | OSError) -> JournalError:
    if is_forbidden(error):
        remedy = who_may(path)
    elif isinstance(error, sqlite3.Error) and (is_damage(error) or primary_code(error) == 0):
        remedy = _MOVE_AWAY
    else:
        remedy = _MAKE_ROOM
    return JournalError(f"The records {path} cannot be {done}: {error}.", remedy=remedy)
