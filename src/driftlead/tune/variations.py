"""The settings to be tried: a built-in grid, or those of a TOML file.

::

    [base]                        # what all of them start from; by default the built-in settings
    floor = "25m"

    [grid]                        # every combination of these
    false_alarm_nights = [10, 20, 50, 100]
    floor_dwell = ["8s", "20s"]

    [[setting]]                   # and these besides
    name = "poor receiver"
    fix_sigma = "4m"

Keys and values are those of ``[detector]`` in the configuration file, so that a setting found here
can be copied there.
"""

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from attrs import evolve, fields, frozen

from driftlead.config.problems import Problems
from driftlead.config.structure import Structurer
from driftlead.config.tables import Key, Table, single_tables
from driftlead.config.toml_file import read_toml
from driftlead.errors import ConfigError, UserInputError
from driftlead.watch.settings import DetectorSettings

MOST: Final = 20_000
"""More settings than anybody means: a slip in a grid."""
BUILT_IN_GRID: Final[Mapping[str, Sequence[float]]] = {
    "false_alarm_nights": (2, 5, 10, 15, 20, 30, 50, 75, 100, 200, 500, 1000, 5000),
    "floor_m": (15.0, 25.0, 35.0, 50.0),
    "dwell_s": (10.0, 30.0, 60.0, 120.0),
}
"""By attribute. All of it is decided on the same evidence, so each night is decoded once."""


@frozen
class Variation:
    """One setting to try, and what it is called."""

    name: str
    settings: DetectorSettings


def built_in() -> list[Variation]:
    """The settings tried where nothing else is said."""
    plain = DetectorSettings()
    grid = [
        evolve(plain, **dict(zip(BUILT_IN_GRID, values, strict=True)))
        for values in itertools.product(*BUILT_IN_GRID.values())
    ]
    return _in_order([Variation(named(each), each) for each in (plain, *grid)])


def read_variations(file: Path) -> list[Variation]:
    """Read the settings to try. Raises ConfigError with a line for every fault of the file."""
    return _read(read_toml(file), file)


def as_toml(settings: DetectorSettings) -> str:
    """Write what differs from the defaults as lines of ``[detector]``."""
    return "\n".join(f"{key} = {value}" for key, value in _changed(settings))


def _changed(settings: DetectorSettings) -> Iterator[tuple[str, str]]:
    plain = DetectorSettings()
    for key in _table().keys:
        value = getattr(settings, key.attribute)
        if value != getattr(plain, key.attribute):
            yield key.name, _text(key, value)


def _text(key: Key, value: float) -> str:
    """Write a value as its key reads it."""
    number = f"{value:.10g}"
    for text, raw in (
        (number, value),
        (number, int(value) if value == int(value) else value),
        *((f'"{number}{unit}"', f"{number}{unit}") for unit in ("m", "s")),
        (f'"1 in {number}"', f"1 in {number}"),
    ):
        try:
            if key.read(raw) == value:
                return text
        except UserInputError:
            continue
    return number


def _table() -> Table:
    return single_tables(Path())["detector"]


def _read(raw: Mapping[str, Any], file: Path) -> list[Variation]:
    reader = _Reader(raw, file)
    variations = list(reader.variations())
    reader.problems.raise_if_any()
    return _in_order(variations)


def _in_order(variations: Sequence[Variation]) -> list[Variation]:
    """Each setting once, the first one first and then by how little they differ from it."""
    base = variations[0].settings
    seen: dict[DetectorSettings, Variation] = {}
    for variation in variations:
        seen.setdefault(variation.settings, variation)
    return sorted(seen.values(), key=lambda each: _far_from(base, each.settings))


def _far_from(base: DetectorSettings, settings: DetectorSettings) -> float:
    """How much is different, in all; of settings that do as well the nearest is preferred."""
    far = 0.0
    for each in fields(DetectorSettings):
        old, new = getattr(base, each.name), getattr(settings, each.name)
        if old == new:
            continue
        known = isinstance(old, int | float) and isinstance(new, int | float)
        far += 0.1 + (abs(math.log(new / old)) if known and old > 0.0 and new > 0.0 else 1.0)
    return far


