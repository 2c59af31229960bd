"""Alerts as NMEA 0183 / IEC 61162-1 sentences, and the answers that displays send back. Pure.

``ALF`` tells of an alert, ``ALC`` lists all that are up, ``HBT`` is the heartbeat, ``ARC`` refuses
a command; ``ALR`` is what older displays know. Back come ``ACN`` (a command), ``ACK`` (an
acknowledgement, from older displays) and ``HBT`` (the display's own heartbeat).

Fields and letters are as the handbooks of two makers of radio and navigation equipment quote
IEC 61162-1; the standard itself was not at hand. *Uncertain*, because those handbooks contradict
each other: the state letters A, V and N of ``ALF``. *From memory*: that numbers from 10000 on are a
maker's own, the layout of ``ALC``, ``ARC`` and ``HBT``, the rules of the counters, that whoever
sends ``O`` in ``ACN`` takes the responsibility over, and that ``V`` in ``HBT`` is of one that does
not work normally.
"""

import datetime as dt
import enum
import math
import unicodedata
import zlib
from collections.abc import Iterable, Sequence
from typing import Final

from attrs import frozen

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.nmea.checksum import checksum
from driftlead.nmea.tag_block import split_tag_block
from driftlead.units import KNOT_MPS

MAX_CHARACTERS: Final = 82
"""Longest sentence, with ``$`` and the line end (NMEA 0183)."""
OWN_NUMBERS_FROM: Final = 10_000
_HIGHEST_INSTANCE: Final = 999_999
_HIGHEST_REVISION: Final = 99
_HIGHEST_ESCALATION: Final = 9

_ALERT_NUMBERS: Final = {
    name: number
    for number, name in enumerate(
        (
            "drag",
            "data_stale",
            "fix_lost",
            "fix_poor",
            "fix_frozen",
            "rode_unknown",
            "anchor_uncertain",
            "receiver_date",
            "watch_resumed",
            "source_silent",
            "notifier_failed",
            "journal_failed",
            "recording_failed",
            "heading_lost",
            "wind_lost",
            "rode_short",
            "wind_over_plan",
            "swing_changed",
            "wind_shifted",
            "will_touch",
            "clock_jumped",
            "supply_low",
            "cpu_hot",
            "disk_low",
            "drill",
            "file_unreadable",
        ),
        start=1,
    )
}
"""Displays may be set up by these: names are only ever added, at the end. Others are hashed."""

_PRIORITIES: Final = {Priority.ALARM: "A", Priority.WARNING: "W", Priority.CAUTION: "C"}
_STATES: Final = {
    AlertState.NORMAL: "N",
    AlertState.ACTIVE_UNACKNOWLEDGED: "V",
    AlertState.SILENCED: "S",
    AlertState.ACTIVE_ACKNOWLEDGED: "A",
    AlertState.RESPONSIBILITY_TRANSFERRED: "O",
    AlertState.RECTIFIED_UNACKNOWLEDGED: "U",
}
_CATEGORY: Final = "B"
"""The alert's own text is enough to decide by, so that it may be answered where it is shown."""
_RESERVED: Final = str.maketrans({",": ";", **dict.fromkeys("$*!\\^~\x7f", " ")})
"""Characters with a meaning of their own. ``^2C`` is a legal comma, but few displays undo it."""


class AnswerKind(enum.StrEnum):
    """What a display asks for, by the letters of ``ACN``."""

    ACKNOWLEDGE = "A"
    REPEAT = "Q"
    TRANSFER = "O"
    SILENCE = "S"


@frozen(kw_only=True)
class Identity:
    """What tells one alert from another on displays: maker's mnemonic, number, instance."""

    manufacturer: str
    number: int
    instance: int


@frozen(kw_only=True)
class ShownAlert:
    """An alert with the counters that displays tell its versions apart by."""

    alert: Alert
    identity: Identity
    revision: int = 1
    escalation: int = 0


@frozen(kw_only=True)
class Answer:
    """What a display asks. ``instance`` is None in an ``ACK``, which means all of the number.

    ``talker`` is whose sentence it was.
    """

    kind: AnswerKind
    number: int
    manufacturer: str = ""
    instance: int | None = None
    talker: str = ""


@frozen(kw_only=True)
class Heartbeat:
    """A display lives; it means to say so every ``interval_s`` (0: it does not say how often)."""

    talker: str
    interval_s: float
    works: bool


