"""Loading the configuration: every fault of the file is reported at once."""

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from attrs import asdict, evolve, fields_dict

from driftlead.alerts.settings import AlertSettings, OutletSettings
from driftlead.alerts.watch_bill import WatchBill
from driftlead.config.model import Config, WebSettings
from driftlead.config.notifier_options import problems_of
from driftlead.config.problems import Problems
from driftlead.config.shown import nearest, shown_key
from driftlead.config.structure import Structurer
from driftlead.config.tables import (
    BUTTON,
    CREW,
    NOTIFIER,
    Table,
    single_tables,
    source_tables,
)
from driftlead.config.toml_file import read_toml
from driftlead.core.settings import CoreSettings
from driftlead.notify.settings import NotifierSettings
from driftlead.planning.plan_settings import PlanSettings
from driftlead.watch.settings import OutlookSettings, WatchSettings

_ARRAYS = ("source", "notifier", "crew", "button")
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
        alerts=AlertSettings(
            outlets=tuple(
                OutletSettings(name=notifier.name, at_least=notifier.at_least)
                for notifier in config.notifiers
            ),
            bill=config.bill,
            escalation=config.escalation,
            alls_well_s=config.alls_well_s,
        ),
    )


def load_plan_settings(path: Path) -> PlanSettings:
    """Read what a plan needs, of [boat], [tackle] and [plan] alone.

    Raises ConfigError for faults of these tables; those of others are for the daemon to mind.
    """
    return _Builder(read_toml(path), path).build_plan_settings()


def load_tide_path(path: Path) -> Path | None:
    """Read which tide table [plan] names. Raises ConfigError for faults of that table alone."""
    return _Builder(read_toml(path), path).build_tide_path()


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
        crew = self._array("crew", self._crew)
        buttons = self._array("button", self._button)
        if self._raw.get("source", []) == []:
            remedy = 'Add [[source]] with name = "gps", kind = "serial" and its device.'
            self._problems.place("[[source]]", "There is none, so nothing can be watched.", remedy)
        self._note_twice("source", "name", lambda entry: entry.get("name"))
        self._note_twice("notifier", "name", lambda entry: entry.get("name", entry.get("kind")))
        self._note_twice("crew", "name", lambda entry: entry.get("name"))
        self._note_notifiers_nobody_has()
        self._note_twice("button", "pin", lambda entry: entry.get("pin"))
        if self._problems:
            # By themselves they keep no watch from being kept: the daemon tells of each as failed.
            self._note_notifiers(notifiers)
        self._problems.raise_if_any()
        return Config(
            boat_name=single["boat"].name,
            watch=WatchSettings(
                boat=single["boat"].measures(),
                tackle=single["tackle"].measures(),
                detector=single["detector"],
                limits=single["limits"],
                outlook=OutlookSettings(
                    wind_mps=single["plan"].wind_mps,
                    draught_m=single["boat"].draught_m,
                    clearance_m=single["plan"].clearance_m,
                    least_scope=single["plan"].least_scope,
                    utc_offset_s=_offset_s(single["plan"].zone),
                ),
            ),
            sources=sources,
            notifiers=notifiers,
            bill=WatchBill(
                crew=crew,
                utc_offset_s=_offset_s(single["watch_bill"].zone or single["plan"].zone),
            ),
            escalation=single["escalation"],
            alls_well_s=single["alls_well"].every_s,
            buttons=buttons,
            journal=single["journal"],
            recording=single["recording"],
            control=single["control"],
            web=WebSettings(**asdict(single["web"]), plan=self.build_plan_settings())
            if "web" in self._raw
            else None,
            tide=single["plan"].tide,
            earliest_date=single["time"].earliest_date,
            require_checksum=single["nmea"].require_checksum,
        )

    def build_plan_settings(self) -> PlanSettings:
        boat, tackle, plan = (
            self._single(name, self._singles[name]) for name in ("boat", "tackle", "plan")
        )
        self._problems.raise_if_any()
        known = {
            name: value
            for part in (boat, tackle, plan)
            for name, value in asdict(part, recurse=False).items()
            if name in fields_dict(PlanSettings)
        }
        # What is not written there is asked for: a plan by the default length would mislead.
        written = self._raw.get("boat", {})
        for key, name in (("length", "length_m"), ("bow_height", "bow_height_m")):
            if key not in written:
                known[name] = None
        return PlanSettings(**known)

    def build_tide_path(self) -> Path | None:
        plan = self._single("plan", self._singles["plan"])
        self._problems.raise_if_any()
        tide: Path | None = plan.tide
        return tide

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

    def _note_notifiers(self, notifiers: Sequence[NotifierSettings | None]) -> None:
        places = (place for place, _ in self._entries("notifier"))
        for place, settings in zip(places, notifiers, strict=True):
            for line in () if settings is None else problems_of(settings, place):
                self._problems.line(line)

    def _crew(self, entry: Mapping[str, Any], place: str) -> Any:
        return self._structurer.structure(CREW, entry, place)

    def _button(self, entry: Mapping[str, Any], place: str) -> Any:
        return self._structurer.structure(BUTTON, entry, place)

    def _note_notifiers_nobody_has(self) -> None:
        """Note every notifier by which one of the crew is to be called and that there is not."""
        names = [each.get("name", each.get("kind")) for _, each in self._entries("notifier")]
        known = [name for name in names if isinstance(name, str)]
        for place, entry in self._entries("crew"):
            wanted = entry.get("notifiers")
            for name in wanted if isinstance(wanted, list) else ():
                if isinstance(name, str) and name.strip() not in known:
                    remedy = nearest(name, known) or "Add a [[notifier]] of that name."
                    message = f"There is no notifier {shown_key(name)}."
                    self._problems.value(place, "notifiers", wanted, message, remedy)

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


def _offset_s(zone: dt.timezone) -> float:
    return zone.utcoffset(None).total_seconds()


def _homes(singles: Mapping[str, Table], kinds: Mapping[str, Table]) -> Mapping[str, str]:
    """Give the home of every key that has only one, to send misplaced keys there."""
    homes = [(key.name, f"[{name}]") for name, table in singles.items() for key in table.keys]
    homes += [
        (key.name, f'[[source]] with kind = "{kind}"')
        for kind, table in kinds.items()
        for key in table.keys
    ]
    homes += [(key.name, "[[crew]]") for key in CREW.keys]
    homes += [(key.name, "[[button]]") for key in BUTTON.keys]
    homes += [(key.name, "[[notifier]]") for key in NOTIFIER.keys]
    count = Counter(key for key, _ in homes)
    return {key: home for key, home in homes if count[key] == 1}
