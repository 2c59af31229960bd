"""The raw recorder: every input of a run, in order, in parts of bounded size."""

import errno
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any, Final

from driftlead.errors import RecordingError
from driftlead.journal.compress import compress_part
from driftlead.journal.part_file import PartFile
from driftlead.journal.parts import list_parts, plain_path
from driftlead.journal.prune import choose_doomed
from driftlead.journal.settings import RecordingSettings
from driftlead.lines import StampedLine
from driftlead.recording.format import HEADER, format_input, format_line

HELD_BYTES: Final = 1024 * 1024
"""How much waits in memory while the disk fails: some twenty minutes; then the oldest go."""

_BATCH_BYTES = 64 * 1024
_NO_ROOM = frozenset({errno.ENOSPC, errno.EDQUOT})


class Recorder:
    """Writes the recording of a run, and never gets in the watch's way.

    A disk that fails raises nothing here: ``on_fault`` is called with a text when a problem
    appears, and with None when all is well again. It is only ever called from ``start``, ``line``,
    ``input``, ``flush``, ``rotate`` and ``close``. Lines wait in memory meanwhile; where some had
    to be given up, a comment in the recording says how many.

    All methods belong to one thread, but ``compress_finished`` and ``prune`` may run in another.
    Nothing is recorded before ``start`` and after ``close``.
    """

    def __init__(
        self, settings: RecordingSettings, *, on_fault: Callable[[str | None], None]
    ) -> None:
        self._settings = settings
        self._on_fault = on_fault
        self._running = False
        self._part: PartFile | None = None
        self._part_started_s = 0.0
        self._part_broken = False
        self._sequence = 0
        self._highest_used = 0
        self._run = 0
        self._parts_of_run = 0
        # Parts below this number are finished; the other thread reads it, and nothing else.
        self._finished_below = 0
        self._begin_with: tuple[float, Mapping[str, Any]] = (0.0, {})
        self._queue: list[str] = []
        self._queued_bytes = 0
        self._flush_at_bytes = _BATCH_BYTES
        self._lost_lines = 0
        self._gap_lines = 0
        self._problems: dict[str, str] = {}
        self._background: dict[str, str | None] = {"compress": None, "prune": None}
        self._reported: frozenset[str] = frozenset()

    @property
    def sequence(self) -> int:
        """The number of the part being written, or of the next; 0 before the first ``start``."""
        return self._sequence

    @property
    def lost_lines(self) -> int:
        """How many lines and inputs were given up since this recorder was made."""
        return self._lost_lines

    def start(self, mono_s: float, *, header: Mapping[str, Any]) -> None:
        """Begin a run, in a new part after those on the disk.

        ``header`` is what a replay has to know first; ``run`` (the number of the run's first part)
        and ``part`` (counting from 1) are added. Raises RecordingError if it is not JSON.
        """
        if self._running:
            self.close(mono_s)
        format_input(mono_s, "part", header)
        self._begin_with = (mono_s, dict(header))
        self._part = None
        self._run = self._parts_of_run = 0
        self._running = True
        with suppress(OSError):  # it is met again, and reported, in opening the part
            self._sequence = self._finished_below = self._next_sequence()
        self._write_out()
        self._report()

    def line(self, line: StampedLine) -> None:
        """Record a line; it is written with the next ``flush``."""
        if not self._running:
            return
        try:
            text = format_line(line)
        except RecordingError as error:
            self._refuse(error)
            return
        self._queue.append(text)
        self._queued_bytes += len(text) + 1
        if self._queued_bytes >= self._flush_at_bytes:
            self.flush()

    def input(self, mono_s: float, kind: str, data: Mapping[str, Any]) -> None:
        """Record an input that is not a line, and write it at once."""
        if not self._running:
            return
        try:
            self._append(format_input(mono_s, kind, data))
        except RecordingError as error:
            self._refuse(error)
            return
        self.flush()

    def flush(self) -> None:
        """Hand what is waiting to the system, and report what has gone wrong or well again."""
        if self._running:
            self._write_out()
        self._report()

    def needs_rotation(self, mono_s: float) -> bool:
        """Whether the part is long enough, by size or time, or its file is of no use any more."""
        if self._part is None:
            return False
        return (
            self._part.size_bytes + self._queued_bytes >= self._settings.part_bytes
            or mono_s - self._part_started_s >= self._settings.part_s
            or self._part_broken
            or "rotate" in self._problems
        )

    def rotate(self, mono_s: float, header: Mapping[str, Any]) -> None:
        """Finish the part and go on in a new one; where that cannot be, go on in the old one.

        Raises RecordingError if ``header`` is not JSON.
        """
        if self._running:
            format_input(mono_s, "part", header)
            self._rotate(mono_s, header)
        self._report()

    def compress_finished(self) -> None:
        """Compress the finished parts, those of killed runs too. Slow: for a worker thread."""
        finished_below = self._finished_below
        problem = None
        try:
            for part in list_parts(self._settings.directory):
                plain = plain_path(self._settings.directory, part.sequence)
                if part.sequence < finished_below and plain in part.files:
                    compress_part(plain)
        except OSError as error:
            problem = f"A finished recording cannot be compressed: {_reason(error)}."
        self._background["compress"] = problem

    def prune(self, protect_from: int | None) -> tuple[int, ...]:
        """Delete the oldest parts until all take no more than the cap; give their numbers.

        Neither the open part nor those numbered ``protect_from`` and above (the watch that is on)
        are deleted; the next ``flush`` reports it if they alone take more than the cap.
        """
        open_from = self._finished_below
        protected = open_from if protect_from is None else min(protect_from, open_from)
        cap_bytes = self._settings.cap_bytes
        deleted = []
        problem = None
        try:
            parts = list_parts(self._settings.directory)
            pruning = choose_doomed(parts, cap_bytes=cap_bytes, protect_from=protected)
            for part in pruning.doomed:
                for file in part.files:
                    file.unlink(missing_ok=True)
                deleted.append(part.sequence)
            if pruning.left_bytes > cap_bytes:
                problem = (
                    f"The recordings of this watch take {pruning.left_bytes} bytes, above the cap"
                    f" of {cap_bytes}; none of them is deleted. Raise cap_bytes if there is room."
                )
        except OSError as error:
            problem = f"Old recordings cannot be deleted: {_reason(error)}."
        self._background["prune"] = problem
        return tuple(deleted)

    def close(self, mono_s: float) -> None:
        """End the run: write what is waiting and the end mark, and wait for the disk."""
        if not self._running:
            return
        self._append(format_input(mono_s, "end", {}))
        if self._write_out():
            self._problems.clear()
        else:
            self._lose(len(self._queue))
        if self._part is not None:
            self._finish(self._part, sync=True)
        self._part = None
        self._finished_below = self._sequence + 1
        self._running = False
        self._report()

    def _append(self, text: str) -> None:
        self._queue.append(text)
        self._queued_bytes += len(text) + 1

    def _refuse(self, error: RecordingError) -> None:
        # Only a fault of ours gets here. The watch must go on, but not in silence.
        self._lost_lines += 1
        self._gap_lines += 1
        self._problems["refused"] = str(error)
        self._report()

    def _write_out(self) -> bool:
        """Write everything that is waiting; whether that could be done."""
        try:
            if self._part is None:
                self._take(*self._open_part(*self._begin_with))
            self._write_queue()
        except OSError as error:
            self._problems["write"] = self._problem(error)
            self._part_broken = self._part is not None and error.errno not in _NO_ROOM
            self._hold()
            written = False
        else:
            self._problems.pop("write", None)
            self._part_broken = False
            written = True
        self._flush_at_bytes = self._queued_bytes + _BATCH_BYTES
        return written

    def _write_queue(self) -> None:
        gap = [f"# {self._gap_lines} lines lost here"] if self._gap_lines else []
        if self._part is None or not (gap or self._queue):
            return
        self._part.write("".join(f"{text}\n" for text in gap + self._queue).encode("ascii"))
        self._queue.clear()
        self._queued_bytes = self._gap_lines = 0

    def _hold(self) -> None:
        """Give up the oldest lines if too much is waiting, half of it so as to be done a while."""
        if self._queued_bytes <= HELD_BYTES:
            return
        held_bytes = count = 0
        for text in reversed(self._queue):
            held_bytes += len(text) + 1
            if held_bytes > HELD_BYTES // 2:
                break
            count += 1
        self._lose(len(self._queue) - count)

    def _lose(self, count: int) -> None:
        self._lost_lines += count
        self._gap_lines += count
        del self._queue[:count]
        self._queued_bytes = sum(len(text) + 1 for text in self._queue)

    def _rotate(self, mono_s: float, header: Mapping[str, Any]) -> None:
        written = self._write_out()
        if self._part is None or not (written or self._part_broken):
            return  # what waits belongs before the new header; room may be found yet
        try:
            new, sequence, started_s = self._open_part(mono_s, header)
        except OSError as error:
            self._problems["rotate"] = f"No new part can be begun: {_reason(error)}."
            return
        self._lose(len(self._queue))  # nothing, unless the old part is beyond help
        self._problems.clear()
        self._finish(self._part, sync=False)
        self._take(new, sequence, started_s)

    def _open_part(self, mono_s: float, header: Mapping[str, Any]) -> tuple[PartFile, int, float]:
        directory = self._settings.directory
        directory.mkdir(parents=True, exist_ok=True)
        sequence = self._next_sequence()
        part = PartFile(plain_path(directory, sequence))
        numbers = {"run": self._run or sequence, "part": self._parts_of_run + 1}
        first = format_input(mono_s, "part", {**header, **numbers})
        try:
            part.write(f"{HEADER}\n{first}\n".encode("ascii"))
        except OSError:
            with suppress(OSError):
                part.close()
                part.path.unlink()
            raise
        return part, sequence, mono_s

    def _take(self, part: PartFile, sequence: int, started_s: float) -> None:
        self._part = part
        self._part_started_s = started_s
        self._part_broken = False
        self._sequence = self._highest_used = self._finished_below = sequence
        self._run = self._run or sequence
        self._parts_of_run += 1

    def _finish(self, part: PartFile, *, sync: bool) -> None:
        try:
            try:
                if sync:
                    part.sync()
            finally:
                part.close()
        except OSError as error:
            self._problems["write"] = self._problem(error)

    def _next_sequence(self) -> int:
        try:
            parts = list_parts(self._settings.directory)
        except FileNotFoundError:
            parts = ()
        # Never a number twice, even if somebody takes parts away while we run.
        return max([self._highest_used, *(part.sequence for part in parts)]) + 1

    def _problem(self, error: OSError) -> str:
        name = plain_path(self._settings.directory, self._sequence)
        return (
            f"The recording {name} cannot be written: {_reason(error)};"
            f" {len(self._queue)} lines are waiting, {self._lost_lines} lines are lost."
        )

    def _report(self) -> None:
        """Report when writing, compressing or pruning begins to fail, and when all is well."""
        failing = {name: text for name, text in self._background.items() if text}
        if self._problems:
            failing = {"write": " ".join(self._problems.values()), **failing}
        if failing.keys() == self._reported:
            return
        # Noted first: the one who hears of it may well have us record that at once.
        self._reported = frozenset(failing)
        self._on_fault(" ".join(failing.values()) if failing else None)


def _reason(error: OSError) -> str:
    return error.strerror or str(error)
