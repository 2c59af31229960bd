"""From one TOML table to its settings, with every fault of it noted."""

from collections.abc import Iterable, Mapping
from typing import Any

import cattrs
from cattrs.errors import ClassValidationError, ForbiddenExtraKeysError
from cattrs.gen import make_dict_structure_fn, override

from driftlead.config.problems import Problems
from driftlead.config.readers import Reader
from driftlead.config.shown import nearest
from driftlead.config.tables import Table
from driftlead.errors import UserInputError


class Structurer:
    """Makes settings of tables and notes what is wrong with them.

    ``homes`` tells for every key that only one table has, which that is.
    """

    def __init__(self, problems: Problems, homes: Mapping[str, str]) -> None:
        self._problems = problems
        self._homes = homes

    def structure(self, table: Table, raw: Mapping[str, Any], place: str) -> Any | None:
        """Give the settings, or None after noting what is wrong in ``place``."""
        defaults = {key.name: key.default for key in table.keys if key.default is not None}
        overrides: dict[str, Any] = {key.attribute: _as(key.name, key.read) for key in table.keys}
        build = make_dict_structure_fn(
            table.settings,
            cattrs.Converter(),
            _cattrs_forbid_extra_keys=True,
            _cattrs_detailed_validation=True,
            **overrides,
        )
        try:
            settings = build({**defaults, **raw}, table.settings)
        except ClassValidationError as group:
            self._note_all(group, table, raw, place)
            return None
        for slip in table.check(settings):
            if slip.key in raw:
                self._problems.value(place, slip.key, raw[slip.key], slip.message, slip.remedy)
            else:
                self._problems.key(place, slip.key, slip.message, slip.remedy)
        return settings

    def _note_all(
        self, group: ClassValidationError, table: Table, raw: Mapping[str, Any], place: str
    ) -> None:
        keys = {key.attribute: key for key in table.keys}
        of_keys, of_table = group.group_exceptions()
        for error, note in of_keys:
            key = keys[note.name]
            if isinstance(error, KeyError):
                message = "This key is missing."
                self._problems.key(place, key.name, message, f"Add {key.example}.")
            elif isinstance(error, UserInputError):
                value = raw[key.name]
                self._problems.value(place, key.name, value, error.message, error.remedy)
            else:
                raise error
        for error in of_table:
            if isinstance(error, ForbiddenExtraKeysError):
                self._note_extra(error.extra_fields, table, raw, place)
            elif isinstance(error, UserInputError):
                self._problems.place(place, error.message, error.remedy)
            else:
                raise error

    def _note_extra(
        self, extra: Iterable[str], table: Table, raw: Mapping[str, Any], place: str
    ) -> None:
        here = [key.name for key in table.keys]
        for name in sorted(extra):
            remedy = self.which_key(name, here)
            self._problems.value(place, name, raw[name], "There is no such key here.", remedy)

    def which_key(self, word: str, here: Iterable[str]) -> str:
        """Guess what an unknown key was to be: a misplaced one, a misspelt one, or any there is."""
        if word in self._homes:
            return f"It belongs to {self._homes[word]}."
        known = tuple(here)
        return nearest(word, known) or f"Known here: {', '.join(known)}."


def _as(name: str, read: Reader) -> Any:
    """Tell cattrs that an attribute is called ``name`` in the file and how it is read."""
    return override(rename=name, struct_hook=lambda value, _type: read(value))
