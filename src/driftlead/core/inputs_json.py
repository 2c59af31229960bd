"""Commands and faults as JSON, for the control socket and for recordings."""

from collections.abc import Mapping
from typing import Any, Final

import cattrs
from attrs import fields
from cattrs.v import format_exception

from driftlead.core.inputs import (
    Acknowledge,
    Command,
    CorrectMark,
    Drill,
    Fault,
    LetGo,
    Silence,
    Slip,
    Transfer,
    Veer,
    Weigh,
)
from driftlead.errors import UserInputError

VERBS: Final[dict[str, type[Command]]] = {
    "let-go": LetGo,
    "veer": Veer,
    "correct-mark": CorrectMark,
    "acknowledge": Acknowledge,
    "silence": Silence,
    "transfer": Transfer,
    "weigh": Weigh,
    "slip": Slip,
    "drill": Drill,
}
_NAMES: Final = {kind: verb for verb, kind in VERBS.items()}
_CONVERTER: Final = cattrs.Converter(forbid_extra_keys=True)


def _true_or_false(value: Any, _: Any) -> bool:
    if not isinstance(value, bool):
        raise UserInputError(f"{value!r} is not a yes or no.", remedy="Write true or false.")
    return value


# Left to itself it would take "false", which is some text, for true.
_CONVERTER.register_structure_hook(bool, _true_or_false)


def command_to_json(command: Command) -> dict[str, Any]:
    """``{"command": "veer", "rode_m": 30.0}``: the verb and the fields that are set."""
    data = _CONVERTER.unstructure(command)
    set_fields = {
        key: value for key, value in data.items() if value is not None and value is not False
    }
    return {"command": _NAMES[type(command)], **set_fields}


def command_from_json(data: Mapping[str, Any]) -> Command:
    """Undo ``command_to_json``; raises UserInputError naming the key, the value and the remedy."""
    verb = data.get("command")
    kind = VERBS.get(verb) if isinstance(verb, str) else None
    if kind is None:
        raise UserInputError(
            f"command = {verb!r} is not a command.", remedy=f"Say one of: {', '.join(VERBS)}."
        )
    rest = {key: value for key, value in data.items() if key != "command"}
    command: Command = _structured(rest, kind, str(verb))
    _check_lengths(command)
    return command


def fault_to_json(fault: Fault) -> dict[str, Any]:
    """``{"name": ..., "instance": ..., "text": ...}``."""
    return {"name": fault.name, "instance": fault.instance, "text": fault.text}


def fault_from_json(data: Mapping[str, Any]) -> Fault:
    """Undo ``fault_to_json``; raises UserInputError naming the key, the value and the remedy."""
    fault: Fault = _structured(dict(data), Fault, "fault")
    return fault


def _structured(data: dict[str, Any], kind: Any, what: str) -> Any:
    try:
        return _CONVERTER.structure(data, kind)
    except cattrs.BaseValidationError as error:
        faults = "; ".join(cattrs.transform_error(error, format_exception=_fault_text))
        raise UserInputError(
            f"{what} {data}: {faults}.", remedy="See the command's --help for what it takes."
        ) from error


def _fault_text(error: BaseException, kind: type | None) -> str:
    if isinstance(error, UserInputError):
        return str(error).rstrip(".")
    if isinstance(error, AttributeError):
        return "not a JSON object"
    return format_exception(error, kind)


def _check_lengths(command: Command) -> None:
    for attribute in fields(type(command)):
        if not attribute.name.endswith("_m"):
            continue
        value = getattr(command, attribute.name)
        if value is not None and not 0.0 < value <= MAX_LENGTH_M:
            raise UserInputError(
                f"{attribute.name} = {value} is not a length of rode or water.",
                remedy=f"Give metres above 0 and up to {MAX_LENGTH_M:.0f}.",
            )


MAX_LENGTH_M: Final = 1000.0
