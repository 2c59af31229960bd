"""What is known of a night from outside: the skipper's mark, or a simulated night's truth.

Simulated nights come with ``truth.json`` beside them, which says by name whether the anchor held,
and of a drag when it began and ended and how far it came. A mark goes before it in whether and
when; how far the anchor came only truth can tell.
"""

import datetime as dt
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

from attrs import frozen

from driftlead.errors import UserInputError

TRUTH_FILE: Final = "truth.json"
_REMEDY: Final = "Take the file away, or make it again: driftlead simulate ... --truth truth.json."


@frozen(kw_only=True)
class DragKnown:
    """A drag as it truly was: Unix seconds of its beginning and end, and how far it came."""

    begins_utc_s: float
    ends_utc_s: float
    distance_m: float

    def dragged_m(self, utc_s: float) -> float:
        """How far the anchor had come at a time: evenly from beginning to end."""
        part = (utc_s - self.begins_utc_s) / max(self.ends_utc_s - self.begins_utc_s, 1e-9)
        return self.distance_m * min(1.0, max(0.0, part))


@frozen
class Truth:
    """Whether the anchor truly held; the drag if it did not."""

    drag: DragKnown | None

    @property
    def held(self) -> bool:
        """Whether the anchor held all night."""
        return self.drag is None


def read_truth(folder: Path) -> dict[str, Truth]:
    """Read the truth beside the nights, by name; none if there is no such file.

    Raises UserInputError naming file, night and key of what cannot be read.
    """
    file = folder / TRUTH_FILE
    if not file.exists():
        return {}
    try:
        nights = json.loads(file.read_bytes())
    except (OSError, ValueError) as error:
        raise UserInputError(f"{file} cannot be read: {error}.", remedy=_REMEDY) from error
    if not isinstance(nights, dict):
        raise UserInputError(f"{file} holds no nights by name.", remedy=_REMEDY)
    return {name: _truth(night, f"{file}: {name}") for name, night in nights.items()}


def _truth(night: Any, where: str) -> Truth:
    try:
        if night["held"] is True:
            return Truth(None)
        return Truth(_drag(night["drag"]))
    except (KeyError, TypeError, ValueError) as error:
        message = f"{where}: this is not the truth of a night ({type(error).__name__}: {error})."
        raise UserInputError(message, remedy=_REMEDY) from error


def _drag(drag: Mapping[str, Any]) -> DragKnown:
    return DragKnown(
        begins_utc_s=dt.datetime.fromisoformat(drag["begins_utc"]).timestamp(),
        ends_utc_s=dt.datetime.fromisoformat(drag["ends_utc"]).timestamp(),
        distance_m=float(drag["distance_m"]),
    )
