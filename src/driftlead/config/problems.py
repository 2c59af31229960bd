"""Everything found wrong with a file, gathered so that the skipper hears it all at once."""

from pathlib import Path
from typing import Any

from driftlead.config.shown import shown, shown_key
from driftlead.errors import ConfigError


class Problems:
    """The problems of one file in the order found, a line each.

    A line is ``FILE: [table] key = value: what is wrong. Remedy.``
    """

    def __init__(self, file: Path) -> None:
        self._file = file
        self._lines: list[str] = []

    def value(self, place: str, key: str, value: Any, message: str, remedy: str) -> None:
        """Note a value that is wrong."""
        where = f"{place} {shown_key(key)} = {shown(value)}".lstrip()
        self._note(where, message, remedy)

    def key(self, place: str, key: str, message: str, remedy: str) -> None:
        """Note a key whose value does not matter, or is not there."""
        self._note(f"{place} {shown_key(key)}", message, remedy)

    def place(self, place: str, message: str, remedy: str) -> None:
        """Note something wrong with a table as a whole."""
        self._note(place, message, remedy)

    def line(self, line: str) -> None:
        """Note what somebody else has put into words, from the place on."""
        self._lines.append(f"{self._file}: {line}")

    def __bool__(self) -> bool:
        """Whether there is any."""
        return bool(self._lines)

    def _note(self, where: str, message: str, remedy: str) -> None:
        self._lines.append(f"{self._file}: {where}: {message} {remedy}".rstrip())

    def raise_if_any(self) -> None:
        """Raise ConfigError with every problem noted, if there is one."""
        if not self._lines:
            return
        count = len(self._lines)
        message = f"{self._file} has {count} problem{'s' if count > 1 else ''}."
        raise ConfigError(message, problems=tuple(self._lines), remedy="Correct the file.")
