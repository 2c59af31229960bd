"""The life of an alert in one table, in the terms of IMO MSC.302(87) and IEC 62923-1.

``NORMAL`` is both the beginning and the end. A caution needs no answer, so it goes straight to
"active, acknowledged" and never sounds. A silence is an answer for ``SILENCE_S`` only, and so is
handing over for as long as the other has to answer. ``python -m driftlead.alerts.diagram`` draws
the table.
"""

import enum
from typing import Final

from driftlead.alerts.alert import AlertState, Priority
from driftlead.errors import RefusedError

SILENCE_S: Final = 30.0
"""An alert that is silenced and not acknowledged sounds again after this (MSC.302(87))."""


class AlertEvent(enum.StrEnum):
    """What may happen to an alert."""

    RAISED = "raised"
    """The condition holds."""
    RAISED_AS_CAUTION = "raised_as_caution"
    """The condition holds and needs no answer."""
    ESCALATED = "escalated"
    """It has become more urgent, by what happens or because nobody answered: it must be heard."""
    EASED = "eased"
    """It has become a caution, which needs no answer."""
    ACKNOWLEDGED = "acknowledged"
    """Somebody has answered."""
    SILENCED = "silenced"
    """Somebody has asked for quiet, without an answer yet."""
    SILENCE_RAN_OUT = "silence_ran_out"
    """The quiet has lasted as long as it may."""
    TRANSFERRED = "transferred"
    """The responsibility for it is handed over to another member of the crew."""
    TAKEN_BACK = "taken_back"
    """Whoever it was handed over to has not answered in time."""
    RECTIFIED = "rectified"
    """The condition holds no longer."""


_S, _E = AlertState, AlertEvent

LIFECYCLE: Final[dict[AlertState, dict[AlertEvent, AlertState]]] = {
    _S.NORMAL: {
        _E.RAISED: _S.ACTIVE_UNACKNOWLEDGED,
        _E.RAISED_AS_CAUTION: _S.ACTIVE_ACKNOWLEDGED,
    },
    _S.ACTIVE_UNACKNOWLEDGED: {
        _E.ESCALATED: _S.ACTIVE_UNACKNOWLEDGED,
        _E.EASED: _S.ACTIVE_ACKNOWLEDGED,
        _E.ACKNOWLEDGED: _S.ACTIVE_ACKNOWLEDGED,
        _E.SILENCED: _S.SILENCED,
        _E.TRANSFERRED: _S.RESPONSIBILITY_TRANSFERRED,
        _E.RECTIFIED: _S.RECTIFIED_UNACKNOWLEDGED,
    },
    _S.SILENCED: {
        _E.ESCALATED: _S.ACTIVE_UNACKNOWLEDGED,
        _E.EASED: _S.ACTIVE_ACKNOWLEDGED,
        _E.ACKNOWLEDGED: _S.ACTIVE_ACKNOWLEDGED,
        _E.SILENCE_RAN_OUT: _S.ACTIVE_UNACKNOWLEDGED,
        _E.TRANSFERRED: _S.RESPONSIBILITY_TRANSFERRED,
        _E.RECTIFIED: _S.RECTIFIED_UNACKNOWLEDGED,
    },
    _S.ACTIVE_ACKNOWLEDGED: {
        _E.ESCALATED: _S.ACTIVE_UNACKNOWLEDGED,
        _E.EASED: _S.ACTIVE_ACKNOWLEDGED,
        _E.RECTIFIED: _S.NORMAL,
    },
    _S.RESPONSIBILITY_TRANSFERRED: {
        _E.ESCALATED: _S.ACTIVE_UNACKNOWLEDGED,
        _E.EASED: _S.ACTIVE_ACKNOWLEDGED,
        _E.ACKNOWLEDGED: _S.ACTIVE_ACKNOWLEDGED,
        _E.TAKEN_BACK: _S.ACTIVE_UNACKNOWLEDGED,
        _E.RECTIFIED: _S.RECTIFIED_UNACKNOWLEDGED,
    },
    _S.RECTIFIED_UNACKNOWLEDGED: {
        _E.RAISED: _S.ACTIVE_UNACKNOWLEDGED,
        _E.RAISED_AS_CAUTION: _S.ACTIVE_ACKNOWLEDGED,
        _E.ACKNOWLEDGED: _S.NORMAL,
    },
}


def raised_event(priority: Priority) -> AlertEvent:
    """How a condition of this priority enters the table."""
    return AlertEvent.RAISED_AS_CAUTION if priority is Priority.CAUTION else AlertEvent.RAISED


def is_legal(state: AlertState, event: AlertEvent) -> bool:
    """Whether the table knows this event in this state."""
    return event in LIFECYCLE[state]


def next_alert_state(state: AlertState, event: AlertEvent) -> AlertState:
    """The state after ``event``; raises RefusedError if the table does not know it."""
    following = LIFECYCLE[state].get(event)
    if following is None:
        raise RefusedError(
            f"An alert that is {_words(state)} cannot be {_words(event)}.",
            remedy="See how it stands: driftlead status.",
        )
    return following


def _words(value: AlertState | AlertEvent) -> str:
    return value.value.replace("_", " ")
