"""An alert as one line of plain English: metres, degrees and the points of the compass."""

import math

from driftlead.alerts.alert import Alert, AlertState
from driftlead.units import compass_point, format_length, format_speed

_STATE_WORDS = {
    AlertState.NORMAL: " over",
    AlertState.ACTIVE_UNACKNOWLEDGED: "",
    AlertState.SILENCED: " silenced",
    AlertState.ACTIVE_ACKNOWLEDGED: " acknowledged",
    AlertState.RESPONSIBILITY_TRANSFERRED: " handed over",
    AlertState.RECTIFIED_UNACKNOWLEDGED: " over, not acknowledged",
}
_LETTER_WORDS = {"N": "north", "E": "east", "S": "south", "W": "west"}


def describe(alert: Alert) -> str:
    """Return the line a woken person reads.

    For example ``ALARM. DRAGGING: the anchor has moved 18 m to the south-east (131°),
    0.12 m/s (0.2 kn).`` Figures that are not known are left out. Never fails.
    """
    return f"{alert.priority.value.upper()}{_STATE_WORDS[alert.state]}. {_sentence(alert)}"


def _sentence(alert: Alert) -> str:
    text = _one_line(alert.text) or _one_line(alert.name.replace("_", " ")).capitalize()
    moved_m = _finite(alert.moved_m)
    if moved_m is None:
        return text if text.endswith((".", "!", "?")) else f"{text}."
    lead = "DRAGGING" if alert.name == "drag" else text.rstrip(".")
    parts = [f"the anchor has moved {format_length(moved_m)}"]
    if (bearing_deg := _finite(alert.bearing_deg)) is not None:
        point = "-".join(_LETTER_WORDS[letter] for letter in compass_point(bearing_deg))
        parts.append(f" to the {point} ({round(bearing_deg) % 360:03d}°)")
    if (rate_mps := _finite(alert.rate_mps)) is not None:
        parts.append(f", {format_speed(rate_mps)}")
    return f"{lead}: {''.join(parts)}."


def _one_line(text: str) -> str:
    return " ".join("".join(char if char.isprintable() else " " for char in text).split())


def _finite(figure: float | None) -> float | None:
    return figure if figure is not None and math.isfinite(figure) else None
