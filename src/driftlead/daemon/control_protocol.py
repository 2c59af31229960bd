"""What is said over the control socket, version 1: one JSON object a line, each way.

Requests::

    {"v":1,"command":"veer","rode_m":30.0}
    {"v":1,"command":"correct-mark","position":{"lat_deg":46.5,"lon_deg":-31.2}}
    {"v":1,"status":true}
    {"v":1,"check":true}
    {"v":1,"drill":true,"until_acknowledged":false}
    {"v":1,"web":"pair"}, {"v":1,"web":"devices"}, {"v":1,"web":"revoke","device":"c0ffee12"}

Answer: ``{"v":1,"ok":...,"done":...,"text":...,"remedy":...,"events":[...],"status":...,
"checks":...,"drill":...,"web":...}``. ``ok``: all is as it was asked for. ``done``: the command has
taken effect, which it may have without ``ok`` when the disk failed. ``events`` are those the
command caused, as in the events contract; ``status``, ``checks``, ``drill`` and ``web`` are null
unless asked for.
"""

import json
from typing import Any, Final, NoReturn

from attrs import asdict, field, frozen

from driftlead.core.inputs import Command
from driftlead.core.inputs_json import command_from_json
from driftlead.errors import DriftleadError, UserInputError

VERSION: Final = 1
MAX_REQUEST_BYTES: Final = 64 * 1024
_REMEDY: Final = 'Send one JSON object a line, such as {"v":1,"status":true}.'


@frozen
class StatusRequest:
    """Ask how the watch is."""


@frozen
class CheckRequest:
    """Ask for the notifiers to be tried."""


@frozen(kw_only=True)
class DrillRequest:
    """Ask for a drill, and for what came of it, when it is over."""

    until_acknowledged: bool = False


@frozen(kw_only=True)
class WebRequest:
    """Ask of the page: a PIN to ``pair`` by, its ``devices``, or to ``revoke`` one."""

    what: str
    device: str = ""


Request = Command | StatusRequest | CheckRequest | DrillRequest | WebRequest


@frozen(kw_only=True)
class Answer:
    """What the daemon says to a request."""

    ok: bool
    done: bool = False
    text: str = ""
    remedy: str = ""
    events: tuple[dict[str, Any], ...] = ()
    status: dict[str, Any] | None = field(default=None)
    checks: tuple[dict[str, Any], ...] | None = field(default=None)
    drill: dict[str, Any] | None = field(default=None)
    web: dict[str, Any] | None = field(default=None)


def parse_request(line: bytes) -> Request:
    """Read one request. Raises UserInputError with a remedy for anything else."""
    try:
        data = json.loads(line, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        raise UserInputError("The request is not JSON.", remedy=_REMEDY) from error
    if not isinstance(data, dict):
        raise UserInputError("The request is not a JSON object.", remedy=_REMEDY)
    version = data.pop("v", None)
    if type(version) is not int or version != VERSION:
        raise UserInputError(
            f"The request is of version {str(version)[:20]}; this daemon speaks {VERSION}.",
            remedy="Use the driftlead command that came with the daemon.",
        )
    if data == {"status": True}:
        return StatusRequest()
    if data == {"check": True}:
        return CheckRequest()
    if data.get("drill") is True and data.keys() <= {"drill", "until_acknowledged"}:
        until_acknowledged = data.get("until_acknowledged", False)
        if isinstance(until_acknowledged, bool):
            return DrillRequest(until_acknowledged=until_acknowledged)
    if data in ({"web": "pair"}, {"web": "devices"}):
        return WebRequest(what=data["web"])
    if data.keys() == {"web", "device"} and data["web"] == "revoke":
        return WebRequest(what="revoke", device=str(data["device"]))
    return command_from_json(data)


def answer_to_line(answer: Answer) -> bytes:
    """Write an answer, with its line end."""
    return json.dumps({"v": VERSION, **asdict(answer)}, separators=(",", ":")).encode() + b"\n"


def refusal(error: DriftleadError) -> Answer:
    """Answer that nothing was done, and why."""
    return Answer(ok=False, text=error.message, remedy=error.remedy)


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")
