"""Room on a disk: the watch and the recording must be able to grow through the night."""

import os
from collections.abc import Callable
from pathlib import Path
from typing import Final

LEAST_FREE_BYTES: Final = 200_000_000
"""Some nights of recording, compressed; ``driftlead check`` fails a disk at a quarter of it."""
ENOUGH_AGAIN: Final = 1.25
"""Times as much must be free again before it is over."""
LEAST_FREE_FILES: Final = 100


class DiskProbe:
    """Tells that the disk of ``folder`` is filling up; ``instance`` says which folder."""

    name = "disk_low"

    def __init__(
        self,
        instance: str,
        folder: Path,
        *,
        least_free_bytes: int = LEAST_FREE_BYTES,
        statvfs: Callable[[Path], os.statvfs_result] = os.statvfs,
    ) -> None:
        self.instance = instance
        self._folder = folder
        self._least_free_bytes = least_free_bytes
        self._statvfs = statvfs
        self._is_low = False

    def look(self) -> str | None:
        """Say so if it is; a disk that cannot be looked at is for the writers to complain of."""
        try:
            found = self._statvfs(self._folder)
        except OSError:
            return None
        free_bytes = found.f_bavail * found.f_frsize
        wanted = ENOUGH_AGAIN if self._is_low else 1.0
        few_files = found.f_files > 0 and found.f_favail < LEAST_FREE_FILES * wanted
        self._is_low = few_files or free_bytes < self._least_free_bytes * wanted
        if not self._is_low:
            return None
        # No figure that changes with every look: the same again must be no news.
        what = "few files" if few_files else f"less than {self._least_free_bytes / 1e6:.0f} MB"
        return (
            f"The disk is filling up: it takes {what} more where {self._folder} is. Delete what is"
            " not needed, or lower [recording] cap."
        )
