"""What is wrong with a file that the configuration names, said with its key."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from driftlead.errors import DriftleadError, UserInputError


@contextmanager
def named_by(key: str, path: Path, *, remedy: str) -> Iterator[None]:
    """Turn what fails while ``path`` is read into a UserInputError that names ``key`` and the file.

    ``remedy`` is for a file that cannot be read at all; what is wrong in one that can be read
    brings its own.
    """
    try:
        yield
    except DriftleadError as error:
        message = error.message if str(path) in error.message else f"{path}: {error.message}"
        raise UserInputError(f"{key}: {message}", remedy=error.remedy) from error
    except (OSError, ValueError, OverflowError, RecursionError) as error:
        why = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise UserInputError(f"{key}: {path} cannot be read: {why}.", remedy=remedy) from error
