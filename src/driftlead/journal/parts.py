"""The parts of the raw recordings on the disk: ``night-000042.log``, later ``.log.gz``."""

import re
from collections import defaultdict
from pathlib import Path

from attrs import frozen

_NAME = re.compile(r"night-([0-9]{6,})\.log(\.gz)?(\.tmp)?")


@frozen
class Part:
    """One part: its number, all its files (two after a crash), and their size in bytes."""

    sequence: int
    files: tuple[Path, ...]
    size_bytes: int


def plain_path(directory: Path, sequence: int) -> Path:
    """Name the file in which part ``sequence`` is written."""
    return directory / f"night-{sequence:06d}.log"


def list_parts(directory: Path) -> tuple[Part, ...]:
    """List the parts in a folder, the oldest first. Raises OSError, also if there is no folder."""
    files: dict[int, list[Path]] = defaultdict(list)
    sizes: dict[int, int] = defaultdict(int)
    for file in sorted(directory.iterdir()):
        name = _NAME.fullmatch(file.name)
        if name is None:
            continue
        try:
            size_bytes = file.stat().st_size
        except FileNotFoundError:  # compressed or pruned by another thread just now
            continue
        files[int(name[1])].append(file)
        sizes[int(name[1])] += size_bytes
    return tuple(Part(number, tuple(files[number]), sizes[number]) for number in sorted(files))
