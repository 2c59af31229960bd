"""Files that are there whole or not at all."""

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from driftlead.errors import UserInputError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file in one go, so that nobody ever reads half of it.

    Raises UserInputError naming the file and why it cannot be written.
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".tmp")
        unfinished = Path(name)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            unfinished.chmod(0o644)
            unfinished.replace(path)
        except OSError:
            with suppress(OSError):
                unfinished.unlink()
            raise
    except OSError as error:
        raise UserInputError(
            f"{path} cannot be written: {error.strerror}.",
            remedy="Give a file in a folder that exists and that you may write to.",
        ) from error
