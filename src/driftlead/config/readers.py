"""Readers of single values: from what TOML gives to what the settings hold.

Each takes any value TOML can hold and returns the checked one, or raises UserInputError whose
message and remedy can stand behind ``key = value:``.
"""

import datetime as dt
import ipaddress
import re
from collections.abc import Callable, Collection
from enum import StrEnum
from pathlib import Path
from typing import Any, TypeVar

from driftlead.alerts.alert import Priority
from driftlead.alerts.watch_bill import WatchHours
from driftlead.config.shown import nearest, shown
from driftlead.errors import UserInputError
from driftlead.tide.reading import parse_zone
from driftlead.units import parse_duration_s, parse_length_m, parse_size_bytes, parse_speed_mps

Reader = Callable[[Any], Any]
_T = TypeVar("_T", int, float)


def length(low: str, high: str) -> Reader:
    """Read a length in metres; the limits are written as in the file."""
    return _quantity(parse_length_m, low, high)


def duration(low: str, high: str) -> Reader:
    """Read a time in seconds."""
    return _quantity(parse_duration_s, low, high)


def speed(low: str, high: str) -> Reader:
    """Read a speed in metres a second."""
    return _quantity(parse_speed_mps, low, high)


def size(low: str, high: str) -> Reader:
    """Read a size in bytes."""
    return _quantity(parse_size_bytes, low, high)


def _quantity(parse: Callable[[str], _T], low: str, high: str) -> Reader:
    lowest, highest = parse(low), parse(high)

    def read(value: Any) -> _T:
        if _is_number(value):
            # "30 has no unit" is the parser's own word; the file adds only the quotes.
            return _parsed_number(parse, shown(value))
        if not isinstance(value, str):
            remedy = f'Write a number and its unit in double quotes, such as "{high}".'
            raise UserInputError("This is not a quantity.", remedy=remedy)
        si = parse(value)
        if not lowest <= si <= highest:
            message = f"{value.strip()} is out of range."
            raise UserInputError(message, remedy=f"Write something from {low} to {high}.")
        return si

    return read


def _parsed_number(parse: Callable[[str], _T], text: str) -> _T:
    try:
        return parse(text)
    except UserInputError as error:
        remedy = f"{error.remedy.rstrip('.')}, in double quotes."
        raise UserInputError(error.message, remedy=remedy) from None


def number(low: float, high: float) -> Reader:
    """Read a plain number without a dimension."""

    def read(value: Any) -> float:
        remedy = f"Write a number from {low:g} to {high:g}, without quotes."
        if not _is_number(value):
            raise UserInputError("This is not a number.", remedy=remedy)
        if not low <= value <= high:
            raise UserInputError("This is out of range.", remedy=remedy)
        return float(value)

    return read


def whole(low: int, high: int) -> Reader:
    """Read a whole number."""

    def read(value: Any) -> int:
        remedy = f"Write a whole number from {low} to {high}, without quotes."
        if not isinstance(value, int) or isinstance(value, bool):
            raise UserInputError("This is not a whole number.", remedy=remedy)
        if not low <= value <= high:
            raise UserInputError("This is out of range.", remedy=remedy)
        return value

    return read


def one_of(choices: Collection[Any]) -> Reader:
    """Read one of a few values."""

    def read(value: Any) -> Any:
        # bool is an int to Python: true is not a baud rate.
        if isinstance(value, str | int) and not isinstance(value, bool) and value in choices:
            return value
        if isinstance(value, str) and value in map(str, choices):
            raise UserInputError("This is text, not a number.", remedy="Write it without quotes.")
        words = [choice for choice in choices if isinstance(choice, str)]
        meant = nearest(value, words) if isinstance(value, str) else ""
        written = ", ".join(shown(choice) for choice in choices)
        raise UserInputError(
            "This is none of the choices.", remedy=meant or f"Write one of {written}."
        )

    return read


def word_of(kind: type[StrEnum]) -> Reader:
    """Read one of the words of an enumeration."""
    read_word = one_of([str(each) for each in kind])
    return lambda value: kind(read_word(value))


def zone(value: Any) -> dt.timezone:
    """Read the ship's zone time as its offset from UTC."""
    return parse_zone(text(value))


def yes_or_no(value: Any) -> bool:
    """Read true or false."""
    if isinstance(value, bool):
        return value
    raise UserInputError("This is neither true nor false.", remedy="Write it without quotes.")


def text(value: Any) -> str:
    """Read a text that is not empty and fits on a line."""
    if not isinstance(value, str):
        raise UserInputError("This is not text.", remedy="Put it in double quotes.")
    stripped = value.strip()
    if not stripped:
        raise UserInputError("This is empty.", remedy="Write something or leave the key out.")
    if not stripped.isprintable():
        raise UserInputError("This has unprintable characters.", remedy="Write plain text.")
    return stripped


def priority(value: Any) -> Priority:
    """Read the priority of an alert."""
    return Priority(one_of([str(each) for each in Priority])(value))


_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,31}")


def name(value: Any) -> str:
    """Read a name that can stand in alerts, recordings and on the command line."""
    word = text(value)
    if not _NAME.fullmatch(word):
        message = "This cannot be a name."
        remedy = "Use up to 32 letters, digits, hyphens, underscores and points, and no spaces."
        raise UserInputError(message, remedy=remedy)
    return word


