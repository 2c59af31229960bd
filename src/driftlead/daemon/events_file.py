"""Events as lines of JSON in a file or a named pipe, for the owner's own programs."""

import os
from collections.abc import Callable
from pathlib import Path

from driftlead.core.events_json import event_to_json
from driftlead.core.reply import Event

# Non-blocking, for a pipe that nobody reads must not stop the watch.
_FLAGS = os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_NONBLOCK | os.O_CLOEXEC


class EventsFile:
    """Appends to ``path``; a failure is told once, and every event is tried all the same."""

    def __init__(self, path: Path, *, on_fault: Callable[[str | None], None]) -> None:
        self._path = path
        self._on_fault = on_fault
        self._failing = False

    def write(self, event: Event) -> None:
        """Append one event."""
        try:
            # Opened anew each time: somebody may have moved the file away to keep it small.
            handle = os.open(self._path, _FLAGS, 0o644)
            try:
                os.write(handle, f"{event_to_json(event)}\n".encode("ascii"))
            finally:
                os.close(handle)
        except OSError as error:
            if not self._failing:
                self._failing = True
                self._on_fault(f"The events file {self._path} cannot be written: {error.strerror}.")
        else:
            if self._failing:
                self._failing = False
                self._on_fault(None)
