"""Which recorded nights a folder holds: single logs, and the daemon's own recordings in parts.

The daemon records without end, in parts of an hour. Parts belong to one night as long as the
anchor stays down from one to the next, which each part says at its head.
"""

import gzip
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from attrs import frozen

from driftlead.errors import RecordingError, UserInputError
from driftlead.journal.parts import list_parts
from driftlead.recording.format import RecordedInput, parse_recorded
from driftlead.watch.state_table import WatchState

LOG_SUFFIXES: Final = (".log", ".nmea", ".txt")
_HEAD_LINES: Final = 8


@frozen
class Night:
    """One night: its name in marks and reports, and its log files in order of time."""

    name: str
    paths: tuple[Path, ...]


def list_nights(folder: Path) -> tuple[Night, ...]:
    """List the nights in a folder by name. Raises UserInputError if there is none."""
    try:
        nights = [*_recorded(folder), *_single(folder)]
    except OSError as error:
        raise UserInputError(
            f"{folder} cannot be read: {error.strerror}.",
            remedy="Give the folder that holds the recorded nights.",
        ) from error
    if not nights:
        raise UserInputError(
            f"There is no recorded night in {folder}.",
            remedy=f"Logs end in {', '.join(LOG_SUFFIXES)}, and may be packed (.gz).",
        )
    return tuple(sorted(nights, key=lambda night: night.name))


def night_of(path: Path) -> Night:
    """Give the night a log file belongs to. Raises UserInputError if it is no log of a night."""
    if not path.is_file():
        raise UserInputError(
            f"There is no file {path}.", remedy="Give the log file of the night to be marked."
        )
    for night in list_nights(path.parent):
        if any(path.name == each.name for each in night.paths):
            return night
    raise UserInputError(
        f"{path} is not taken for the log of a night.",
        remedy=f"Logs end in {', '.join(LOG_SUFFIXES)}, and may be packed (.gz).",
    )


def stem(name: str) -> str:
    """Give a log's name without what says its kind: ``slow-drag`` of ``slow-drag.log``."""
    for suffix in LOG_SUFFIXES:
        name = name.removesuffix(suffix)
    return name


def _single(folder: Path) -> Iterator[Night]:
    parts = {path for part in list_parts(folder) for path in part.files}
    seen: set[str] = set()
    for path in sorted(folder.iterdir()):
        name = path.name.removesuffix(".gz")
        hidden = name.startswith(".") or path in parts
        if hidden or not name.endswith(LOG_SUFFIXES) or not path.is_file():
            continue
        # A log beside its packed self is one night.
        if name not in seen:
            seen.add(name)
            yield Night(name, (path,))


def _recorded(folder: Path) -> Iterator[Night]:
    paths: list[Path] = []
    for part in list_parts(folder):
        # A part has two files after a crash; what is packed was whole before it got its name.
        whole = [path for path in part.files if path.suffix != ".tmp"]
        if not whole:
            continue
        path = whole[-1]
        if paths and not _anchored_at_head(path):
            yield _night_of_parts(paths)
            paths = []
        paths.append(path)
    if paths:
        yield _night_of_parts(paths)


def _night_of_parts(paths: list[Path]) -> Night:
    return Night(stem(paths[0].name.removesuffix(".gz")), tuple(paths))


def _anchored_at_head(path: Path) -> bool:
    """Whether the part says at its head that an anchor was down when it began."""
    try:
        with gzip.open(path, "rb") if path.suffix == ".gz" else path.open("rb") as file:
            for _ in range(_HEAD_LINES):
                item = parse_recorded(file.readline().decode("latin-1"))
                if isinstance(item, RecordedInput) and item.kind == "part":
                    snapshot = item.data.get("snapshot") or {}
                    return WatchState(snapshot.get("state", WatchState.STOWED)).on_watch
    except (OSError, EOFError, zlib.error, RecordingError, AttributeError, ValueError):
        pass  # whoever decodes the part will say what is wrong with it
    return False
