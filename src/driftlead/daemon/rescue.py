"""Reading the watch out of a journal that cannot be opened as it should be."""

import shutil
import sqlite3
import tempfile
from contextlib import closing, suppress
from pathlib import Path


def rescue_snapshot(journal: Path, *, workspace: Path | None = None) -> str | None:
    """Give the snapshot in ``journal`` if it can still be read, None if not. Never raises.

    A card that has turned read-only still holds the watch, and so may a damaged file. SQLite
    wants to write even to read a log it finds, so this reads a copy, made in ``workspace`` (by
    default where temporary files go) and deleted again. Slow: for a worker thread.
    """
    with (
        suppress(OSError, sqlite3.Error),
        tempfile.TemporaryDirectory(dir=workspace, ignore_cleanup_errors=True) as folder,
    ):
        copy = Path(folder) / "journal.db"
        shutil.copyfile(journal, copy)
        with suppress(FileNotFoundError):
            shutil.copyfile(f"{journal}-wal", f"{copy}-wal")
        with closing(sqlite3.connect(copy)) as connection:
            row = connection.execute("SELECT body FROM snapshot").fetchone()
        return None if row is None else str(row[0])
    return None
