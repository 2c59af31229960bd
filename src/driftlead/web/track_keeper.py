"""Keeps the track of this anchoring on the disk, for a daemon that is started anew."""

import asyncio
import json
import logging
import os
from contextlib import suppress
from pathlib import Path
from typing import Any, Final

from driftlead.errors import UserInputError
from driftlead.geodesy.position import Position
from driftlead.web.track_history import (
    COLUMNS,
    MOST_POINTS,
    SavedTrack,
    TrackHistory,
    TrackToSave,
    saved_row,
)

_LOGGER = logging.getLogger(__name__)
SAVE_EVERY: Final = 30
"""Ticks: so many seconds of the track a power cut may cost."""
_MOST_BYTES: Final = 4 * MOST_POINTS * 120


class TrackKeeper:
    """Reads the file once, behind the daemon's start, and writes to it twice a minute.

    The disk is only ever waited for in a thread. What it will not take is no fault of the watch:
    the recording tells of a failing disk, and the track in memory is whole.
    """

    def __init__(self, history: TrackHistory, path: Path) -> None:
        self._history = history
        self._path = path
        self._work: asyncio.Task[None] | None = None
        self._ticks = 0
        self._failing = False

    def begin(self) -> None:
        """Look for the track of before; nothing waits for it."""
        self._work = asyncio.create_task(self._take_up(), name="track")

    def tick(self) -> None:
        """What is done each second."""
        self._ticks += 1
        if self._ticks % SAVE_EVERY == 0 and (self._work is None or self._work.done()):
            self._work = asyncio.create_task(self._save(), name="track")

    async def close(self) -> None:
        """Write what is left."""
        if self._work is not None:
            await self._work
        await self._save()

    async def _take_up(self) -> None:
        saved = await asyncio.to_thread(load_track, self._path)
        if saved is not None:
            self._history.take_up(saved)

    async def _save(self) -> None:
        to_save = self._history.to_save()
        if to_save is None:
            return
        try:
            await asyncio.to_thread(save_track, self._path, to_save)
        except OSError as error:
            self._history.not_saved()
            if not self._failing:
                _LOGGER.warning("The track is not kept: %s", error)
            self._failing = True
            return
        self._failing = False


def save_track(path: Path, to_save: TrackToSave) -> None:
    """Write the track, or add to it. Raises OSError."""
    text = "".join(f"{row}\n" for row in to_save.rows)
    if to_save.begin is None:
        with path.open("a", encoding="ascii") as stream:
            stream.write(text)
        return
    head = {"lat": to_save.begin.lat_deg, "lon": to_save.begin.lon_deg, "columns": list(COLUMNS)}
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_suffix(".new")
    # Where the boat lies is nobody else's business.
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as stream:
        stream.write(f"{json.dumps(head)}\n{text}")
    fresh.replace(path)


def load_track(path: Path) -> SavedTrack | None:
    """Read it; None if there is none that can be read. A torn end is left out."""
    with suppress(OSError, UnicodeDecodeError):
        if path.stat().st_size <= _MOST_BYTES:
            first, *lines = path.read_text(encoding="ascii").split("\n")
            origin = _origin(first)
            if origin is not None:
                rows = (saved_row(line) for line in lines)
                return SavedTrack(origin, [row for row in rows if row is not None])
    return None


def _origin(first: str) -> Position | None:
    try:
        head: Any = json.loads(first)
        if head["columns"] != list(COLUMNS):
            return None  # of another version
        return Position(float(head["lat"]), float(head["lon"]))
    except (ValueError, TypeError, KeyError, RecursionError, UserInputError):
        return None
