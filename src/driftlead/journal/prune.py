"""What goes when it takes too much room, or is too old: recordings, and events of the journal."""

import datetime as dt
import json
from collections.abc import Iterable, Sequence

from attrs import frozen

from driftlead.journal.parts import Part


@frozen
class Pruning:
    """The parts to delete, the oldest first, and the bytes that are left then."""

    doomed: tuple[Part, ...]
    left_bytes: int


def choose_doomed(parts: Sequence[Part], *, cap_bytes: int, protect_from: int) -> Pruning:
    """Choose the oldest parts until the others take at most ``cap_bytes``.

    ``parts`` come oldest first. Parts numbered ``protect_from`` and above stay, even if they alone
    take more.
    """
    left_bytes = sum(part.size_bytes for part in parts)
    doomed = []
    for part in parts:
        if left_bytes <= cap_bytes or part.sequence >= protect_from:
            break
        doomed.append(part)
        left_bytes -= part.size_bytes
    return Pruning(tuple(doomed), left_bytes)


@frozen
class EventRow:
    """An event of the journal as it may be dropped: its number and its JSON text."""

    event_id: int
    text: str


def choose_last_doomed(
    rows: Iterable[EventRow],
    *,
    total_bytes: int,
    cap_bytes: int,
    oldest: dt.datetime | None,
    protect_from: int,
) -> int | None:
    """Choose up to which event the journal is emptied; None: none goes.

    ``rows`` come oldest first. An event goes if it is older than ``oldest``, or while all together
    take more than ``cap_bytes``. What is numbered ``protect_from`` and above stays, whatever it
    takes. Events stand in the order of their times, so one that is young enough ends the search;
    one without a time (from before the receiver told it) is as old as the next that has one.
    """
    last: int | None = None
    for row in rows:
        if row.event_id >= protect_from:
            break
        moment = event_time(row.text)
        too_old = moment is not None and oldest is not None and moment < oldest
        if too_old or total_bytes > cap_bytes:
            last = row.event_id
        elif moment is not None:
            break
        total_bytes -= len(row.text.encode())
    return last


def event_time(text: str) -> dt.datetime | None:
    """When an event was; None if it does not say."""
    try:
        moment = dt.datetime.fromisoformat(json.loads(text)["t"])
    except (ValueError, KeyError, TypeError):
        return None
    return moment if moment.tzinfo is not None else None
