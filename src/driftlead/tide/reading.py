"""High and low waters as people copy them from a tide table: CSV text, or a TOML mapping."""

import csv
import datetime as dt
import re
from collections.abc import Mapping
from typing import Any, Final

from driftlead.errors import UserInputError
from driftlead.tide.shares import TideCurve
from driftlead.tide.table import Row, TideTable, Turn, tide_table
from driftlead.units import parse_length_m

_EXAMPLE: Final = "2026-06-14 19:12"
_HIGHEST_M: Final = 25.0  # no tide on earth runs much over 16 m
_ZONE: Final = re.compile(r"(?:UTC)?([+-])(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)
_MINUS: Final = str.maketrans("\N{MINUS SIGN}", "-")


def parse_zone(text: str) -> dt.timezone:
    """Read the ship's zone time: ``UTC``, ``Z``, ``+01:00``, ``UTC-3``. Raises UserInputError."""
    stripped = text.strip().translate(_MINUS)
    if stripped.upper() in ("UTC", "Z"):
        return dt.UTC
    match = _ZONE.fullmatch(stripped)
    minutes = int(match[2]) * 60 + int(match[3] or 0) if match else 0
    if match is None or minutes > 14 * 60 or int(match[3] or 0) >= 60:
        raise UserInputError(
            f"{text.strip()!r} is not a time zone.", remedy="Write UTC, or +01:00 east of it."
        )
    return dt.timezone(dt.timedelta(minutes=minutes if match[1] == "+" else -minutes))


def parse_height_m(text: str) -> float:
    """Metres from ``4.6m``, ``15 ft``, or ``-0.3m`` for what lies under chart datum.

    Raises UserInputError as ``units.parse_length_m`` does.
    """
    stripped = text.strip().translate(_MINUS)
    if stripped.startswith("-"):
        return -parse_length_m(stripped[1:])
    return parse_length_m(stripped)


def read_tide_csv(
    text: str, *, name: str, zone: dt.timezone, curve: TideCurve = TideCurve.COSINE
) -> TideTable:
    """Read lines of ``time,height``: ``2026-06-14 19:12,4.6m``.

    A first line of headings, empty lines and lines that begin with # are passed over. A time
    without an offset is in ``zone``. Raises UserInputError naming the line.
    """
    rows: list[Row] = []
    numbered = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    for index, (number, line) in enumerate(numbered):
        where = f"line {number}"
        cells = _cells(line)
        if index == 0 and cells and cells[0].casefold().startswith("time"):
            continue
        if len(cells) != 2:
            raise UserInputError(
                f"{name}, {where}: It has {len(cells)} columns, not 2.",
                remedy=f"Write time and height with decimal points: {_EXAMPLE},4.6m",
            )
        rows.append(_row(name, where, cells[0], cells[1], zone))
    return tide_table(rows, name=name, curve=curve)


def _cells(line: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line]))]
    except csv.Error:  # a cell longer than any
        return []


def read_tide_toml(
    data: Mapping[str, Any], *, name: str, zone: dt.timezone, curve: TideCurve = TideCurve.COSINE
) -> TideTable:
    """Read what a TOML file holds: ``times`` and ``heights``, two lists of the same length.

    Times are text as in CSV, or TOML's own. ``zone``, if the file has it, is that of times without
    an offset. Raises UserInputError naming the key, or the number of the pair.
    """
    unknown = sorted(set(data) - {"times", "heights", "zone"})
    if unknown:
        raise UserInputError(
            f"{name}: There is no such key here: {unknown[0]}.",
            remedy="Known are times, heights and zone.",
        )
    lists = {key: data.get(key) for key in ("times", "heights")}
    for key, value in lists.items():
        if not isinstance(value, list):
            example = f'["{_EXAMPLE}"]' if key == "times" else '["4.6m"]'
            raise UserInputError(f"{name}: {key} is no list.", remedy=f"Write {key} = {example}.")
    times, heights = lists["times"] or [], lists["heights"] or []
    if len(times) != len(heights):
        raise UserInputError(
            f"{name}: There are {len(times)} times and {len(heights)} heights.",
            remedy="Write a height for each time.",
        )
    if "zone" in data:
        if not isinstance(data["zone"], str):
            raise UserInputError(f"{name}: zone is no text.", remedy='Write zone = "+01:00".')
        zone = parse_zone(data["zone"])
    rows = [
        _row(name, f"entry {number}", when, height, zone)
        for number, (when, height) in enumerate(zip(times, heights, strict=True), start=1)
    ]
    return tide_table(rows, name=name, curve=curve)


def _row(name: str, where: str, when: Any, height: Any, zone: dt.timezone) -> Row:
    moment = when if isinstance(when, dt.datetime) else _moment(name, where, when)
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=zone)
    if not isinstance(height, str):
        raise UserInputError(
            f"{name}, {where}: The height {height} has no unit.", remedy='Write "4.6m" or "15ft".'
        )
    try:
        height_m = parse_height_m(height)
    except UserInputError as error:
        raise UserInputError(f"{name}, {where}: {error.message}", remedy=error.remedy) from None
    if abs(height_m) > _HIGHEST_M:
        raise UserInputError(
            f"{name}, {where}: No tide is {height.strip()} high.", remedy="Correct the height."
        )
    return Row(where=where, turn=Turn(when=moment, height_m=height_m))


def _moment(name: str, where: str, text: Any) -> dt.datetime:
    if isinstance(text, str) and ":" in text:
        try:
            return dt.datetime.fromisoformat(text.strip())
        except ValueError:
            pass
    raise UserInputError(
        f"{name}, {where}: {str(text)[:40]!r} is not a date with a time.",
        remedy=f"Write {_EXAMPLE}, or {_EXAMPLE}+01:00 with its offset from UTC.",
    )
