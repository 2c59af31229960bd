"""Every table and key of the configuration file, with its limits.

The limits are wide: they catch slips of the pen (``dwell = "30min"``), not opinions.
"""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from attrs import asdict, fields_dict, frozen

from driftlead.alerts.settings import EscalationSettings
from driftlead.alerts.watch_bill import CrewMember
from driftlead.config import readers
from driftlead.config.model import (
    ANSWERS,
    EARLIEST_DATE,
    WEB_LISTEN,
    ButtonSettings,
    ControlSettings,
)
from driftlead.config.readers import Reader
from driftlead.errors import UserInputError
from driftlead.journal.settings import JournalSettings, RecordingSettings
from driftlead.notify.settings import NotifierSettings
from driftlead.sources.settings import (
    BAUDS,
    LogSettings,
    SerialSettings,
    TcpSettings,
    UdpSettings,
)
from driftlead.tackle.chain import chain_of
from driftlead.tackle.design_load import Hull
from driftlead.tackle.rope import RopeKind
from driftlead.units import UnitSystem, WindUnit
from driftlead.watch.settings import (
    BoatSettings,
    DetectorSettings,
    LimitSettings,
    TackleSettings,
)


@frozen
class Key:
    """One key: its name in the file, the attribute it fills, and how its value is read.

    ``example`` is shown where a key that must be there is missing. ``default`` is a value as the
    file would have it, for settings that have none of their own.
    """

    name: str
    attribute: str
    read: Reader
    example: str = ""
    default: Any = None


@frozen
class Slip:
    """Two values that do not go together: the key to blame, what is wrong, what to do."""

    key: str
    message: str
    remedy: str


def _nothing_to_check(_settings: Any) -> Iterator[Slip]:
    return iter(())


@frozen
class Table:
    """One table: the class it becomes, its keys, and what its values must be to each other."""

    settings: type[Any]
    keys: tuple[Key, ...]
    check: Callable[[Any], Iterator[Slip]] = _nothing_to_check


@frozen(kw_only=True)
class NamedBoat(BoatSettings):
    """``[boat]``: the name beside the measures, and measures that only a plan asks for."""

    name: str = ""
    beam_m: float | None = None
    draught_m: float | None = None
    hull: Hull = Hull.SAIL
    drag_area_m2: float | None = None

    def measures(self) -> BoatSettings:
        """Leave the name out: decisions do not depend on it."""
        wanted = fields_dict(BoatSettings)
        return BoatSettings(**asdict(self, filter=lambda each, _: each.name in wanted))


@frozen(kw_only=True)
class NamedTackle(TackleSettings):
    """``[tackle]``: what the watch goes by, and what only a plan asks for."""

    chain_m: float | None = None
    chain_size_m: float | None = None
    chain_kg_per_m: float | None = None
    rope_m: float | None = None
    rope_size_m: float | None = None
    rope_kg_per_m: float | None = None
    rope_kind: RopeKind = RopeKind.NYLON
    snubber_m: float | None = None
    snubber_size_m: float | None = None

    def measures(self) -> TackleSettings:
        """Leave out what the watch does not decide by: recordings do not carry it."""
        wanted = fields_dict(TackleSettings)
        return TackleSettings(**asdict(self, filter=lambda each, _: each.name in wanted))


@frozen(kw_only=True)
class PlanTable:
    """``[plan]``."""

    units: UnitSystem = UnitSystem.METRIC
    wind_units: WindUnit = WindUnit.KNOTS
    zone: dt.timezone = dt.UTC
    clearance_m: float = 0.5
    wind_mps: float | None = None
    tide: Path | None = None
    least_scope: float = 3.0


@frozen(kw_only=True)
class WatchBillTable:
    """``[watch_bill]``; ``zone`` None: that of the plan."""

    zone: dt.timezone | None = None


@frozen(kw_only=True)
class AllsWellTable:
    """``[alls_well]``."""

    every_s: float = 0.0


@frozen(kw_only=True)
class WebTable:
    """``[web]``."""

    listen: str = WEB_LISTEN
    names: tuple[str, ...] = ()
    around: Path | None = None
    certificate: Path | None = None
    key: Path | None = None


