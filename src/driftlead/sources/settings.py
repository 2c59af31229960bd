"""Where to read from, checked as soon as it is written down.

Every refusal is a UserInputError that names the source, the key, the value and the remedy.
"""

import ipaddress
import math
import re
from pathlib import Path
from typing import Any, Final, NoReturn

from attrs import Attribute, field, frozen

from driftlead.errors import UserInputError

NMEA_UDP_PORT: Final = 10110
"""Registered with IANA for NMEA 0183 navigational data, UDP and TCP."""

BAUDS: Final = (1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400, 460800, 921600)

_NAME: Final = re.compile(r"[A-Za-z0-9_.-]+")


def _refuse(settings: Any, key: str, value: object, why: str, remedy: str) -> NoReturn:
    message = f"Source {settings.name!r}: {key} = {value!r} {why}."
    raise UserInputError(message, remedy=remedy)


def _check_name(settings: Any, _name: "Attribute[str]", value: str) -> None:
    # Blanks would split a recorded line in the wrong place, "!" and "#" would change its meaning.
    if not isinstance(value, str) or not _NAME.fullmatch(value):
        _refuse(
            settings,
            "name",
            value,
            "is not a name",
            'Use letters, digits, "_", "." and "-", without blanks: name = "gps".',
        )


def _check_device(settings: Any, _device: "Attribute[str]", value: str) -> None:
    if not isinstance(value, str) or not value.startswith("/") or "\0" in value:
        _refuse(
            settings,
            "device",
            value,
            "is not the path of a device",
            "Write the whole path; one from /dev/serial/by-id stays the same when plugged in anew.",
        )


def _check_baud(settings: Any, _baud: "Attribute[int]", value: int) -> None:
    if type(value) is not int or value not in BAUDS:
        _refuse(
            settings,
            "baud",
            value,
            "is not a serial speed",
            f"NMEA 0183 has 4800, high speed 38400; known are {', '.join(map(str, BAUDS))}.",
        )


def _check_port(settings: Any, _port: "Attribute[int]", value: int) -> None:
    if type(value) is not int or not 1 <= value <= 65535:
        _refuse(
            settings,
            "port",
            value,
            "is not a port",
            f"Use a number from 1 to 65535; NMEA is mostly sent to {NMEA_UDP_PORT}.",
        )


def _check_bind(settings: Any, _bind: "Attribute[str]", value: str) -> None:
    if _ipv4(value) is None:
        _refuse(
            settings,
            "bind",
            value,
            "is not an IPv4 address",
            "Use an address of this machine, or 0.0.0.0 for all of them.",
        )


def _check_group(settings: Any, _group: "Attribute[str | None]", value: str | None) -> None:
    if value is None:
        return
    address = _ipv4(value)
    if address is None or not address.is_multicast:
        _refuse(
            settings,
            "group",
            value,
            "is not an IPv4 multicast address",
            "Use one from 224.0.0.0 to 239.255.255.255, such as 239.192.0.4, or leave it out.",
        )


def _check_host(settings: Any, _host: "Attribute[str]", value: str) -> None:
    if not isinstance(value, str) or not _is_host(value):
        _refuse(
            settings,
            "host",
            value,
            "is not the name or address of a host",
            'Write it without port or scheme: host = "192.168.1.20".',
        )


def _check_pace(settings: Any, _pace: "Attribute[float]", value: float) -> None:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if not number or not math.isfinite(value) or value < 0:
        _refuse(
            settings,
            "pace",
            value,
            "is not a pace",
            "1 plays the log as it was recorded, 10 ten times as fast, 0 as fast as possible.",
        )


def _check_recorded_source(
    settings: Any, _source: "Attribute[str | None]", value: str | None
) -> None:
    if value is not None and not (isinstance(value, str) and _NAME.fullmatch(value)):
        _refuse(
            settings,
            "recorded_source",
            value,
            "is not a name",
            "Write the name of one source in the recording, or leave it out to play all.",
        )


def _ipv4(text: str) -> ipaddress.IPv4Address | None:
    try:
        return ipaddress.IPv4Address(text) if isinstance(text, str) else None
    except ValueError:
        return None


def _is_host(text: str) -> bool:
    if re.search(r"[\s/@\0]", text):
        return False
    try:
        # As the resolver will: an empty label or one too long must not fail in mid-watch.
        return bool(text.encode("idna"))
    except UnicodeError:
        return False


@frozen(kw_only=True)
class SerialSettings:
    """A serial port, 8N1 as NMEA 0183 lays down. ``baud`` is bits a second."""

    name: str = field(validator=_check_name)
    device: str = field(validator=_check_device)
    baud: int = field(default=4800, validator=_check_baud)


@frozen(kw_only=True)
class UdpSettings:
    """A UDP port that hears unicast and broadcast, or with ``group`` that multicast group.

    ``bind`` is the address of this machine to hear on; with ``group``, of the interface to join
    on. Bound to one address a source hears no broadcasts.
    """

    name: str = field(validator=_check_name)
    port: int = field(default=NMEA_UDP_PORT, validator=_check_port)
    bind: str = field(default="0.0.0.0", validator=_check_bind)  # noqa: S104 - boats broadcast
    group: str | None = field(default=None, validator=_check_group)


@frozen(kw_only=True)
class TcpSettings:
    """A TCP server to read from."""

    name: str = field(validator=_check_name)
    host: str = field(validator=_check_host)
    port: int = field(default=NMEA_UDP_PORT, validator=_check_port)


@frozen(kw_only=True)
class LogSettings:
    """A recorded log, plain or gzipped, played as a live source for rehearsal.

    ``pace`` is how many times as fast as recorded; 0 as fast as possible. All lines bear ``name``;
    ``recorded_source`` picks the lines of one source from a recording that holds several.
    """

    name: str = field(validator=_check_name)
    path: Path = field(converter=Path)
    pace: float = field(default=1.0, validator=_check_pace)
    recorded_source: str | None = field(default=None, validator=_check_recorded_source)


SourceSettings = SerialSettings | UdpSettings | TcpSettings | LogSettings
