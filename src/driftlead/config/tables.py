"""Every table and key of the configuration file, with its limits.

The limits are wide: they catch slips of the pen (``dwell = "30min"``), not opinions.
"""

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from attrs import asdict, fields_dict, frozen

from driftlead.config import readers
from driftlead.config.model import EARLIEST_DATE, ButtonSettings, ControlSettings
from driftlead.config.readers import Reader
from driftlead.journal.settings import JournalSettings, RecordingSettings
from driftlead.notify.settings import NotifierSettings
from driftlead.sources.settings import (
    BAUDS,
    LogSettings,
    SerialSettings,
    TcpSettings,
    UdpSettings,
)
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
    """``[boat]``: the name beside the measures."""

    name: str = ""

    def measures(self) -> BoatSettings:
        """Leave the name out: decisions do not depend on it."""
        wanted = fields_dict(BoatSettings)
        return BoatSettings(**asdict(self, filter=lambda each, _: each.name in wanted))


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


def _check_button(button: ButtonSettings) -> Iterator[Slip]:
    if button.command != "acknowledge" and button.hold_s < 1.0:
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
            ),
            _check_boat,
        ),
        "tackle": Table(
            TackleSettings,
            (
                Key("rode_aboard", "rode_aboard_m", readers.length("1m", "1000m")),
                Key("rode_slack", "rode_slack", readers.number(0, 0.5)),
            ),
        ),
        "detector": Table(
            DetectorSettings,
            (
                Key("dwell", "dwell_s", readers.duration("1s", "10min")),
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
            (Key("path", "path", path, default="/var/lib/driftlead/journal.db"),),
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

BUTTON = Table(
    ButtonSettings,
    (
        # The pins of the 40-pin header, by their BCM numbers.
        Key("pin", "pin", readers.whole(0, 27), "pin = 17"),
        Key(
            "command",
            "command",
            readers.one_of(("acknowledge", "let-go", "weigh")),
            'command = "acknowledge"',
        ),
        Key("hold", "hold_s", readers.duration("0s", "10s")),
    ),
    _check_button,
)
