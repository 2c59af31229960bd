"""Reading a TOML file, with an error a person can act on when it is not one."""

import re
import tomllib
from pathlib import Path
from typing import Any

from driftlead.errors import ConfigError

_COPY = "Copy systemd/driftlead.example.toml there and fit it to the boat."
_UNQUOTED = re.compile(r"""^\s*[A-Za-z0-9_-]+\s*=\s*[^\s"'\[{#]""")
_KEY = re.compile(r"""^\s*([A-Za-z0-9_."'-]+)\s*=""")
_AT_LINE = re.compile(r"\(at line (\d+), column \d+\)")


def read_toml(file: Path) -> dict[str, Any]:
    """Read the file. Raises ConfigError: no such file, unreadable, or not TOML (line, column)."""
    try:
        # Some editors begin a file with a byte order mark, which TOML does not know.
        text = file.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise _error(f"{file}: There is no such file.", _COPY) from None
    except UnicodeDecodeError as error:
        message = f"{file}: Byte {error.start + 1} is not UTF-8 text."
        raise _error(message, "Save the file as UTF-8.") from error
    except OSError as error:
        message = f"{file}: The file cannot be read: {error.strerror}."
        raise _error(message, "Give a file that the daemon's user may read.") from error
    except ValueError as error:  # a path with a null character
        raise _error(f"{str(file)!r}: This is no path.", _COPY) from error
    return parse_toml(text, file)


def parse_toml(text: str, file: Path) -> dict[str, Any]:
    """Parse the text of ``file``. Raises ConfigError for what is not TOML."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        what = str(error)
        raise _error(f"{file}: This is not TOML: {what}.", _advice(what, text)) from error
    except (ValueError, RecursionError) as error:
        # Numbers of thousands of digits and thousands of nested brackets.
        message = f"{file}: This is not a configuration: {type(error).__name__}."
        raise _error(message, _COPY) from error


def _advice(what: str, text: str) -> str:
    """Guess the commonest slips: a key written twice, a quantity or a word without quotes."""
    at = _AT_LINE.search(what)
    lines = text.splitlines()
    number = int(at[1]) if at else 0
    if what.startswith("Cannot overwrite a value") and 0 < number <= len(lines):
        written = _KEY.match(lines[number - 1])
        key = f"{written[1]} is" if written else "This is"
        return f"{key} written twice: leave one of the two out."
    if 0 < number <= len(lines) and _UNQUOTED.match(lines[number - 1]):
        return 'Put quantities and words in double quotes, such as length = "10m".'
    return "Correct the file there."


def _error(message: str, remedy: str) -> ConfigError:
    return ConfigError(message, problems=(f"{message} {remedy}",), remedy=remedy)