@frozen(kw_only=True)
class TimeTable:
    """``[time]``."""

    earliest_date: dt.date = EARLIEST_DATE


@frozen(kw_only=True)
class NmeaTable:
    """``[nmea]``."""

    require_checksum: bool = True


def _check_boat(boat: NamedBoat) -> Iterator[Slip]:
    if boat.antenna_aft_m > boat.length_m:
        message = "The antenna would be farther aft than the boat is long."
        yield Slip("antenna_aft", message, "Correct it or [boat] length.")


def _check_web(web: WebTable) -> Iterator[Slip]:
    if (web.certificate is None) is not (web.key is None):
        here, other = ("key", "certificate") if web.certificate is None else ("certificate", "key")
        message = f"One of certificate and key is no use without the other: there is no {other}."
        yield Slip(here, message, "Write both, or neither: the page is plain http then.")


def _check_tackle(tackle: NamedTackle) -> Iterator[Slip]:
    parts_m = (tackle.chain_m or 0.0) + (tackle.rope_m or 0.0)
    # What is made fast below counts for some and not for others: only a slip of the pen is told.
    if tackle.rode_aboard_m is not None and parts_m > tackle.rode_aboard_m * 1.02:
        message = "Chain and rope together are more than that."
        yield Slip("rode_aboard", message, "Make it what chain and rope are together.")
    if tackle.chain_m and tackle.chain_kg_per_m is None:
        if tackle.chain_size_m is None:
            message = "What the chain weighs is not known."
            yield Slip("chain", message, 'Add chain_size = "8mm", or chain_kg_per_m.')
        else:
            try:
                chain_of(tackle.chain_size_m)
            except UserInputError as error:
                yield Slip("chain_size", error.message, error.remedy)
    if tackle.snubber_m is not None and tackle.snubber_size_m is None:
        yield Slip("snubber", "How thick it is is not known.", 'Add snubber_size = "12mm".')


def _check_detector(detector: DetectorSettings) -> Iterator[Slip]:
    if detector.floor_dwell_s > detector.dwell_s:
        message = "Far outside the circle would count later than just outside it."
        yield Slip("floor_dwell", message, "Make it no longer than dwell.")


def _check_limits(limits: LimitSettings) -> Iterator[Slip]:
    steps = (
        ("stale_warning", limits.stale_warning_s, "stale_alarm", limits.stale_alarm_s),
        ("lost_warning", limits.lost_warning_s, "lost_alarm", limits.lost_alarm_s),
        ("poor_caution", limits.poor_caution_s, "poor_warning", limits.poor_warning_s),
        ("frozen_caution", limits.frozen_caution_s, "frozen_warning", limits.frozen_warning_s),
    )
    for first, first_s, second, second_s in steps:
        if second_s < first_s:
            message = f"This would come before {first}."
            yield Slip(second, message, f"Make it no shorter than {first}.")


def _check_escalation(escalation: EscalationSettings) -> Iterator[Slip]:
    if escalation.everyone_after_s < escalation.second_after_s:
        message = "Everybody would be called before the second."
        yield Slip("everyone_after", message, "Make it no shorter than second_after.")


def _check_alls_well(alls_well: AllsWellTable) -> Iterator[Slip]:
    if 0.0 < alls_well.every_s < 10.0:
        message = "Nobody can tell that from a fault."
        yield Slip("every", message, 'Write "10s" or more, or "0s" for never.')


def _check_button(button: ButtonSettings) -> Iterator[Slip]:
    if button.command not in ANSWERS and button.hold_s < 1.0:
        message = f"A touch in passing would {button.command.replace('-', ' ')}."
        yield Slip("hold", message, 'Write "1s" or more.')


