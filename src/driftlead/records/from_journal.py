"""Anchorings from the journal's events, which are read and never written here."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any, Final

from driftlead.errors import JournalError
from driftlead.journal.reading import is_forbidden, open_read_only, who_may
from driftlead.records.builder import ENDS, AnchoringBuilder
from driftlead.records.store import Records

_SEEN: Final = "journal_seen"
_BUSY_S: Final = 5.0


def update_from_journal(records: Records, journal: Path) -> int:
    """Add the anchorings the journal has told of since the last time; give how many were touched.

    An anchoring that goes on is kept too, and read again the next time. No journal is no
    anchoring. Raises JournalError if there is one that cannot be read.
    """
    try:
        if not journal.exists():
            return 0
    except OSError as error:
        raise _unreadable(journal, error) from error
    seen = _seen(records, journal)
    builder = AnchoringBuilder()
    touched, begun_at, anchored = 0, seen, False
    for event_id, event in _events(journal, seen):
        if event.get("kind") == "state":
            if builder.begins(event):
                begun_at, anchored = event_id - 1, True
            elif event.get("name") in ENDS:
                anchored = False
        ended = builder.hear(event)
        if ended is not None:
            records.save(ended)
            touched += 1
        if not anchored:
            begun_at = event_id
    if builder.under_way is not None:
        records.save(builder.under_way)
        touched += 1
    records.note(_SEEN, json.dumps({"journal": str(journal.absolute()), "event_id": begun_at}))
    return touched


def read_up_to(records: Records, journal: Path) -> int:
    """Give the last event of the journal that is not needed any more; 0 if none is known."""
    return _seen(records, journal)


def _seen(records: Records, journal: Path) -> int:
    """The last event read; 0 for another journal, or one begun anew since."""
    noted = json.loads(records.noted(_SEEN) or "{}")
    if noted.get("journal") != str(journal.absolute()):
        return 0
    seen = int(noted.get("event_id", 0))
    return seen if seen <= _last_id(journal) else 0


def _events(journal: Path, after_id: int) -> Iterator[tuple[int, dict[str, Any]]]:
    try:
        with closing(open_read_only(journal, busy_s=_BUSY_S)) as connection:
            for event_id, body in connection.execute(
                "SELECT event_id, body FROM event WHERE event_id > ? ORDER BY event_id",
                (after_id,),
            ):
                event = json.loads(body)
                if isinstance(event, dict):
                    yield int(event_id), event
    except (sqlite3.Error, ValueError) as error:
        raise _unreadable(journal, error) from error


def _last_id(journal: Path) -> int:
    try:
        with closing(open_read_only(journal, busy_s=_BUSY_S)) as connection:
            row = connection.execute("SELECT max(event_id) FROM event").fetchone()
    except sqlite3.Error as error:
        raise _unreadable(journal, error) from error
    return int(row[0] or 0)


def _unreadable(journal: Path, error: Exception) -> JournalError:
    if is_forbidden(error):
        return JournalError(
            f"The journal {journal} cannot be read: {error}.", remedy=who_may(journal)
        )
    return JournalError(
        f"The journal {journal} cannot be read: {error}.",
        remedy="Read it as the user the daemon runs as, such as: "
        "sudo -u driftlead driftlead anchorages.",
    )
