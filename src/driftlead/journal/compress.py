"""Compression of finished parts."""

import gzip
import os
import shutil
from contextlib import suppress
from pathlib import Path
from typing import Final

from driftlead.journal.sync_folder import sync_folder

_CHUNK_BYTES: Final = 256 * 1024


def compress_part(plain: Path) -> Path:
    """Replace ``x.log`` by ``x.log.gz``; a power cut at any moment leaves one of them whole.

    The bytes are kept as they are, a torn last line too; equal parts give equal files. Raises
    OSError, and then the plain file is still there.
    """
    packed = plain.with_name(f"{plain.name}.gz")
    unfinished = packed.with_name(f"{packed.name}.tmp")
    # One that exists was whole before it got its name, and may hold more than the plain file,
    # whose last blocks a power cut can have taken.
    if not packed.exists():
        try:
            _pack(plain, unfinished)
            unfinished.replace(packed)
        except OSError:
            with suppress(OSError):
                unfinished.unlink()
            raise
    sync_folder(plain.parent)
    plain.unlink(missing_ok=True)
    return packed


def _pack(plain: Path, target_path: Path) -> None:
    with plain.open("rb") as source, target_path.open("wb") as target:
        # No name and no time in the header: they would differ between equal recordings.
        with gzip.GzipFile(filename="", mode="wb", fileobj=target, mtime=0) as zipped:
            shutil.copyfileobj(source, zipped, _CHUNK_BYTES)
        target.flush()
        os.fsync(target.fileno())
