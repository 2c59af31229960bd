"""The recorded nights on the disk. A night is one run of the daemon: one part, or several."""

import datetime as dt
import gzip
import re
import zlib
from collections import defaultdict
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from attrs import frozen

from driftlead.errors import RecordingError
from driftlead.journal.parts import Part, list_parts
from driftlead.recording.format import RecordedInput, parse_recorded

_NAME: Final = re.compile(r"night-([0-9]{6,12})")
_MOST_HEADER_BYTES: Final = 1024 * 1024
_ENDINGS: Final = (".log", ".gz")


@frozen(kw_only=True)
class Night:
    """One run: its files in order, and what its first part says of it (empty if unreadable)."""

    name: str
    files: tuple[Path, ...]
    size_bytes: int
    written_s: float
    being_written: bool
    header: Mapping[str, Any]
    faults: tuple[str, ...]

    @property
    def written_utc(self) -> str:
        """When it was last written to, by the computer's clock."""
        when = dt.datetime.fromtimestamp(self.written_s, tz=dt.UTC)
        return when.strftime("%Y-%m-%dT%H:%M:%SZ")


class NightFolder:
    """Looks through ``directory``; what a part says of itself is read only once."""

    def __init__(self, directory: Path) -> None:
        self._directory = directory
        self._headers: dict[int, Mapping[str, Any]] = {}

    def nights(self) -> list[Night]:
        """All of them, the newest first. It reads the disk. Raises OSError."""
        try:
            parts = list_parts(self._directory)
        except FileNotFoundError:
            return []
        known = {part.sequence for part in parts}
        self._headers = {n: header for n, header in self._headers.items() if n in known}
        runs: dict[int, list[Part]] = defaultdict(list)
        for part in parts:
            run = self._header(part).get("run")
            runs[run if isinstance(run, int) else part.sequence].append(part)
        newest = parts[-1].sequence if parts else 0
        nights = [self._night(run, own, newest) for run, own in runs.items()]
        return sorted(nights, key=lambda night: night.name, reverse=True)

    def night(self, name: str) -> Night | None:
        """The night of this name; None if there is none. It reads the disk. Raises OSError."""
        if not _NAME.fullmatch(name):
            return None
        return next((night for night in self.nights() if night.name == name), None)

    def _night(self, run: int, parts: list[Part], newest: int) -> Night:
        files = tuple(file for part in parts if (file := _file(part)) is not None)
        first = self._header(parts[0])
        faults = [f"{part.files[0].name} cannot be read." for part in parts if not _file(part)]
        numbers = [self._header(part).get("part") for part in parts]
        if numbers != list(range(1, len(parts) + 1)):
            faults.append("Some parts of this night are missing.")
        return Night(
            name=f"night-{run:06d}",
            files=files,
            size_bytes=sum(part.size_bytes for part in parts),
            written_s=max((_written_s(file) for file in files), default=0.0),
            being_written=parts[-1].sequence == newest
            and any(file.suffix == ".log" for file in parts[-1].files),
            header=first,
            faults=tuple(faults),
        )

    def _header(self, part: Part) -> Mapping[str, Any]:
        header = self._headers.get(part.sequence)
        if header is None:
            file = _file(part)
            header = {} if file is None else _read_header(file)
            if header:
                self._headers[part.sequence] = header
        return header


def _file(part: Part) -> Path | None:
    """The file to read the part from: the plain one while there is one, as it is whole."""
    readable = [file for file in part.files if file.suffix in _ENDINGS]
    return min(readable, key=lambda file: file.suffix == ".gz", default=None)


def _written_s(file: Path) -> float:
    try:
        return file.stat().st_mtime
    except OSError:  # compressed or pruned just now
        return 0.0


def _read_header(file: Path) -> Mapping[str, Any]:
    try:
        with gzip.open(file) if file.suffix == ".gz" else file.open("rb") as stream:
            stream.readline(_MOST_HEADER_BYTES)
            line = stream.readline(_MOST_HEADER_BYTES).decode("latin-1")
        item = parse_recorded(line)
    except (OSError, EOFError, zlib.error, RecordingError):
        return {}
    return item.data if isinstance(item, RecordedInput) and item.kind == "part" else {}
