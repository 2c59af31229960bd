"""Every alert there is: its name, its priority, when it clears, and what it means to the crew."""

import enum
from typing import Final

from attrs import frozen

from driftlead.alerts.alert import Priority


class ClearRule(enum.StrEnum):
    """When an alert may end."""

    WHEN_RECTIFIED = "when_rectified"
    """As soon as the condition is gone (an unanswered one then waits to be acknowledged)."""
    LATCHED = "latched"
    """Not before somebody has acknowledged it, even if the condition is gone by then."""


@frozen
class AlertKind:
    """One row of the catalogue.

    ``priority`` is the one it is raised with; some grow more urgent. ``fault``: something of ours
    has failed, which a restart finds out anew.
    """

    name: str
    priority: Priority
    clears: ClearRule
    meaning: str
    fault: bool = False


_R, _L = ClearRule.WHEN_RECTIFIED, ClearRule.LATCHED
_C, _W, _A = Priority.CAUTION, Priority.WARNING, Priority.ALARM

CATALOGUE: Final[dict[str, AlertKind]] = {
    kind.name: kind
    for kind in (
        AlertKind("drag", _A, _L, "The anchor is coming home."),
        AlertKind("data_stale", _W, _R, "No position sentences arrive from any source."),
        AlertKind("fix_lost", _W, _R, "The receiver answers but has no fix."),
        AlertKind("fix_poor", _C, _R, "The fix is too poor to tell a drag in time."),
        AlertKind("fix_frozen", _C, _R, "The receiver repeats the identical position."),
        AlertKind("heading_lost", _C, _R, "No heading any more: a drag shows later."),
        AlertKind("wind_lost", _C, _R, "No wind any more: a shift or a squall is not seen coming."),
        AlertKind("rode_unknown", _C, _R, "The anchor is down and no rode length was given."),
        AlertKind("anchor_uncertain", _C, _R, "Set late: the anchor's place is not known well."),
        AlertKind("rode_short", _C, _R, "The rode out is short for this depth and wind."),
        AlertKind("wind_over_plan", _W, _R, "It blows harder than the tackle was planned for."),
        AlertKind("swing_changed", _C, _R, "She swings in another arc than she did so far."),
        AlertKind("wind_shifted", _C, _R, "The wind has shifted: she will lie elsewhere."),
        AlertKind("will_touch", _C, _R, "She will touch bottom, or something, as she swings."),
        AlertKind("receiver_date", _C, _R, "The receiver's date is off by whole GPS week cycles."),
        AlertKind("clock_jumped", _C, _R, "A clock jumped: the receiver's or ours.", fault=True),
        AlertKind("watch_resumed", _C, _L, "The program was restarted and has resumed the watch."),
        AlertKind("source_silent", _W, _R, "A source cannot be opened or has failed.", fault=True),
        AlertKind("notifier_failed", _W, _R, "A way of telling the crew has failed.", fault=True),
        AlertKind("journal_failed", _W, _R, "The watch cannot be written to disk.", fault=True),
        AlertKind("recording_failed", _W, _R, "The raw data cannot be recorded.", fault=True),
        AlertKind("supply_low", _W, _R, "The computer's supply voltage is too low.", fault=True),
        AlertKind("cpu_hot", _C, _R, "The computer is so hot that it slows down.", fault=True),
        AlertKind("disk_low", _W, _R, "The disk is filling up.", fault=True),
        AlertKind("file_unreadable", _C, _R, "A tide or danger file cannot be read.", fault=True),
        AlertKind("dragged_here_before", _C, _R, "She dragged here on an earlier night."),
        AlertKind("drill", _A, _R, "A test of the alarm: nothing is wrong."),
    )
}

FAULT_NAMES: Final = frozenset(kind.name for kind in CATALOGUE.values() if kind.fault)
"""What is told of ourselves: it does not outlive a restart, which finds it out anew."""


def clear_rule(name: str) -> ClearRule:
    """The rule for an alert of this name; an unknown one clears when rectified."""
    kind = CATALOGUE.get(name)
    return ClearRule.WHEN_RECTIFIED if kind is None else kind.clears


def fault_priority(name: str) -> Priority:
    """How urgent a fault of this name is; an unknown one is a warning."""
    kind = CATALOGUE.get(name)
    return Priority.WARNING if kind is None else kind.priority
