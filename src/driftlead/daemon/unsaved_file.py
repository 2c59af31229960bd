"""What was decided and is not yet known to be on the disk, where a killed program leaves it.

The journal confirms a save after some milliseconds, or seconds on a poor card. An alarm has
sounded by then, and a program killed meanwhile would come back without it. So each save is first
laid into a file beside the control socket. That is memory (``/run``): it never waits for a disk,
outlives the program, and is gone with the power, when the journal alone counts.
"""

import hashlib
import json
import logging
from collections.abc import Sequence
from pathlib import Path
from typing import Final

_LOGGER = logging.getLogger(__name__)
_MOST: Final = 64
"""Saves kept while the journal fails; older ones are the journal's own affair."""

Save = tuple[str, tuple[str, ...]]
"""A snapshot, and the events that came with it."""


class UnsavedFile:
    """Keeps the saves that nobody has confirmed. Never raises: without it a kill may cost a save.

    It holds as well after which snapshot they come, so that a file left over from another time is
    not taken for newer than the journal.
    """

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self._base = _mark(None)
        self._saves: dict[int, Save] = {}
        self._ticket = 0
        self._failed = False

    def after(self, snapshot: str | None) -> list[Save]:
        """What a killed run had still to save after ``snapshot``, the last in the journal."""
        if self._path is None:
            return []
        try:
            found = json.loads(self._path.read_text("utf-8"))
            base = str(found["base"])
            saves = [(str(text), tuple(map(str, events))) for text, events in found["saves"]]
        except (OSError, ValueError, TypeError, KeyError, RecursionError):
            return []
        marks = [base, *(_mark(text) for text, _ in saves)]
        known = _mark(snapshot)
        return saves[marks.index(known) :] if known in marks else []

    def begin(self, snapshot: str | None, saves: Sequence[Save] = ()) -> list[int]:
        """Begin with ``snapshot`` in the journal and ``saves`` to come; as what each is noted."""
        self._base = _mark(snapshot)
        self._saves = dict(enumerate(saves, start=self._ticket + 1))
        self._ticket += len(saves)
        self._write()
        return list(self._saves)

    def note(self, snapshot: str, events: Sequence[str]) -> int:
        """Keep a save that begins now; what to give ``saved`` when it is on the disk."""
        self._ticket += 1
        self._saves[self._ticket] = (snapshot, tuple(events))
        if len(self._saves) > _MOST:
            self._drop(min(self._saves))
        self._write()
        return self._ticket

    def saved(self, ticket: int) -> None:
        """Forget this save and those before it, which the journal has saved before it."""
        for earlier in [each for each in self._saves if each <= ticket]:
            self._drop(earlier)
        self._write()

    def _drop(self, ticket: int) -> None:
        self._base = _mark(self._saves.pop(ticket)[0])

    def _write(self) -> None:
        if self._path is None:
            return
        try:
            if not self._saves:
                self._path.unlink(missing_ok=True)
                return
            fresh = self._path.with_suffix(".new")
            kept = {"base": self._base, "saves": list(self._saves.values())}
            fresh.write_text(json.dumps(kept), "utf-8")
            fresh.replace(self._path)
        except OSError as error:
            if not self._failed:
                self._failed = True
                _LOGGER.warning("A kill may cost what was just decided: %s", error)


def _mark(snapshot: str | None) -> str:
    return "" if snapshot is None else hashlib.sha256(snapshot.encode()).hexdigest()
