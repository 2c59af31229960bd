"""What a voice says between the sounds: what has happened, and which way. Pure."""

import math

from driftlead.alerts.alert import Alert, Priority
from driftlead.units import compass_point

_WORDS = {"N": "north", "E": "east", "S": "south", "W": "west"}
_SAID = {
    "data_stale": "No position data",
    "fix_lost": "The position is lost",
    "fix_poor": "The position is poor",
    "fix_frozen": "The position is frozen",
    "source_silent": "A receiver is silent",
    "notifier_failed": "A sounder or messenger has failed",
    "journal_failed": "The watch is not on the disk",
    "recording_failed": "The recording has failed",
}


def spoken_line(alert: Alert) -> str:
    """Give a short sentence for a half-woken person: what it is, and for a drag which way.

    The sentences are few (no figures but the sixteen points of the compass), so that their sound
    files are few as well.
    """
    if alert.name == "drag":
        return f"Anchor dragging{_which_way(alert.bearing_deg)}."
    if alert.name == "drill":
        return "Drill. This is only a test of the alarm."
    said = _SAID.get(alert.name) or " ".join(alert.name.split("_")).capitalize()
    return f"{'Alarm' if alert.priority is Priority.ALARM else 'Warning'}. {said}."


def _which_way(bearing_deg: float | None) -> str:
    if bearing_deg is None or not math.isfinite(bearing_deg):
        return ""
    return f" to the {'-'.join(_WORDS[letter] for letter in compass_point(bearing_deg))}"