def single_tables(folder: Path) -> Mapping[str, Table]:
    """Give the tables that stand once, by name; relative paths start at ``folder``."""
    path = readers.path_from(folder)
    return {
        "boat": Table(
            NamedBoat,
            (
                Key("name", "name", readers.text),
                Key("length", "length_m", readers.length("2m", "100m")),
                Key("bow_height", "bow_height_m", readers.length("0m", "10m")),
                Key("antenna_aft", "antenna_aft_m", readers.length("0m", "100m")),
                Key("beam", "beam_m", readers.length("0.5m", "30m")),
                Key("draught", "draught_m", readers.length("0.1m", "15m")),
                Key("hull", "hull", readers.word_of(Hull)),
                Key("drag_area_m2", "drag_area_m2", readers.number(0.1, 1000)),
            ),
            _check_boat,
        ),
        "tackle": Table(
            NamedTackle,
            (
                Key("rode_aboard", "rode_aboard_m", readers.length("1m", "1000m")),
                Key("rode_slack", "rode_slack", readers.number(0, 0.5)),
                Key("chain", "chain_m", readers.length("0m", "1000m")),
                Key("chain_size", "chain_size_m", readers.length("4mm", "60mm")),
                Key("chain_kg_per_m", "chain_kg_per_m", readers.number(0.1, 100)),
                Key("rope", "rope_m", readers.length("0m", "1000m")),
                Key("rope_size", "rope_size_m", readers.length("4mm", "100mm")),
                Key("rope_kg_per_m", "rope_kg_per_m", readers.number(0.01, 20)),
                Key("rope_kind", "rope_kind", readers.word_of(RopeKind)),
                Key("snubber", "snubber_m", readers.length("0.5m", "50m")),
                Key("snubber_size", "snubber_size_m", readers.length("4mm", "100mm")),
            ),
            _check_tackle,
        ),
        "plan": Table(
            PlanTable,
            (
                Key("units", "units", readers.word_of(UnitSystem)),
                Key("wind_units", "wind_units", readers.word_of(WindUnit)),
                Key("zone", "zone", readers.zone),
                Key("clearance", "clearance_m", readers.length("0m", "10m")),
                Key("wind", "wind_mps", readers.speed("1kn", "120kn")),
                Key("tide", "tide", path),
                Key("least_scope", "least_scope", readers.number(1, 20)),
            ),
        ),
        "detector": Table(
            DetectorSettings,
            (
                Key("false_alarm_nights", "false_alarm_nights", readers.number(1, 100_000)),
                Key("dwell", "dwell_s", readers.duration("0s", "10min")),
                Key("floor", "floor_m", readers.length("1m", "200m")),
                Key("floor_dwell", "floor_dwell_s", readers.duration("0s", "10min")),
                Key("sigmas", "sigmas", readers.number(0, 6)),
                Key("fix_sigma", "fix_sigma_m", readers.length("0.1m", "50m")),
            ),
            _check_detector,
        ),
        "limits": Table(
            LimitSettings,
            (
                Key("stale_warning", "stale_warning_s", readers.duration("1s", "1h")),
                Key("stale_alarm", "stale_alarm_s", readers.duration("1s", "1h")),
                Key("lost_warning", "lost_warning_s", readers.duration("1s", "1h")),
                Key("lost_alarm", "lost_alarm_s", readers.duration("1s", "1h")),
                Key("poor_caution", "poor_caution_s", readers.duration("1s", "2h")),
                Key("poor_warning", "poor_warning_s", readers.duration("1s", "2h")),
                Key("frozen_caution", "frozen_caution_s", readers.duration("1s", "2h")),
                Key("frozen_warning", "frozen_warning_s", readers.duration("1s", "2h")),
                Key("poor_hdop", "poor_hdop", readers.number(1, 50)),
                Key("rode_unknown", "rode_unknown_s", readers.duration("10s", "1h")),
            ),
            _check_limits,
        ),
        "journal": Table(
            JournalSettings,
            (
                Key("path", "path", path, default="/var/lib/driftlead/journal.db"),
                Key("keep", "keep_s", readers.duration("1d", "36500d")),
                Key("cap", "cap_bytes", readers.size("1MB", "10GB")),
            ),
        ),
        "recording": Table(
            RecordingSettings,
            (
                Key("directory", "directory", path, default="/var/lib/driftlead/nights"),
                # The least cap is the largest part, so that the two always go together.
                Key("cap", "cap_bytes", readers.size("64MB", "2TB"), default="2GB"),
                Key("part", "part_bytes", readers.size("64kB", "64MB")),
            ),
        ),
        "control": Table(
            ControlSettings,
            (
                Key("socket", "socket", path),
                Key("mode", "mode", readers.file_mode),
                Key("group", "group", readers.name),
            ),
        ),
        "web": Table(
            WebTable,
            (
                Key("listen", "listen", readers.listen_at),
                Key("names", "names", readers.several(readers.host, '["corvid.local"]')),
                Key("around", "around", path),
                Key("certificate", "certificate", path),
                Key("key", "key", path),
            ),
            _check_web,
        ),
        "watch_bill": Table(WatchBillTable, (Key("zone", "zone", readers.zone),)),
        "escalation": Table(
            EscalationSettings,
            (
                Key("second_after", "second_after_s", readers.duration("0s", "5min")),
                Key("everyone_after", "everyone_after_s", readers.duration("0s", "5min")),
                Key("repeat", "repeat_s", readers.duration("10s", "5min")),
                Key(
                    "warning_becomes_alarm",
                    "warning_becomes_alarm_s",
                    readers.duration("0s", "1h"),
                ),
            ),
            _check_escalation,
        ),
        "alls_well": Table(
            AllsWellTable,
            (Key("every", "every_s", readers.duration("0s", "6h")),),
            _check_alls_well,
        ),
        "time": Table(TimeTable, (Key("earliest_date", "earliest_date", readers.earliest_date),)),
        "nmea": Table(NmeaTable, (Key("require_checksum", "require_checksum", readers.yes_or_no),)),
    }