def several(read: Reader, example: str) -> Reader:
    """Read an array of at least one of what ``read`` reads."""

    def read_all(value: Any) -> tuple[Any, ...]:
        if not isinstance(value, list) or not value:
            raise UserInputError("This is not a list.", remedy=f"Write {example}.")
        return tuple(_one_of_several(read, each) for each in value)

    return read_all


def _one_of_several(read: Reader, value: Any) -> Any:
    try:
        return read(value)
    except UserInputError as error:
        raise UserInputError(f"{shown(value)}: {error.message}", remedy=error.remedy) from None


_HOURS = re.compile(r"(\d\d):(\d\d)\s*-\s*(\d\d):(\d\d)")


def watch_hours(value: Any) -> WatchHours:
    """Read the hours of a watch in ship's time; one that ends before it begins spans midnight."""
    remedy = 'Write it as "20:00-24:00".'
    match = _HOURS.fullmatch(text(value))
    hours = [int(part) for part in match.groups()] if match else []
    if not hours or hours[1] > 59 or hours[3] > 59:
        raise UserInputError("These are not the hours of a watch.", remedy=remedy)
    from_s, to_s = hours[0] * 3600 + hours[1] * 60, hours[2] * 3600 + hours[3] * 60
    if from_s >= 86_400 or to_s > 86_400:
        raise UserInputError("The day has 24 hours.", remedy=remedy)
    if from_s == to_s:
        message = "It ends when it begins."
        raise UserInputError(message, remedy='The whole day is "00:00-24:00".')
    return WatchHours(float(from_s), float(to_s))


def host(value: Any) -> str:
    """Read a host name or an address."""
    word = text(value)
    if re.search(r"[\s/]|:[0-9]+$", word):
        message = "This is not a host."
        raise UserInputError(message, remedy="Write the name or address alone, without a port.")
    return word


def address(value: Any) -> str:
    """Read an IPv4 address of this machine."""
    return str(_ipv4(value, example="0.0.0.0"))  # noqa: S104 - only shown


def listen_at(value: Any) -> str:
    """Read an address of this machine and a port to serve on."""
    word = text(value)
    host, _, port = word.rpartition(":")
    try:
        ipaddress.ip_address(host.strip("[]"))
        good = port.isascii() and port.isdecimal() and 1 <= int(port) <= 65535
    except ValueError:
        good = False
    if not good:
        raise UserInputError(
            "This is not an address and a port to listen on.",
            remedy='Write "127.0.0.1:8421" for this computer alone, "0.0.0.0:8421" for all aboard.',
        )
    return word


def multicast_group(value: Any) -> str:
    """Read the IPv4 address of a multicast group."""
    group = _ipv4(value, example="239.192.0.1")
    if not group.is_multicast:
        remedy = "Write one from 224.0.0.0 to 239.255.255.255, or leave the key out."
        raise UserInputError("This is not a multicast address.", remedy=remedy)
    return str(group)


def _ipv4(value: Any, *, example: str) -> ipaddress.IPv4Address:
    word = text(value)
    try:
        return ipaddress.IPv4Address(word)
    except ValueError:
        remedy = f'Write an address such as "{example}".'
        raise UserInputError("This is not an IPv4 address.", remedy=remedy) from None


def device(value: Any) -> str:
    """Read the whole path of a device."""
    word = text(value)
    if not word.startswith("/"):
        remedy = "Write the whole path; one in /dev/serial/by-id survives being plugged in anew."
        raise UserInputError("This is not the path of a device.", remedy=remedy)
    return word


def path_from(folder: Path) -> Reader:
    """Read a path; a relative one starts at ``folder``."""

    def read(value: Any) -> Path:
        word = text(value)
        if word.startswith("~"):
            message = "The home folder of the daemon is not yours."
            raise UserInputError(message, remedy="Write the whole path.")
        return folder / word

    return read


def file_mode(value: Any) -> int:
    """Read the permission bits of a file, in octal."""
    remedy = 'Write four octal digits in double quotes, such as "0660".'
    if not isinstance(value, str) or not re.fullmatch(r"0[0-7]{3}", value):
        raise UserInputError("This is not a file mode.", remedy=remedy)
    mode = int(value, 8)
    if mode & 0o600 != 0o600:
        message = "The daemon could not use its own socket."
        raise UserInputError(message, remedy='Begin with "06", such as "0660".')
    return mode


# The week number of GPS rolled over on the first date and rolls over again on the last
# (IS-GPS-200: it has ten bits, counted from 6 January 1980).
_LAST_ROLLOVER = dt.date(2019, 4, 7)
_NEXT_ROLLOVER = dt.date(2038, 11, 21)


def earliest_date(value: Any) -> dt.date:
    """Read the date before which no receiver's date is believed."""
    remedy = f"Write a date between {_LAST_ROLLOVER} and {_NEXT_ROLLOVER}, without quotes."
    # A datetime is a date to Python.
    if not isinstance(value, dt.date) or isinstance(value, dt.datetime):
        raise UserInputError("This is not a date.", remedy=remedy)
    if not _LAST_ROLLOVER <= value <= _NEXT_ROLLOVER:
        raise UserInputError("This is out of range.", remedy=remedy)
    return value


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
