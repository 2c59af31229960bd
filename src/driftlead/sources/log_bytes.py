"""The bytes of a log file, plain or gzipped, in bounded chunks."""

import gzip
import zlib
from collections.abc import Generator
from pathlib import Path
from typing import Final

from driftlead.errors import SourceError
from driftlead.sources.reason import os_reason

CHUNK_BYTES: Final = 4096
_GZIP_MAGIC: Final = b"\x1f\x8b"


def log_chunks(path: Path) -> Generator[bytes, None, None]:
    """Read the file chunk by chunk, unpacked if it is gzipped, whatever its name ends in.

    Raises SourceError where it cannot be read on; all that could be read was given before.
    """
    try:
        with path.open("rb") as file:
            packed = file.peek(len(_GZIP_MAGIC)).startswith(_GZIP_MAGIC)
            # read1 and not read: read would lose what it had gathered when the next part fails.
            with gzip.GzipFile(fileobj=file) if packed else file as unpacked:
                while chunk := unpacked.read1(CHUNK_BYTES):
                    yield chunk
    except EOFError as error:
        raise SourceError(
            f"{path} is cut short: the gzipped data does not end.",
            remedy="Copy the file again, or go on with what was read from it.",
        ) from error
    except (gzip.BadGzipFile, zlib.error) as error:
        raise SourceError(
            f"{path} is damaged ({error}).",
            remedy="Copy the file again, or go on with what was read from it.",
        ) from error
    except FileNotFoundError as error:
        raise SourceError(f"{path} is not there.", remedy="Check path.") from error
    except OSError as error:
        raise SourceError(
            f"{path} cannot be read ({os_reason(error)}).",
            remedy="Check that path is a file and that driftlead may read it.",
        ) from error
