"""The core's settings as JSON, as recordings carry them."""

from collections.abc import Mapping
from datetime import date
from typing import Any, Final

import cattrs

from driftlead.core.settings import CoreSettings
from driftlead.errors import RecordingError

_CONVERTER: Final = cattrs.Converter(forbid_extra_keys=True)
_CONVERTER.register_unstructure_hook(date, lambda day: day.isoformat())
_CONVERTER.register_structure_hook(date, lambda text, _: date.fromisoformat(text))


def _true_or_false(value: Any, _: Any) -> bool:
    if not isinstance(value, bool):
        raise TypeError(f"{value!r} is neither true nor false")
    return value


# Left to itself it would take "false", which is some text, for true.
_CONVERTER.register_structure_hook(bool, _true_or_false)


def settings_to_json(settings: CoreSettings) -> dict[str, Any]:
    """Plain dicts, lists, strings and numbers."""
    data: dict[str, Any] = _CONVERTER.unstructure(settings)
    return data


def settings_from_json(data: Mapping[str, Any]) -> CoreSettings:
    """Undo ``settings_to_json``; raises RecordingError if a key or value is not known."""
    try:
        return _CONVERTER.structure(data, CoreSettings)
    except (cattrs.BaseValidationError, AttributeError, TypeError, ValueError) as error:
        faults = "; ".join(cattrs.transform_error(error)) if error.args else type(error).__name__
        raise RecordingError(
            f"The recording's settings cannot be read: {faults}.",
            remedy="Replay it with the version that recorded it, or give --rode and --drop-at.",
        ) from error