_NAME = Key("name", "name", readers.name, 'name = "gps"')
_PORT = Key("port", "port", readers.whole(1, 65535))


def source_tables(folder: Path) -> Mapping[str, Table]:
    """Give what a ``[[source]]`` may hold besides ``kind``, by kind."""
    path = readers.path_from(folder)
    return {
        "serial": Table(
            SerialSettings,
            (
                _NAME,
                Key("device", "device", readers.device, 'device = "/dev/ttyUSB0"'),
                Key("baud", "baud", readers.one_of(BAUDS)),
            ),
        ),
        "udp": Table(
            UdpSettings,
            (
                _NAME,
                _PORT,
                Key("bind", "bind", readers.address),
                Key("group", "group", readers.multicast_group),
            ),
        ),
        "tcp": Table(
            TcpSettings,
            (_NAME, Key("host", "host", readers.host, 'host = "192.168.4.1"'), _PORT),
        ),
        "log": Table(
            LogSettings,
            (
                _NAME,
                Key("path", "path", path, 'path = "night.log"'),
                Key("pace", "pace", readers.number(0, 10_000)),
                Key("recorded_source", "recorded_source", readers.name),
            ),
        ),
    }


NOTIFIER = Table(
    NotifierSettings,
    (
        Key("kind", "kind", readers.name, 'kind = "sound"'),
        Key("name", "name", readers.name),
        Key("at_least", "at_least", readers.priority),
        Key("options", "options", dict),
    ),
)
"""What every ``[[notifier]]`` may hold; ``options`` gathers all others, for its kind to judge."""

CREW = Table(
    CrewMember,
    (
        Key("name", "name", readers.name, 'name = "skipper"'),
        Key(
            "notifiers",
            "notifiers",
            readers.several(readers.name, '["cabin"], the names of notifiers'),
            'notifiers = ["cabin"]',
        ),
        Key(
            "watches",
            "watches",
            readers.several(readers.watch_hours, '["20:00-24:00"], in ship\'s time'),
        ),
    ),
)

BUTTON = Table(
    ButtonSettings,
    (
        # The pins of the 40-pin header, by their BCM numbers.
        Key("pin", "pin", readers.whole(0, 27), "pin = 17"),
        Key(
            "command",
            "command",
            readers.one_of(("acknowledge", "silence", "let-go", "weigh")),
            'command = "acknowledge"',
        ),
        Key("hold", "hold_s", readers.duration("0s", "10s")),
    ),
    _check_button,
)
