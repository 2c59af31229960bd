"""The program that keeps the watch of a recorded night again, for the page.

It is a process of its own, and a humble one, so that the watch that is kept now loses nothing. It
writes a line for everything there is to tell, ``<run_s> <kind> <id or -> <JSON>``, as fast as these
are read. Run as ``python -m driftlead.web.replay_worker FROM_S STEP_S FILE...``.
"""

import contextlib
import json
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, Final

from driftlead.core.reply import Event
from driftlead.errors import DriftleadError
from driftlead.replay.reader import LogReader, ReplayInput
from driftlead.replay.runner import Runner
from driftlead.replay.settings import ReplaySettings
from driftlead.web.deck import glance_at
from driftlead.web.event_log import EventLog
from driftlead.web.now_json import now_to_data
from driftlead.web.track_history import TrackHistory

NICENESS: Final = 15
RUN_ID: Final = "replay"
Write = Callable[[str], object]


class ReplayTeller:
    """Tells of one night, from ``from_s`` seconds into it, with a glance each ``step_s``."""

    def __init__(
        self, paths: Sequence[Path], *, from_s: float, step_s: float, write: Write
    ) -> None:
        self._paths = paths
        self._from_s = from_s
        self._step_s = step_s
        self._write = write
        self._began_s: float | None = None
        self._next_s = from_s
        self._log = EventLog(RUN_ID)
        self._history = TrackHistory()
        self._runner = Runner(ReplaySettings(), on_event=self._hear)

    def tell(self) -> None:
        """Go through it. Raises RecordingError."""
        reader = LogReader.of(self._paths)
        run_s = 0.0
        for item in _items(reader):
            if self._began_s is None:
                self._began_s = item.mono_s
            run_s = item.mono_s - self._began_s
            while self._next_s < run_s:
                self._tell_now(self._next_s)
                self._next_s += self._step_s
            self._runner.take((item,))
        if self._began_s is not None:
            # However far apart the glances are: in the end she is shown as she lay in the end.
            self._tell_now(run_s)
        text = " ".join(["That was the night.", *reader.faults])
        self._tell(run_s, "end", "-", json.dumps({"text": text, "run_s": round(run_s, 3)}))

    def _hear(self, event: Event) -> None:
        run_s = self._runner.mono_s - (self._began_s or self._runner.mono_s)
        self._history.hear(event)
        if not self._log.hear(event, run_s) or run_s < self._from_s:
            return
        _complete, (logged,) = self._log.after(self._log.last_number - 1)
        self._tell(run_s, logged.kind, logged.id, logged.text)

    def _tell_now(self, run_s: float) -> None:
        core = self._runner.core
        glance = glance_at(core, run_s + (self._began_s or 0.0))
        self._history.look(run_s, glance.status)
        now: dict[str, Any] = now_to_data(
            glance,
            self._history,
            run_id=RUN_ID,
            run_s=run_s,
            watch=core.watch.settings,
            boat_name="",
        )
        self._tell(run_s, "now", "-", json.dumps(now, separators=(",", ":")))

    def _tell(self, run_s: float, kind: str, event_id: str, text: str) -> None:
        self._write(f"{run_s:.3f} {kind} {event_id} {text}\n")


def _items(reader: LogReader) -> Iterator[ReplayInput]:
    for batch in reader.batches():
        yield from batch


def main(arguments: Sequence[str]) -> None:
    """Tell of the night to the standard output."""
    with contextlib.suppress(OSError):
        os.nice(NICENESS)
    from_s, step_s, *files = arguments
    teller = ReplayTeller(
        [Path(file) for file in files],
        from_s=float(from_s),
        step_s=float(step_s),
        write=sys.stdout.write,
    )
    try:
        teller.tell()
    except DriftleadError as error:
        text = json.dumps({"text": str(error), "run_s": 0.0})
        sys.stdout.write(f"0.000 end - {text}\n")
    except BrokenPipeError:
        # Nobody listens any more; what is still in the buffer is to cause no word of its own.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    main(sys.argv[1:])
