"""The part of a recording that is being written."""

import errno
import os
from contextlib import suppress
from pathlib import Path


class PartFile:
    """A new file that takes each piece of text whole or not at all.

    Nothing is buffered here. Every method raises OSError.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.size_bytes = 0
        self._handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o644)
        self._torn = False

    def write(self, data: bytes) -> None:
        """Append ``data``. If that fails, what went before stays as it was."""
        if os.fstat(self._handle).st_nlink == 0:
            raise FileNotFoundError(errno.ENOENT, "the file was removed", str(self.path))
        if self._torn:
            self._cut()
        written = 0
        try:
            while written < len(data):
                written += os.pwrite(self._handle, data[written:], self.size_bytes + written)
        except OSError:
            self._torn = True
            with suppress(OSError):  # it is tried again before the next piece
                self._cut()
            raise
        self.size_bytes += written

    def sync(self) -> None:
        """Wait until everything is on the disk."""
        os.fsync(self._handle)

    def close(self) -> None:
        """Close the file."""
        os.close(self._handle)

    def _cut(self) -> None:
        os.ftruncate(self._handle, self.size_bytes)
        self._torn = False
