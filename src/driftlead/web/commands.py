"""A command as the page sends it, made into one of the core's."""

import re
from collections.abc import Mapping
from typing import Any, Final

from attrs import frozen

from driftlead.core.inputs import Command, CorrectMark
from driftlead.core.inputs_json import MAX_LENGTH_M, command_from_json
from driftlead.geodesy.position import Position
from driftlead.web.body import bad, number_of, only_keys, text_of

_ENVELOPE: Final = ("command", "key", "run_id", "run_s")
_FIELDS: Final[dict[str, tuple[str, ...]]] = {
    "let_go": ("depth_m", "rode_m", "lat", "lon", "late"),
    "veer": ("rode_m", "depth_m"),
    "weigh": (),
    "slip": (),
    "acknowledge": ("name",),
    "silence": ("name",),
    "transfer": ("to", "name"),
    "drill": ("over",),
    "move_anchor": ("lat", "lon"),
}
_MOVE: Final = "move_anchor"
_SIGNED: Final = frozenset({"acknowledge", "silence", "transfer"})
WHERE: Final = "page"
_KEY: Final = re.compile(r"[A-Za-z0-9_-]{16,64}")
_LONGEST_NAME: Final = 64


@frozen(kw_only=True)
class AskedCommand:
    """A command, and when and by which key it was asked for."""

    command: Command
    key: str
    run_id: str
    run_s: float


def parse_command(data: Mapping[str, Any], *, by: str) -> AskedCommand:
    """Read it; ``by`` is the device. Raises ProblemError or UserInputError with a remedy."""
    word = data.get("command")
    fields = _FIELDS.get(word) if isinstance(word, str) else None
    if fields is None or not isinstance(word, str):
        raise bad("command is not one there is.", f"Say one of: {', '.join(_FIELDS)}.")
    only_keys(data, (*_ENVELOPE, *fields))
    key = data.get("key")
    if not isinstance(key, str) or not _KEY.fullmatch(key):
        raise bad("key is not one.", "Make 16 to 64 letters, digits, - and _ anew each time.")
    given = {name: data[name] for name in fields if data.get(name) is not None}
    return AskedCommand(
        command=CorrectMark(position=_place(given)) if word == _MOVE else _command(word, given, by),
        key=key,
        run_id=text_of(data, "run_id", most=_LONGEST_NAME),
        run_s=number_of(data, "run_s", -1e9, 1e9),
    )


def _command(word: str, given: dict[str, Any], by: str) -> Command:
    if "name" in given:
        text_of(given, "name", most=_LONGEST_NAME)
    if word == "transfer":
        text_of(given, "to", most=_LONGEST_NAME)
    if word in _SIGNED:
        given |= {"by": by, "where": WHERE}
    if "lat" in given or "lon" in given:
        if given.get("late") is True:
            raise bad("late and a place exclude each other.", "Give one of them.")
        place = _place(given)
        given["drop"] = {"lat_deg": place.lat_deg, "lon_deg": place.lon_deg}
        del given["lat"], given["lon"]
    for name in ("rode_m", "depth_m"):
        if name in given:
            given[name] = number_of(given, name, 0.0, MAX_LENGTH_M)
    return command_from_json({"command": word.replace("_", "-"), **given})


def _place(given: Mapping[str, Any]) -> Position:
    return Position(number_of(given, "lat", -90.0, 90.0), number_of(given, "lon", -180.0, 180.0))
