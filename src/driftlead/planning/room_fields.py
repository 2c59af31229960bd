"""One boat's or danger's values as a person wrote them, read strictly: every slip is named.

GeoJSON carries metres as plain numbers under ``rode_m``; a hand-written TOML file carries text with
its unit under ``rode``, as the configuration does.
"""

import difflib
import enum
import math
from collections.abc import Mapping
from typing import Any, Final, NoReturn, TypeVar

from driftlead.errors import UserInputError
from driftlead.units import parse_length_m

_Choice = TypeVar("_Choice", bound=enum.StrEnum)
_LONGEST: Final = 60


class Fields:
    """Takes values out by key; ``finish`` refuses what nobody asked for.

    ``place`` says in messages where they stand. ``with_units``: lengths are text with their unit.
    """

    def __init__(self, values: Mapping[str, Any], place: str, *, with_units: bool) -> None:
        self._values = values
        self._with_units = with_units
        self._asked: list[str] = []
        self.place = place

    def has(self, key: str) -> bool:
        """Whether there is a value (null is none)."""
        return self._values.get(key) is not None

    def has_length(self, key: str) -> bool:
        """Whether there is a length of this name."""
        return self.has(self.length_key(key))

    def length_key(self, key: str) -> str:
        """How a length of this name is spelt here."""
        return key if self._with_units else f"{key}_m"

    def text(self, key: str, default: str) -> str:
        """Read a text that is not empty and can be shown."""
        value = self._take(key)
        if value is None:
            return default
        if not (isinstance(value, str) and value.strip() and value.isprintable()):
            self.refuse(key, "is no name.", "Write a word or two in double quotes.")
        return str(value).strip()[:_LONGEST]

    def choice(self, key: str, kinds: type[_Choice], default: _Choice) -> _Choice:
        """Read one of a few words."""
        value = self._take(key)
        if value is None:
            return default
        try:
            return kinds(value)
        except ValueError:
            words = ", ".join(kind.value for kind in kinds)
            self.refuse(key, "is not known here.", f"Write one of {words}.")

    def length_m(
        self,
        key: str,
        low_m: float,
        high_m: float,
        default: float | None = None,
    ) -> float:
        """Read a length in metres; without a default it must be there."""
        spelt = self.length_key(key)
        value = self._take(spelt)
        example = f'{key} = "30m"' if self._with_units else f'"{spelt}": 30'
        if value is None:
            if default is not None:
                return default
            self.missing(spelt, example)
        if self._with_units:
            if not isinstance(value, str):
                self.refuse(spelt, "has no unit.", f"Write it as {example}.")
            try:
                length_m = parse_length_m(value)
            except UserInputError as error:
                raise UserInputError(
                    f"{self.place}: {spelt}: {error.message}", remedy=error.remedy
                ) from error
        else:
            length_m = self._number(spelt, value)
        if not low_m <= length_m <= high_m:
            self.refuse(spelt, "is out of range.", f"Give {low_m:g} to {high_m:g} metres.")
        return length_m

    def degrees(self, key: str, low: float, high: float, default: float | None = None) -> float:
        """Read an angle in degrees; without a default it must be there."""
        value = self._take(key)
        if value is None:
            if default is not None:
                return default
            self.missing(key, f"{key} between {low:g} and {high:g}")
        angle = self._number(key, value)
        if not low <= angle <= high:
            self.refuse(key, "is out of range.", f"Give {low:g} to {high:g} degrees.")
        return angle

    def raw(self, key: str) -> Any:
        """Give a value as it stands."""
        return self._take(key)

    def finish(self) -> None:
        """Refuse keys that mean nothing here: one of them may be a misspelt measure."""
        for key in self._values:
            if key in self._asked:
                continue
            close = difflib.get_close_matches(key[:_LONGEST], self._asked, n=1)
            remedy = (
                f"Did you mean {close[0]}?" if close else f"Known here: {', '.join(self._asked)}."
            )
            raise UserInputError(
                f"{self.place}: {shown(key)}: there is no such key here.", remedy=remedy
            )

    def refuse(self, key: str, what: str, remedy: str) -> NoReturn:
        """Raise UserInputError about a value."""
        raise UserInputError(
            f"{self.place}: {key} = {shown(self._values.get(key))} {what}", remedy=remedy
        )

    def missing(self, key: str, example: str) -> NoReturn:
        """Raise UserInputError about a value that is not there."""
        raise UserInputError(f"{self.place}: {key} is missing.", remedy=f"Add {example}.")

    def _take(self, key: str) -> Any:
        self._asked.append(key)
        return self._values.get(key)

    def _number(self, key: str, value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            self.refuse(key, "is not a number.", "Write a plain number, without quotes.")
        if (isinstance(value, int) and value.bit_length() > 64) or not math.isfinite(value):
            self.refuse(key, "is no measure.", "Write a finite number.")
        return float(value)


def shown(value: Any) -> str:
    """Make a value fit to stand in a one-line message."""
    if isinstance(value, int) and value.bit_length() > 64:
        return "a number of many digits"
    text = repr(value)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."
