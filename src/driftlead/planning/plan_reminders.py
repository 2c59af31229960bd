"""What COLREG asks of a vessel at anchor, as reminders: local rules come first."""

from typing import Final

_LONG_M: Final = 50.0
_DECKS_M: Final = 100.0
_SMALL_M: Final = 7.0
_BELL_M: Final = 12.0


def reminders(length_m: float | None) -> tuple[str, ...]:
    """Return what COLREG Rules 30, 20 and 35 ask of a vessel of this length at anchor."""
    length_m = length_m if length_m is not None else 0.0
    if length_m >= _LONG_M:
        light = "an all-round white light forward and a lower one at the stern"
    else:
        light = "an all-round white light where it is best seen"
    if length_m >= _DECKS_M:
        light += ", and the decks lit"
    lines = [
        f"From sunset to sunrise, and in restricted visibility: {light} (Rules 20 and 30).",
        "By day: one ball in the fore part (Rule 30).",
    ]
    if 0.0 < length_m < _SMALL_M:
        lines.append(
            "Under 7 m neither is asked, but only away from any narrow channel, fairway, "
            "anchorage and where others navigate (Rule 30)."
        )
    if 0.0 < length_m < _BELL_M:
        # Under 12 m from memory; the signals of Rule 35 are allowed to her too.
        lines.append("In fog: some efficient sound signal at least every 2 minutes (Rule 35).")
    elif length_m < _DECKS_M:
        lines.append("In fog: the bell rapidly for some 5 s every minute (Rule 35).")
    else:
        lines.append(
            "In fog: the bell forward rapidly for some 5 s every minute, then the gong aft "
            "(Rule 35)."
        )
    return tuple(lines)
