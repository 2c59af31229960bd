"""Recordings: plain text, one input a line, ``<seconds> <source> <text>``, format 1.

::

    # driftlead recording, format 1
    12.345678 gps $GPRMC,225446.00,A,4630.1000,N,03112.2000,W,0.5,054.7,190626,,,A*45
    12.400000 !command {"command":"veer","rode_m":30.0}

The first field is monotonic seconds with six decimals. The second is the name of the source, or
``!`` and the kind of an input that is not a line. The rest is the text of the line, in which a
character outside 0x20..0x7E and the character ``^`` are written ``^HH``, or one JSON object.
Lines that begin with ``#`` are comments. The whole file is ASCII.
"""

import json
import math
import re
from collections.abc import Mapping
from typing import Any, Final, NoReturn

from attrs import frozen

from driftlead.errors import RecordingError
from driftlead.lines import StampedLine

FORMAT: Final = 1
HEADER: Final = f"# driftlead recording, format {FORMAT}"
"""The first line of every recording, without its line end."""

KINDS: Final = frozenset({"part", "command", "fault", "resume", "tick", "end"})
"""Inputs that are not lines: a part begins, a command, a fault, a restart, time passes, the end."""

RecordedLine = StampedLine
"""A recorded line is the line itself."""

_HEADER_START = "# driftlead recording, format "
# Most lines of a night: nothing escaped. One match checks all of it and finds the fields.
_PLAIN_LINE = re.compile(r"""(-?[0-9]+\.[0-9]{6}) (["$-~][!-~]*) ([ -\]_-~]*)\n?""")
_SECONDS = re.compile(r"-?[0-9]+\.[0-9]{6}")
_SOURCE = re.compile(r"""["$-~][!-~]*""")
_SPECIAL = re.compile(r"[^ -\]_-~]")
_ESCAPE = re.compile(r"\^([0-9A-F]{2})")
_NOT_WRITTEN = re.compile(r"\^(?![0-9A-F]{2})|[^ -~]")
_QUOTED_LENGTH = 40
_DAMAGED = "The recording is damaged here or was edited; correct the line or take it out."


@frozen
class RecordedInput:
    """An input that is not a line: ``kind`` is one of ``KINDS``, ``data`` its JSON object."""

    mono_s: float
    kind: str
    data: Mapping[str, Any]


def quantise_s(mono_s: float) -> float:
    """Round a time in seconds to what a recording keeps: the microsecond."""
    return round(mono_s, 6)


def is_recording(first_line: str) -> bool:
    """Whether a file that begins with this line claims to be a recording, of any format number."""
    return first_line.startswith(_HEADER_START)


def format_line(line: StampedLine) -> str:
    """Write the line as it is recorded, without the line end.

    Raises RecordingError for what a recording cannot hold: a time that is no number, a source name
    with blanks, or text that is not latin-1.
    """
    text = line.text
    if not (text.isascii() and text.isprintable() and "^" not in text):
        text = _SPECIAL.sub(_escaped, text)
    if not _SOURCE.fullmatch(line.source):
        raise RecordingError(
            f"The source name {line.source!r} cannot be recorded.",
            remedy="Use letters, digits and dashes, without blanks.",
        )
    _check_finite(line.mono_s)
    return f"{line.mono_s:.6f} {line.source} {text}"


def format_input(mono_s: float, kind: str, data: Mapping[str, Any]) -> str:
    """Write an input that is not a line, as it is recorded, without the line end.

    Raises RecordingError for an unknown kind, a time that is no number, or data JSON cannot hold.
    """
    if kind not in KINDS:
        raise RecordingError(
            f"An input of kind {kind!r} cannot be recorded.",
            remedy=f"The kinds are {', '.join(sorted(KINDS))}.",
        )
    _check_finite(mono_s)
    try:
        body = json.dumps(dict(data), sort_keys=True, separators=(",", ":"), allow_nan=False)
    except (TypeError, ValueError, RecursionError) as error:
        raise RecordingError(
            f"The data of a recorded {kind} is not JSON: {error}.",
            remedy="Give text, finite numbers, true, false, null, lists and objects only.",
        ) from error
    # The one unprintable character json.dumps leaves as it is; it can only stand inside a string.
    body = body.replace("\x7f", "\\u007f")
    return f"{mono_s:.6f} !{kind} {body}"


