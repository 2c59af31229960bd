"""Make what happened to the names in a folder survive a power cut."""

import os
from pathlib import Path


def sync_folder(folder: Path) -> None:
    """Wait until files made, renamed or deleted in the folder are so on the disk. OSError."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
