"""What the skipper says of each night: ``marks.toml`` in the folder of the nights.

::

    ["2026-06-14.nmea"]
    outcome = "dragged"
    at = "03:12"
    rode = "38m"
    drop_at = "22:04"

One table a night. ``outcome`` is ``held`` or ``dragged``; a night that dragged needs ``at``, when
the drag began (UTC). A bare log also needs to be told what a replay needs: the rode, and one of
``drop``, ``drop_at`` and ``set_late_at``. The file is the skipper's own: what ``driftlead tune
mark`` does not touch stays as it is, comments too.
"""

import datetime as dt
import enum
import json
import re
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from attrs import frozen

from driftlead.config import readers
from driftlead.config.problems import Problems
from driftlead.config.structure import Structurer
from driftlead.config.tables import Key, Slip, Table
from driftlead.config.toml_file import parse_toml, read_toml
from driftlead.errors import UserInputError
from driftlead.geodesy.position import Position
from driftlead.replay.settings import ReplaySettings, parse_moment
from driftlead.tune.files import write_whole
from driftlead.tune.moments import moment_text
from driftlead.units import parse_position

MARKS_FILE: Final = "marks.toml"
_WAYS: Final = ("drop", "drop_at", "set_late_at")
_HEAD: Final = "# What is known of the nights in this folder. All times are UTC.\n"


class Outcome(enum.StrEnum):
    """How a night went."""

    HELD = "held"
    DRAGGED = "dragged"


@frozen(kw_only=True)
class Mark:
    """What is said of one night; lengths in metres, times in UTC, None for what is not said."""

    outcome: str
    at: dt.datetime | dt.time | None = None
    note: str | None = None
    rode_m: float | None = None
    depth_m: float | None = None
    bow_height_m: float | None = None
    antenna_aft_m: float | None = None
    drop: Position | None = None
    drop_at: dt.datetime | dt.time | None = None
    set_late_at: dt.datetime | dt.time | None = None
    date: dt.date | None = None

    @property
    def held(self) -> bool:
        """Whether the anchor held all night."""
        return self.outcome == Outcome.HELD

    def replay_settings(self) -> ReplaySettings:
        """How the night is to be replayed."""
        return ReplaySettings(
            rode_m=self.rode_m,
            depth_m=self.depth_m,
            bow_height_m=self.bow_height_m,
            antenna_aft_m=self.antenna_aft_m,
            drop=self.drop,
            drop_at=self.drop_at,
            set_late_at=self.set_late_at,
            date=self.date,
        )


def read_marks(folder: Path) -> dict[str, Mark]:
    """Read the marks of a folder; none if it has no such file.

    Raises ConfigError with a line for every fault: file, night, key, value, remedy.
    """
    file = folder / MARKS_FILE
    return _structured(read_toml(file), file) if file.exists() else {}


def write_mark(folder: Path, night: str, changes: Mapping[str, Any]) -> Mark:
    """Set what is said of one night, and give the whole of it.

    ``changes`` maps keys to values as the file has them; None takes a key out. Raises ConfigError
    if the file then is not right, without having written it.
    """
    file = folder / MARKS_FILE
    text = file.read_bytes().decode("utf-8-sig") if file.exists() else _HEAD
    before = parse_toml(text, file)
    known = before.get(night, {})
    table = {**(known if isinstance(known, dict) else {}), **changes}
    table = {key: value for key, value in table.items() if value is not None}
    text = _with_table(text, night, table)
    if parse_toml(text, file) != {**before, night: table}:
        raise UserInputError(
            f"{file} is written in a way that cannot be changed safely.",
            remedy=f"Write the table of {night} into it by hand, between two other tables.",
        )
    marks = _structured(parse_toml(text, file), file)
    write_whole(file, text.encode())
    return marks[night]


def _structured(raw: Mapping[str, Any], file: Path) -> dict[str, Mark]:
    problems = Problems(file)
    structurer = Structurer(problems, {})
    marks: dict[str, Mark] = {}
    for night, table in raw.items():
        if isinstance(table, dict):
            mark: Mark | None = structurer.structure(_TABLE, table, f'["{night}"]')
            if mark is not None:
                marks[night] = mark
        else:
            remedy = 'Write ["NIGHT"] on a line of its own before the keys of a night.'
            problems.value("", night, table, "This belongs to no night.", remedy)
    problems.raise_if_any()
    return marks