def parse_recorded(text: str) -> StampedLine | RecordedInput | None:
    """Read one line of a recording, with or without its line end; None for a comment or a blank.

    Raises RecordingError, saying what is wrong, for a line that is malformed and for a header of a
    newer format.
    """
    plain = _PLAIN_LINE.fullmatch(text)
    if plain is not None:
        seconds, source, body = plain.groups()
        return StampedLine(_finite(seconds, text), source, body)
    text = text.rstrip("\r\n")
    if text.startswith("#"):
        _check_header(text)
        return None
    if not text.strip():
        return None
    return _parse_unusual(text)


def _parse_unusual(text: str) -> StampedLine | RecordedInput:
    fields = text.split(" ", 2)
    if len(fields) < 3:
        _refuse("it has not the three fields <seconds> <source> <text>", text)
    seconds, source, body = fields
    if not _SECONDS.fullmatch(seconds):
        _refuse(f"{_quoted(seconds)} is not seconds with six decimals", text)
    mono_s = _finite(seconds, text)
    if source.startswith("!"):
        return RecordedInput(mono_s, *_parse_input(source[1:], body, text))
    if not _SOURCE.fullmatch(source):
        _refuse(f"{_quoted(source)} is not the name of a source", text)
    return StampedLine(mono_s, source, _unescaped(body, text))


def _parse_input(kind: str, body: str, text: str) -> tuple[str, dict[str, Any]]:
    if kind not in KINDS:
        _refuse(f"{_quoted('!' + kind)} is not a kind of input", text)
    try:
        data = json.loads(body, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        _refuse(f"the data of !{kind} is not JSON ({error})", text, cause=error)
    if not isinstance(data, dict):
        _refuse(f"the data of !{kind} is not a JSON object", text)
    return kind, data


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")


def _escaped(match: re.Match[str]) -> str:
    character = match[0]
    if character > "\xff":
        raise RecordingError(
            f"The character {character!r} cannot be recorded.",
            remedy="Lines hold one character for each byte; decode what was read as latin-1.",
        )
    return f"^{ord(character):02X}"


def _unescaped(body: str, text: str) -> str:
    for wrong in _NOT_WRITTEN.finditer(body):
        if wrong[0] == "^":
            _refuse(f"{_quoted(body[wrong.start() : wrong.start() + 3])} is not an escape", text)
        _refuse(f"the character {wrong[0]!r} should be escaped", text)
    return _ESCAPE.sub(lambda escape: chr(int(escape[1], 16)), body)


def _check_finite(mono_s: float) -> None:
    if not math.isfinite(mono_s):
        raise RecordingError(
            f"The time {mono_s} cannot be recorded.", remedy="Give finite monotonic seconds."
        )


def _finite(seconds: str, text: str) -> float:
    mono_s = float(seconds)
    if math.isinf(mono_s):
        _refuse("the time is too large for a number", text)
    return mono_s


def _check_header(text: str) -> None:
    if not text.startswith(_HEADER_START):
        return
    number = text.removeprefix(_HEADER_START).strip()
    if not re.fullmatch("[0-9]{1,9}", number):
        _refuse(f"{_quoted(number)} is not a format number", text)
    if int(number) != FORMAT:
        raise RecordingError(
            f"The recording is of format {int(number)}; this driftlead reads format {FORMAT}.",
            remedy="Replay it with the driftlead that recorded it, or a newer one.",
        )


def _quoted(text: str) -> str:
    return repr(text if len(text) <= _QUOTED_LENGTH else text[:_QUOTED_LENGTH] + "...")


def _refuse(reason: str, text: str, *, cause: Exception | None = None) -> NoReturn:
    raise RecordingError(
        f"Not a line of a recording: {reason}, in {_quoted(text)}.", remedy=_DAMAGED
    ) from cause