class _Reader:
    """One pass over one file, with every fault noted."""

    def __init__(self, raw: Mapping[str, Any], file: Path) -> None:
        self.problems = Problems(file)
        self._raw = raw
        self._table = _table()
        self._structurer = Structurer(self.problems, {})
        self._base: dict[str, Any] = {}

    def variations(self) -> Iterator[Variation]:
        """The base first, then the grid, then the single settings; stops short at faults."""
        for name in self._raw.keys() - {"base", "grid", "setting"}:
            remedy = "Known here: [base], [grid] and [[setting]]."
            self.problems.place(f"[{name}]", "There is no such table.", remedy)
        base = self._raw.get("base", {})
        if not isinstance(base, dict):
            remedy = "Write [base] once, on a line of its own."
            self.problems.value("", "base", base, "This is one table.", remedy)
            return
        settings = self._structurer.structure(self._table, base, "[base]")
        if settings is None:
            return
        self._base = base
        yield Variation(named(settings), settings)
        yield from self._grid()
        yield from self._single()

    def _grid(self) -> Iterator[Variation]:
        grid = self._raw.get("grid", {})
        if not isinstance(grid, Mapping) or not all(
            isinstance(values, list | tuple) and values for values in grid.values()
        ):
            remedy = 'Write each key of it as floor = ["15m", "25m"].'
            self.problems.place("[grid]", "A grid is a table of lists.", remedy)
            return
        count = math.prod(map(len, grid.values()))
        if count > MOST:
            message = f"That makes {count} settings."
            self.problems.place("[grid]", message, f"Leave at most {MOST} of them.")
            return
        if grid and self._each_value_is_right(grid):
            for values in itertools.product(*grid.values()):
                changes = dict(zip(grid, values, strict=True))
                yield from self._variation(changes, "[grid]")
                if not self._go_together(changes):
                    return

    def _each_value_is_right(self, grid: Mapping[str, Sequence[Any]]) -> bool:
        """Look at the values one by one first, so that a wrong one is told of once."""
        keys = {key.name: key for key in self._table.keys}
        right = True
        for name, values in grid.items():
            if name not in keys:
                remedy = self._structurer.which_key(name, keys)
                self.problems.key("[grid]", name, "There is no such key here.", remedy)
                right = False
                continue
            for value in values:
                try:
                    keys[name].read(value)
                except UserInputError as error:
                    self.problems.value("[grid]", name, value, error.message, error.remedy)
                    right = False
        return right

    def _go_together(self, changes: Mapping[str, Any]) -> bool:
        """Whether a combination is right; the first that is not has been noted, and is enough."""
        problems = Problems(Path("grid"))
        Structurer(problems, {}).structure(self._table, {**self._base, **changes}, "[grid]")
        try:
            problems.raise_if_any()
        except ConfigError:
            return False
        return True

    def _single(self) -> Iterator[Variation]:
        entries = self._raw.get("setting", [])
        if not isinstance(entries, list) or not all(isinstance(each, dict) for each in entries):
            remedy = "Write [[setting]] in double brackets, on a line of its own, before each."
            self.problems.value("", "setting", entries, "There may be several of these.", remedy)
            return
        for number, entry in enumerate(entries, start=1):
            changes = {key: value for key, value in entry.items() if key != "name"}
            name = entry.get("name")
            yield from self._variation(
                changes, f"[[setting]] #{number}", name if isinstance(name, str) else None
            )

    def _variation(
        self, changes: Mapping[str, Any], place: str, name: str | None = None
    ) -> Iterator[Variation]:
        table = {**self._base, **changes}
        settings = self._structurer.structure(self._table, table, place)
        if settings is not None:
            yield Variation(name or named(settings), settings)


def named(settings: DetectorSettings) -> str:
    """Name a setting by what differs from the defaults."""
    return ", ".join(f"{key} = {value}" for key, value in _changed(settings)) or "defaults"
