"""Whether the watch and the recordings can be written."""

import os
import shutil
from pathlib import Path
from typing import Final

from driftlead.check.finding import Finding, Level

_LEAST_FREE_BYTES: Final = 50_000_000


def check_folder(what: str, folder: Path, *, wanted_bytes: int = _LEAST_FREE_BYTES) -> Finding:
    """Look at a folder without changing anything in it.

    One that is not there yet is judged by the folder it would be made in.
    """
    there = folder
    while not there.exists() and there != there.parent:
        there = there.parent
    if not there.is_dir():
        return Finding(
            Level.FAIL, what, f"{there} is not a folder.", "Correct the path in the configuration."
        )
    if not os.access(there, os.W_OK | os.X_OK):
        return Finding(
            Level.FAIL,
            what,
            f"{there} cannot be written by this user.",
            "Check as the daemon's own user: sudo -u driftlead driftlead check. If it fails then"
            " too, give it the folder (chown) and see that the disk is not read-only.",
        )
    free_bytes = shutil.disk_usage(there).free
    text = f"{folder} can be written; {_size(free_bytes)} free."
    if free_bytes < _LEAST_FREE_BYTES:
        return Finding(Level.FAIL, what, text, "Free some space on the disk.")
    if free_bytes < wanted_bytes:
        remedy = f"The recordings may grow to {_size(wanted_bytes)}: free space, or lower the cap."
        return Finding(Level.LOOK, what, text, remedy)
    return Finding(Level.OK, what, text)


def _size(count: float) -> str:
    return f"{count / 1e9:.1f} GB" if count >= 1e9 else f"{count / 1e6:.0f} MB"
