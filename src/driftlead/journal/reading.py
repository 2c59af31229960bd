"""Our SQLite databases for those who may read them and not write."""

import errno
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from driftlead.journal.database import Schema, bring_up_to_date, primary_code

_FORBIDDEN: Final = frozenset(
    {
        sqlite3.SQLITE_READONLY,
        sqlite3.SQLITE_PERM,
        sqlite3.SQLITE_AUTH,
        sqlite3.SQLITE_CANTOPEN,
    }
)
_FORBIDDEN_ERRNO: Final = frozenset({errno.EACCES, errno.EPERM, errno.EROFS})


def open_read_only(path: Path, *, busy_s: float) -> sqlite3.Connection:
    """Open a database that is there, so that neither owner nor writer is disturbed.

    Raises sqlite3.Error when it cannot be read.
    """
    uri = f"{path.absolute().as_uri()}?mode=ro"
    connection = sqlite3.connect(uri, uri=True, timeout=busy_s, isolation_level=None)
    try:
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        # SQLite wants to begin the log of one nobody has open, in a folder that may not be
        # written to. Without a log all of it is in the file itself.
        if not is_forbidden(error) or path.with_name(f"{path.name}-wal").exists():
            raise
        return sqlite3.connect(f"{uri}&immutable=1", uri=True, isolation_level=None)
    except BaseException:
        connection.close()
        raise
    return connection


def copy_in_memory(path: Path, schema: Schema, *, busy_s: float) -> sqlite3.Connection:
    """Give a copy that may be written to, of the latest version; a new one if there is none.

    Raises sqlite3.Error or OSError when it cannot be read, JournalError when it is not ours or is
    newer.
    """
    connection = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    try:
        if path.exists():
            with closing(open_read_only(path, busy_s=busy_s)) as stored:
                stored.backup(connection)
        bring_up_to_date(path, connection, schema)
    except BaseException:
        connection.close()
        raise
    return connection


def is_forbidden(error: BaseException | None) -> bool:
    """Whether an error says that one may not, rather than that something is broken."""
    if isinstance(error, sqlite3.Error):
        return primary_code(error) in _FORBIDDEN
    return isinstance(error, OSError) and error.errno in _FORBIDDEN_ERRNO


def who_may(path: Path) -> str:
    """Say as whom to try it: the owner of the file, or of the folder it is in."""
    for each in (path, *path.absolute().parents):
        try:
            owner = each.owner()
        except (OSError, KeyError):
            continue
        return f"{each} belongs to {owner}: say it as {owner}, with sudo -u {owner}."
    return "Say it as the user the daemon runs as: sudo -u driftlead."