def _with_table(text: str, night: str, table: Mapping[str, Any]) -> str:
    """The text with the night's table in place of the one it has, or at its end."""
    name = json.dumps(night, ensure_ascii=False)
    body = [f"[{name}]", *(f"{key} = {_toml(value)}" for key, value in table.items())]
    lines = text.splitlines()
    names = {name, f"'{night}'", night}
    begin = next((i for i, line in enumerate(lines) if _header(line) in names), None)
    if begin is None:
        return "\n".join([*lines, *([""] if lines else []), *body, ""])
    end = next((i for i in range(begin + 1, len(lines)) if _header(lines[i])), len(lines))
    # Comments before the next table are the next table's.
    while end > begin + 1 and not _says_something(lines[end - 1]):
        end -= 1
    return "\n".join([*lines[:begin], *body, *lines[end:], ""])


def _header(line: str) -> str | None:
    match = re.fullmatch(r"\s*\[([^\[].*?)\]\s*(#.*)?", line)
    return match[1].strip() if match else None


def _says_something(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return str(value)  # a date or a time, which str writes as TOML does


def _moment(value: Any) -> dt.datetime | dt.time:
    """Read a time from text, or from what TOML itself takes for one."""
    if isinstance(value, dt.datetime | dt.time):
        return parse_moment(value.isoformat())
    return parse_moment(readers.text(value))


def _date(value: Any) -> dt.date:
    if isinstance(value, str):
        try:
            return dt.date.fromisoformat(value.strip())
        except ValueError:
            pass
    elif isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value
    raise UserInputError("This is not a date.", remedy="Write it as 2026-06-14.")


def _place(value: Any) -> Position:
    return parse_position(readers.text(value))


def _check(mark: Mark) -> Iterator[Slip]:
    if mark.held and mark.at is not None:
        message = "A night that held has no beginning of a drag."
        yield Slip("at", message, 'Leave it out, or write outcome = "dragged".')
    if not mark.held and mark.at is None:
        message = "When did the drag begin?"
        yield Slip("at", message, 'Add the time (UTC), such as at = "03:12".')
    given = [way for way in _WAYS if getattr(mark, way) is not None]
    for way in given[1:]:
        message = f"The night says {given[0]} already."
        yield Slip(way, message, "Keep the one that says how the watch was set.")
    if not given:
        for key, value in (("rode", mark.rode_m), ("depth", mark.depth_m)):
            if value is not None:
                message = "Alone it would not be used: a recording holds its own commands."
                yield Slip(key, message, f"Leave it out, or add one of {', '.join(_WAYS)}.")


_TABLE: Final = Table(
    Mark,
    (
        Key("outcome", "outcome", readers.one_of([*Outcome]), 'outcome = "held"'),
        Key("at", "at", _moment),
        Key("note", "note", readers.text),
        Key("rode", "rode_m", readers.length("1m", "1000m")),
        Key("depth", "depth_m", readers.length("0m", "300m")),
        Key("bow_height", "bow_height_m", readers.length("0m", "10m")),
        Key("antenna_aft", "antenna_aft_m", readers.length("0m", "100m")),
        Key("drop", "drop", _place),
        Key("drop_at", "drop_at", _moment),
        Key("set_late_at", "set_late_at", _moment),
        Key("date", "date", _date),
    ),
    _check,
)

TEXTS: Final[Mapping[str, Callable[[Any], str]]] = {
    "rode": lambda m: f"{m:.10g}m",
    "depth": lambda m: f"{m:.10g}m",
    "bow_height": lambda m: f"{m:.10g}m",
    "antenna_aft": lambda m: f"{m:.10g}m",
    "drop": lambda place: f"{place.lat_deg:.7f},{place.lon_deg:.7f}",
    "at": moment_text,
    "drop_at": moment_text,
    "set_late_at": moment_text,
    "date": lambda day: day.isoformat(),
}
"""How values from the command line are written into the file, by key."""