def identity_of(alert: Alert, manufacturer: str) -> Identity:
    """Number an alert the same way in every run. An unknown name or an instance is hashed."""
    number = _ALERT_NUMBERS.get(alert.name)
    if number is None:
        number = 100 + zlib.crc32(alert.name.encode("utf-8", "replace")) % 900
    instance = 1
    if alert.instance:
        hashed = zlib.crc32(alert.instance.encode("utf-8", "replace"))
        instance = 2 + hashed % (_HIGHEST_INSTANCE - 1)
    return Identity(manufacturer=manufacturer, number=OWN_NUMBERS_FROM + number, instance=instance)


def is_mnemonic(text: str) -> bool:
    """Whether this can be a maker's mnemonic: up to three capital letters or digits."""
    return len(text) <= 3 and text.isascii() and text.isalnum() and text.upper() == text


def next_revision(revision: int) -> int:
    """Count 1 to 99 and on from 1."""
    return revision % _HIGHEST_REVISION + 1


def next_escalation(escalation: int) -> int:
    """Count 0 to 9 and on from 1."""
    return escalation % _HIGHEST_ESCALATION + 1


def alf(shown: ShownAlert, *, talker: str, sequence: int) -> tuple[str, ...]:
    """Write one ``ALF``, or two if the text needs them. ``sequence`` is 0 to 9."""
    alert, identity = shown.alert, shown.identity
    fields = (
        str(sequence),
        _time(alert.utc_s),
        _CATEGORY,
        _PRIORITIES[alert.priority],
        _STATES[alert.state],
        identity.manufacturer,
        str(identity.number),
        str(identity.instance),
        str(shown.revision),
        str(shown.escalation),
    )
    room = MAX_CHARACTERS - len(_sentence(f"{talker}ALF", "1", "1", *fields, "")) - len("\r\n")
    parts = _fragments(alert, room)
    total = str(len(parts))
    return tuple(
        _sentence(f"{talker}ALF", total, str(number), *fields, part)
        for number, part in enumerate(parts, start=1)
    )


def alr(shown: ShownAlert, *, talker: str) -> str:
    """Write the ``ALR`` of an alert: A is active and A acknowledged, V is neither."""
    alert = shown.alert
    over = alert.state in (AlertState.NORMAL, AlertState.RECTIFIED_UNACKNOWLEDGED)
    answered = alert.state in (
        AlertState.NORMAL,
        AlertState.ACTIVE_ACKNOWLEDGED,
        AlertState.RESPONSIBILITY_TRANSFERRED,
    )
    fields = (
        _time(alert.utc_s),
        f"{shown.identity.number - OWN_NUMBERS_FROM:03d}",
        "V" if over else "A",
        "A" if answered else "V",
    )
    room = MAX_CHARACTERS - len(_sentence(f"{talker}ALR", *fields, "")) - len("\r\n")
    return _sentence(f"{talker}ALR", *fields, _cut(_title(alert), room))


def alc(every: Iterable[ShownAlert], *, talker: str, sequence: int) -> tuple[str, ...]:
    """Write the list of all alerts that are up, in as many sentences as it needs, at least one.

    ``sequence`` is 0 to 99.
    """
    entries = [
        ",".join(
            (
                shown.identity.manufacturer,
                str(shown.identity.number),
                str(shown.identity.instance),
                str(shown.revision),
            )
        )
        for shown in every
    ]
    head = (f"{talker}ALC", "00", "00", f"{sequence:02d}", "00")
    room = MAX_CHARACTERS - len(_sentence(*head)) - len("\r\n")
    groups: list[list[str]] = [[]]
    for entry in entries:
        if groups[-1] and len(",".join((*groups[-1], entry))) + 1 > room:
            groups.append([])
        groups[-1].append(entry)
    return tuple(
        _sentence(
            f"{talker}ALC",
            f"{len(groups):02d}",
            f"{number:02d}",
            f"{sequence:02d}",
            str(len(group)),
            *group,
        )
        for number, group in enumerate(groups, start=1)
    )


def hbt(*, interval_s: float, sequence: int, talker: str) -> str:
    """Write the heartbeat: we live; the next comes in ``interval_s``. ``sequence`` is 0 to 9."""
    return _sentence(f"{talker}HBT", f"{interval_s:g}", "A", str(sequence))


def arc(answer: Answer, *, talker: str) -> str:
    """Refuse a command. The time is left empty: no clock of ours belongs into it."""
    instance = "" if answer.instance is None else str(answer.instance)
    return _sentence(
        f"{talker}ARC", "", answer.manufacturer, str(answer.number), instance, answer.kind.value
    )


