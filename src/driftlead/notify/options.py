"""From the owner's table of options to a frozen class, with every problem named at once.

A duration is written with its unit (``timeout = "2s"``) and becomes a field that ends in ``_s``
(``timeout_s: Seconds``), so the key in the table is the field's name without that ending.
"""

import difflib
import enum
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated, Any, Protocol, TypeVar, cast, runtime_checkable

import attrs
import cattrs
from cattrs import AttributeValidationNote, ClassValidationError, ForbiddenExtraKeysError
from cattrs.gen import make_dict_structure_fn, override

from driftlead.errors import ConfigError, UserInputError
from driftlead.units import parse_duration_s

Seconds = Annotated[float, "duration"]
"""A duration above zero, written with its unit."""

Argv = tuple[str, ...]
Commands = Annotated[tuple[Argv, ...], "commands"]
"""Programs with their arguments, one list of words each, at least one."""


@runtime_checkable
class ChecksItself(Protocol):
    """Options that can contradict each other."""

    def problems(self) -> Iterable[str]:
        """Every contradiction, one sentence each."""


T = TypeVar("T", bound=attrs.AttrsInstance)


def structure_options(cls: type[T], options: Mapping[str, Any], *, notifier: str) -> T:
    """Make ``cls`` from ``options``.

    Raises ConfigError whose ``problems`` name the notifier, the key and the value, all at once.
    """
    try:
        made = _CONVERTER.structure(options, cls)
    except ClassValidationError as error:
        raise _refusal(notifier, cls, list(_sentences(error, cls))) from None
    checks: object = made
    if isinstance(checks, ChecksItself) and (problems := list(checks.problems())):
        raise _refusal(notifier, cls, problems)
    return made


def _refusal(notifier: str, cls: type[attrs.AttrsInstance], problems: list[str]) -> ConfigError:
    lines = tuple(f"notifier {notifier!r}: {problem}" for problem in problems)
    known = ", ".join(_key(field) for field in attrs.fields(cls))
    return ConfigError(
        f"The options of notifier {notifier!r} cannot be used: {' '.join(problems)}",
        problems=lines,
        remedy=f"Its options are: {known}." if known else "It takes no options.",
    )


def _sentences(error: ClassValidationError, cls: type[attrs.AttrsInstance]) -> Iterable[str]:
    keys = {field.name: _key(field) for field in attrs.fields(cls)}
    for problem in error.exceptions:
        notes = [n for n in getattr(problem, "__notes__", ()) if _is_of_attribute(n)]
        if isinstance(problem, ForbiddenExtraKeysError):
            for key in sorted(map(str, problem.extra_fields)):
                yield f"option {key!r} is not known.{_meant(key, keys.values())}"
        elif notes and isinstance(problem, KeyError):
            yield f"option {keys[notes[0].name]!r} is required."
        elif notes:
            yield f"option {keys[notes[0].name]!r}: {problem}"
        else:
            yield str(problem)


def _is_of_attribute(note: object) -> bool:
    return isinstance(note, AttributeValidationNote)


def _meant(key: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(key, list(known), n=1)
    return f" Did you mean {near[0]!r}?" if near else ""


def _key(field: "attrs.Attribute[Any]") -> str:
    is_time = field.type in (Seconds, Seconds | None)
    return field.name.removesuffix("_s") if is_time else field.name


def _refused(value: object, what: str, remedy: str = "") -> UserInputError:
    return UserInputError(f"{value!r} is not {what}.", remedy=remedy)


def _text(value: object, _: object) -> str:
    if not isinstance(value, str) or not value:
        raise _refused(value, "a text", "Write it between quotes.")
    return value


def _whole_number(value: object, _: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise _refused(value, "a whole number")
    return value


def _yes_or_no(value: object, _: object) -> bool:
    if not isinstance(value, bool):
        raise _refused(value, "true or false")
    return value


def _path(value: object, _: object) -> Path:
    if not isinstance(value, str) or not value:
        raise _refused(value, "a path", "Write it between quotes.")
    return Path(value)


def _seconds(value: object, _: object) -> Seconds:
    if not isinstance(value, str):
        raise _refused(value, "a time with its unit", 'Write "2s", "500ms" or "5min".')
    seconds = parse_duration_s(value)
    if seconds <= 0:
        raise _refused(value, "a time above zero")
    return seconds


def _commands(value: object, _: object) -> Commands:
    lists = isinstance(value, list | tuple) and all(isinstance(v, list | tuple) for v in value)
    if not lists or not value:
        raise _refused(value, "a list of commands", 'Write [["aplay", "-q"]].')
    commands = tuple(tuple(words) for words in cast("list[list[str]]", value))
    for words in commands:
        if not words or not all(isinstance(word, str) and word for word in words):
            raise _refused(list(words), "a command", 'Write ["aplay", "-q"].')
    return commands


def _choice(value: object, kind: type[enum.StrEnum]) -> enum.StrEnum:
    try:
        return kind(cast("str", value))
    except ValueError:
        choices = ", ".join(kind)
        raise _refused(value, f"one of {choices}") from None


def _structure_class(cls: type[attrs.AttrsInstance]) -> Any:
    renames = {
        field.name: override(rename=_key(field))
        for field in attrs.fields(cls)
        if _key(field) != field.name
    }
    return make_dict_structure_fn(
        cls, _CONVERTER, _cattrs_forbid_extra_keys=True, **cast("Any", renames)
    )


_CONVERTER = cattrs.Converter(detailed_validation=True, forbid_extra_keys=True)
_CONVERTER.register_structure_hook(str, _text)
_CONVERTER.register_structure_hook(int, _whole_number)
_CONVERTER.register_structure_hook(bool, _yes_or_no)
_CONVERTER.register_structure_hook(Path, _path)
_CONVERTER.register_structure_hook_func(lambda kind: kind == Seconds, _seconds)
_CONVERTER.register_structure_hook_func(lambda kind: kind == Commands, _commands)
_CONVERTER.register_structure_hook(enum.StrEnum, _choice)
_CONVERTER.register_structure_hook_factory(attrs.has, _structure_class)
