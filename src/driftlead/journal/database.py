"""How each of our SQLite databases is opened: ours, whole, durable, brought to the latest version.

Transactions are written out (``transaction``), and what one has committed is on the disk.
"""

import sqlite3
from contextlib import suppress
from pathlib import Path
from typing import Final

from attrs import frozen

from driftlead.errors import JournalError
from driftlead.journal.sync_folder import sync_folder
from driftlead.journal.transaction import transaction

_DAMAGE: Final = frozenset({sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB})
# The log first: were the power cut half-way, a new database must never meet an old log.
_FILE_ENDINGS: Final = ("-wal", "-shm", "-journal", "")


@frozen(kw_only=True)
class Schema:
    """What is in a database of ours.

    ``what`` names it in messages (``a journal``). ``application_id`` is in the file's header and
    tells it from others; 0 is in every file that says nothing. ``migrations``: step n takes a
    database of version n to n + 1, and steps are only ever added.
    """

    what: str
    application_id: int
    migrations: tuple[tuple[str, ...], ...]


def open_database(path: Path, schema: Schema, *, busy_s: float) -> sqlite3.Connection:
    """Open a database, or begin it; ``busy_s`` is how long to wait for another's lock.

    It may be used from any thread, one at a time. Raises sqlite3.Error when the file cannot be
    used (``is_damage`` says whether it is damaged), JournalError when it is not ours or is newer.
    """
    # No implicit transactions (isolation_level None): ours are written out.
    connection = sqlite3.connect(
        path, timeout=busy_s, isolation_level=None, check_same_thread=False
    )
    try:
        _check_owner(path, connection, schema)
        connection.execute("PRAGMA journal_mode = WAL")
        # FULL: every commit waits until the log is on the disk, not only in the system's memory.
        connection.execute("PRAGMA synchronous = FULL")
        _check_health(connection)
        # This also proves, at the start and not in the night, that it can be written.
        with transaction(connection):
            _migrate(connection, schema)
    except BaseException:
        connection.close()
        raise
    return connection


def bring_up_to_date(path: Path, connection: sqlite3.Connection, schema: Schema) -> None:
    """Check a copy of the database at ``path`` as ``open_database`` does, and migrate it."""
    _check_owner(path, connection, schema)
    _check_health(connection)
    with transaction(connection):
        _migrate(connection, schema)


def open_or_begin_anew(
    path: Path, schema: Schema, *, busy_s: float
) -> tuple[sqlite3.Connection, Path | None]:
    """Open a database; a damaged one is first moved aside, and its new name given.

    It is never deleted. (SQLite has by then written into it whatever was whole in its log.)
    Raises as ``open_database`` does, and JournalError when it cannot be moved.
    """
    try:
        return open_database(path, schema, busy_s=busy_s), None
    except sqlite3.Error as error:
        if not is_damage(error):
            raise
    aside = _move_aside(path)
    return open_database(path, schema, busy_s=busy_s), aside


def is_damage(error: sqlite3.Error) -> bool:
    """Whether an error says that the file is damaged."""
    return primary_code(error) in _DAMAGE


def primary_code(error: sqlite3.Error) -> int:
    """SQLite's result code without the details, 0 if the error has none."""
    # The higher bits only tell more of the same.
    return (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF


def _check_owner(path: Path, connection: sqlite3.Connection, schema: Schema) -> None:
    version = _version(connection)
    owner = int(connection.execute("PRAGMA application_id").fetchone()[0])
    tables = int(connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0])
    if owner != schema.application_id and (owner or version or tables):
        raise JournalError(
            f"{path} is a database of something else, not {schema.what}.",
            remedy="Give another path.",
        )
    known = len(schema.migrations)
    if version > known:
        raise JournalError(
            f"{path} is {schema.what} of version {version}; this driftlead knows {known}.",
            remedy="Run the newer driftlead that wrote it, or move the file away.",
        )


def _check_health(connection: sqlite3.Connection) -> None:
    verdict = connection.execute("PRAGMA quick_check(1)").fetchone()[0]
    if verdict != "ok":
        error = sqlite3.DatabaseError(verdict)
        error.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
        raise error


def _migrate(connection: sqlite3.Connection, schema: Schema) -> None:
    version = _version(connection)
    for steps in schema.migrations[version:]:
        for step in steps:
            connection.execute(step)
    if version < len(schema.migrations):
        connection.execute(f"PRAGMA application_id = {schema.application_id}")
        connection.execute(f"PRAGMA user_version = {len(schema.migrations)}")


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
            f"{path} is damaged and cannot be moved aside: {error.strerror}.",
            remedy="Move it away by hand and keep it.",
        ) from error
    return _beside(path, number, "")


def _beside(path: Path, number: int, ending: str) -> Path:
    return path.with_name(f"{path.name}.damaged-{number}{ending}")
