"""One SQLite transaction: all of it, or nothing."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """Commit what is done inside; roll it back if anything is raised."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        # SQLite may have rolled back already, and a failing disk may fail here too.
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise
