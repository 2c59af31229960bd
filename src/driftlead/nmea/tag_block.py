r"""TAG blocks: what NMEA 0183 version 4 and IEC 61162-450 put before a sentence.

``\s:GP0001,n:5,c:1241544035*hh\$GPGGA,...``: parameters between two backslashes, each a letter
and a value, with a checksum of their own (the XOR of what stands before the ``*``).
Parameter letters from memory of the two standards: s source, d destination, c time, n line count,
g grouping.
"""

import re
from collections.abc import Mapping
from typing import Final

from attrs import frozen

from driftlead.nmea.checksum import checksum


@frozen(kw_only=True)
class TagGrouping:
    """``g:2-3-1234``: sentence ``number`` of ``total`` in the group ``group``."""

    number: int
    total: int
    group: int


@frozen(kw_only=True)
class TagBlock:
    """What a TAG block says; None stands for a parameter that is absent or cannot be read.

    ``valid``: the block is closed and its checksum proves it; ``problem`` says what is wrong
    otherwise, and then no parameter is given. ``time_unix_s`` is the sender's time in Unix
    seconds.
    """

    valid: bool
    problem: str = ""
    source: str | None = None
    destination: str | None = None
    time_unix_s: float | None = None
    line_count: int | None = None
    grouping: TagGrouping | None = None


def split_tag_block(text: str) -> tuple[TagBlock | None, str]:
    """Take the TAG block off a line: the block (None if there is none) and the sentence.

    Several blocks in a row are read as one. Never raises: a broken block comes back with
    ``valid=False``, and the sentence all the same, from its ``$`` or ``!`` on.
    """
    if not text.startswith("\\"):
        return None, text
    parameters: dict[str, str] = {}
    problem = ""
    sentence = text
    while sentence.startswith("\\"):
        block, closed, rest = sentence[1:].partition("\\")
        if not closed:
            start = _SENTENCE_START.search(sentence)
            sentence = sentence[start.start() :] if start else ""
            return TagBlock(valid=False, problem="no closing backslash"), sentence
        problem = problem or _read(block, parameters)
        sentence = rest
    if problem:
        return TagBlock(valid=False, problem=problem), sentence
    return _tag_block(parameters), sentence


_SENTENCE_START: Final = re.compile(r"[$!]")
_HEX_PAIR: Final = re.compile(r"[0-9A-Fa-f]{2}")
_COUNT: Final = re.compile(r"[0-9]{1,9}")
_TIME: Final = re.compile(r"[0-9]{1,15}(?:\.[0-9]{1,9})?")
_GROUPING: Final = re.compile(r"([0-9]{1,9})-([0-9]{1,9})-([0-9]{1,9})")
_FIRST_TIME_IN_MS: Final = 1e11
"""Some talkers send milliseconds (common practice): as seconds this is the year 5138."""


def _read(block: str, parameters: dict[str, str]) -> str:
    """Add the parameters of one block; what is wrong with it, or nothing."""
    body, star, claimed = block.rpartition("*")
    if not star or not _HEX_PAIR.fullmatch(claimed):
        return "no checksum"
    if checksum(body) != int(claimed, 16):
        return "bad checksum"
    for parameter in body.split(","):
        letter, _colon, value = parameter.partition(":")
        parameters[letter] = value
    return ""


def _tag_block(parameters: Mapping[str, str]) -> TagBlock:
    count = _COUNT.fullmatch(parameters.get("n", ""))
    group = _GROUPING.fullmatch(parameters.get("g", ""))
    return TagBlock(
        valid=True,
        source=parameters.get("s"),
        destination=parameters.get("d"),
        time_unix_s=_time_unix_s(parameters.get("c", "")),
        line_count=int(count[0]) if count else None,
        grouping=TagGrouping(number=int(group[1]), total=int(group[2]), group=int(group[3]))
        if group
        else None,
    )


def _time_unix_s(text: str) -> float | None:
    if not _TIME.fullmatch(text):
        return None
    time = float(text)
    return time / 1000 if time >= _FIRST_TIME_IN_MS else time