def parse_answer(line: str) -> Answer | None:
    """Read an ``ACN`` or ``ACK`` of any talker; None for everything else. Never raises.

    The checksum must be there and right: noise must not silence an alarm.
    """
    address, *fields = _fields(line)
    talker = address[:2]
    match address[2:], fields:
        case "ACN", [_time_sent, manufacturer, number, instance, letter, "C"]:
            return _command(talker, manufacturer, number, instance, letter)
        case "ACK", [number] if (local := _whole(number, 999)) is not None:
            number_of_ours = OWN_NUMBERS_FROM + local
            return Answer(kind=AnswerKind.ACKNOWLEDGE, number=number_of_ours, talker=talker)
        case _:
            return None


def parse_heartbeat(line: str) -> Heartbeat | None:
    """Read an ``HBT`` of any talker; None for everything else. Never raises."""
    address, *fields = _fields(line)
    match address[2:], fields:
        case "HBT", [interval, ("A" | "V") as status, _sequence]:
            whole, _point, part = interval.partition(".")
            if not all(each.isascii() and each.isdecimal() for each in (whole or "0", part or "0")):
                return None
            interval_s = float(f"{whole or '0'}.{part or '0'}")
            return Heartbeat(talker=address[:2], interval_s=interval_s, works=status == "A")
        case _:
            return None


def _fields(line: str) -> list[str]:
    """Give the address and the fields of a sentence with a right checksum; else one empty text."""
    _tag, sentence = split_tag_block(line.strip("\r\n"))
    body, star, claimed = sentence[1:].rpartition("*")
    if not sentence.startswith("$") or not star or len(sentence) > MAX_CHARACTERS:
        return [""]
    if claimed.upper() != f"{checksum(body):02X}":
        return [""]
    return body.split(",")


def _command(
    talker: str, manufacturer: str, number: str, instance: str, letter: str
) -> Answer | None:
    if letter not in tuple(AnswerKind):
        return None
    whole_number = _whole(number, 9_999_999)
    whole_instance = _whole(instance, _HIGHEST_INSTANCE)
    if whole_number is None or whole_instance is None:
        return None
    if manufacturer and not is_mnemonic(manufacturer):
        return None
    return Answer(
        kind=AnswerKind(letter),
        number=whole_number,
        manufacturer=manufacturer,
        instance=whole_instance,
        talker=talker,
    )


def _whole(text: str, highest: int) -> int | None:
    if not (text.isascii() and text.isdecimal()) or len(text) > 7:
        return None
    value = int(text)
    return value if value <= highest else None


def _sentence(*fields: str) -> str:
    body = ",".join(fields)
    return f"${body}*{checksum(body):02X}"


def _time(utc_s: float | None) -> str:
    if utc_s is None or not math.isfinite(utc_s):
        return ""
    try:
        moment = dt.datetime.fromtimestamp(utc_s, dt.UTC)
    except (OverflowError, ValueError, OSError):
        return ""  # no date at all
    return f"{moment:%H%M%S}"


def _fragments(alert: Alert, room: int) -> Sequence[str]:
    """Give the text in one or two parts: what it is, and the figures or what else there is."""
    title, figures = _title(alert), _figures(alert)
    if figures:
        return (_cut(title, room), _cut(figures, room))
    if len(title) <= room:
        return (title,)
    first = _cut(title, room, mark="")
    return (first, _cut(title[len(first) :].strip(), room))


def _title(alert: Alert) -> str:
    return _plain(alert.text) or _plain(alert.name.replace("_", " ")).capitalize() or "Alert"


def _figures(alert: Alert) -> str:
    """How far and which way the anchor has moved, and how fast, as far as that is known."""
    if alert.moved_m is None or not math.isfinite(alert.moved_m):
        return ""
    text = f"Moved {alert.moved_m:.0f} m"
    if alert.bearing_deg is not None and math.isfinite(alert.bearing_deg):
        text += f" to {round(alert.bearing_deg) % 360:03d} deg"
    if alert.rate_mps is not None and math.isfinite(alert.rate_mps):
        text += f"; {alert.rate_mps / KNOT_MPS:.1f} kn"
    return text


def _plain(text: str) -> str:
    """Make it one line of printable ASCII without characters that have a meaning of their own."""
    ascii_text = unicodedata.normalize("NFKD", text.replace("°", " deg")).encode("ascii", "ignore")
    spaced = "".join(char if char.isprintable() else " " for char in ascii_text.decode())
    return " ".join(spaced.translate(_RESERVED).split())


def _cut(text: str, room: int, *, mark: str = "...") -> str:
    """Shorten to ``room`` characters, between words if there are any."""
    if len(text) <= room:
        return text
    short = text[: room - len(mark)]
    if not text[len(short)].isspace() and " " in short:
        short = short.rpartition(" ")[0]
    return short.rstrip() + mark
