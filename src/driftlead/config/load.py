"""Loading the configuration: every fault of the file is reported at once."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from attrs import evolve

from driftlead.config.model import Config
from driftlead.config.problems import Problems
from driftlead.config.shown import nearest, shown_key
from driftlead.config.structure import Structurer
from driftlead.config.tables import BUTTON, NOTIFIER, Table, single_tables, source_tables
from driftlead.config.toml_file import read_toml
from driftlead.core.settings import CoreSettings
from driftlead.watch.settings import WatchSettings

_ARRAYS = ("source", "notifier", "button")
_Build = Callable[[Mapping[str, Any], str], Any]


def load_config(path: Path) -> Config:
    """Read the configuration file. Relative paths in it start at the folder it is in.

    Raises ConfigError whose ``problems`` has a line for every fault:
    ``FILE: [table] key = value: what is wrong. Remedy.``
    """
    return build_config(read_toml(path), path)


def build_config(raw: Mapping[str, Any], file: Path) -> Config:
    """Make the configuration of what ``file`` held. Raises ConfigError as ``load_config`` does."""
    return _Builder(raw, file).build()


def core_settings(config: Config) -> CoreSettings:
    """Pick out what decisions depend on: this, and nothing else, goes into recordings."""
    return CoreSettings(
        watch=config.watch,
        source_order=tuple(source.name for source in config.sources),
        earliest_date=config.earliest_date,
        require_checksum=config.require_checksum,
    )


class _Builder:
    """One pass over one file, so that all its parts share one list of problems."""

    def __init__(self, raw: Mapping[str, Any], file: Path) -> None:
        folder = file.absolute().parent
        self._raw = raw
        self._problems = Problems(file)
        self._singles = single_tables(folder)
        self._kinds = source_tables(folder)
        self._structurer = Structurer(self._problems, _homes(self._singles, self._kinds))

    def build(self) -> Config:
        self._note_unknown_tables()
        single = {name: self._single(name, table) for name, table in self._singles.items()}
        sources = self._array("source", self._source)
        notifiers = self._array("notifier", self._notifier)
        buttons = self._array("button", self._button)
        if self._raw.get("source", []) == []:
            remedy = 'Add [[source]] with name = "gps", kind = "serial" and its device.'
            self._problems.place("[[source]]", "There is none, so nothing can be watched.", remedy)
        self._note_twice("source", "name", lambda entry: entry.get("name"))
        self._note_twice("notifier", "name", lambda entry: entry.get("name", entry.get("kind")))
        self._note_twice("button", "pin", lambda entry: entry.get("pin"))
        self._problems.raise_if_any()
        return Config(
            boat_name=single["boat"].name,
            watch=WatchSettings(
                boat=single["boat"].measures(),
                tackle=single["tackle"],
                detector=single["detector"],
                limits=single["limits"],
            ),
            sources=sources,
            notifiers=notifiers,
            buttons=buttons,
            journal=single["journal"],
            recording=single["recording"],
            control=single["control"],
            earliest_date=single["time"].earliest_date,
            require_checksum=single["nmea"].require_checksum,
        )

    def _note_unknown_tables(self) -> None:
        known = (*self._singles, *_ARRAYS)
        for name, value in self._raw.items():
            if name in known:
                continue
            if isinstance(value, dict | list):
                remedy = nearest(name, known) or f"Known here: {', '.join(known)}."
                self._problems.place(f"[{shown_key(name)}]", "There is no such table.", remedy)
            else:
                remedy = self._structurer.which_key(name, known)
                self._problems.value("", name, value, "This stands outside any table.", remedy)

    def _single(self, name: str, table: Table) -> Any:
        value = self._raw.get(name, {})
        if isinstance(value, dict):
            return self._structurer.structure(table, value, f"[{name}]")
        message = "This is one table, not a value or several."
        remedy = f"Write [{name}] once, on a line of its own."
        self._problems.value("", name, value, message, remedy)
        return None

    def _array(self, name: str, build: _Build) -> tuple[Any, ...]:
        value = self._raw.get(name, [])
        if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
            remedy = f"Write [[{name}]] in double brackets, on a line of its own, before each."
            self._problems.value("", name, value, "There may be several of these.", remedy)
        return tuple(build(entry, place) for place, entry in self._entries(name))

    def _entries(self, name: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
        """Give what each entry of an array is called in problems, and the entry."""
        value = self._raw.get(name, [])
        entries = value if isinstance(value, list) else []
        for number, entry in enumerate(entries, start=1):
            if isinstance(entry, dict):
                yield f"[[{name}]] #{number}", entry

    def _source(self, entry: Mapping[str, Any], place: str) -> Any:
        kinds = ", ".join(f'"{kind}"' for kind in self._kinds)
        rest = dict(entry)
        kind = rest.pop("kind", None)
        if kind is None:
            self._problems.key(place, "kind", "This key is missing.", f"Write one of {kinds}.")
            return None
        if not isinstance(kind, str) or kind not in self._kinds:
            guess = nearest(kind, self._kinds) if isinstance(kind, str) else ""
            remedy = guess or f"Write one of {kinds}."
            self._problems.value(place, "kind", kind, "There is no such kind of source.", remedy)
            return None
        return self._structurer.structure(self._kinds[kind], rest, place)

    def _notifier(self, entry: Mapping[str, Any], place: str) -> Any:
        raw: dict[str, Any] = {"name": "unnamed", "options": {}}
        for key, value in entry.items():
            own = key in ("kind", "name", "at_least")
            (raw if own else raw["options"])[key] = value
        settings = self._structurer.structure(NOTIFIER, raw, place)
        if settings is None or "name" in entry:
            return settings
        return evolve(settings, name=settings.kind)

    def _button(self, entry: Mapping[str, Any], place: str) -> Any:
        return self._structurer.structure(BUTTON, entry, place)

    def _note_twice(self, name: str, key: str, of: Callable[[Mapping[str, Any]], Any]) -> None:
        """Note every entry whose ``key`` is that of an earlier one."""
        first: dict[str | int, str] = {}
        for place, entry in self._entries(name):
            value = of(entry)
            if type(value) not in (str, int):
                continue  # missing, or noted as wrong already
            if value in first:
                message = f"That is the one of {first[value]} too."
                self._problems.value(place, key, value, message, f"Give each its own {key}.")
            first.setdefault(value, place)


def _homes(singles: Mapping[str, Table], kinds: Mapping[str, Table]) -> Mapping[str, str]:
    """Give the home of every key that has only one, to send misplaced keys there."""
    homes = [(key.name, f"[{name}]") for name, table in singles.items() for key in table.keys]
    homes += [
        (key.name, f'[[source]] with kind = "{kind}"')
        for kind, table in kinds.items()
        for key in table.keys
    ]
    homes += [(key.name, "[[button]]") for key in BUTTON.keys]
    homes += [(key.name, "[[notifier]]") for key in NOTIFIER.keys]
    count = Counter(key for key, _ in homes)
    return {key: home for key, home in homes if count[key] == 1}
