"""Every alert there is: its name, when it clears, and what it means to the crew."""

import enum
from typing import Final

from attrs import frozen


class ClearRule(enum.StrEnum):
    """When an alert may end."""

    WHEN_RECTIFIED = "when_rectified"
    """As soon as the condition is gone (an unanswered one then waits to be acknowledged)."""
    LATCHED = "latched"
    """Not before somebody has acknowledged it, even if the condition is gone by then."""


@frozen
class AlertKind:
    """One row of the catalogue."""

    name: str
    clears: ClearRule
    meaning: str


_R, _L = ClearRule.WHEN_RECTIFIED, ClearRule.LATCHED

CATALOGUE: Final[dict[str, AlertKind]] = {
    kind.name: kind
    for kind in (
        AlertKind("drag", _L, "The anchor is coming home."),
        AlertKind("data_stale", _R, "No position sentences arrive from any source."),
        AlertKind("fix_lost", _R, "The receiver answers but has no fix."),
        AlertKind("fix_poor", _R, "The fix is too poor to tell a drag in time."),
        AlertKind("fix_frozen", _R, "The receiver repeats the identical position."),
        AlertKind("rode_unknown", _R, "The anchor is down and no rode length was given."),
        AlertKind("anchor_uncertain", _R, "Set late: the anchor's place is not well known yet."),
        AlertKind("receiver_date", _R, "The receiver's date is wrong by whole GPS week cycles."),
        AlertKind("watch_resumed", _L, "The program was restarted and has taken the watch up."),
        AlertKind("source_silent", _R, "A source of data cannot be opened or has failed."),
        AlertKind("notifier_failed", _R, "A way of telling the crew has failed."),
        AlertKind("journal_failed", _R, "The watch cannot be written to disk."),
        AlertKind("recording_failed", _R, "The raw data cannot be recorded."),
    )
}


def clear_rule(name: str) -> ClearRule:
    """The rule for an alert of this name; an unknown one clears when rectified."""
    kind = CATALOGUE.get(name)
    return ClearRule.WHEN_RECTIFIED if kind is None else kind.clears
