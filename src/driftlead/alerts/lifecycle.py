"""The life of an alert in one table, in the terms of IMO MSC.302(87) and IEC 62923-1.

``NORMAL`` is both the beginning and the end. A caution needs no answer, so it goes straight to
"active, acknowledged" and never sounds. Silencing and handing over are states of the standard that
no event leads to yet.
"""

import enum
from typing import Final

from driftlead.alerts.alert import AlertState, Priority
from driftlead.errors import RefusedError


class AlertEvent(enum.StrEnum):
    """What may happen to an alert."""

    RAISED = "raised"
    """The condition holds."""
    RAISED_AS_CAUTION = "raised_as_caution"
    """The condition holds and needs no answer."""
    ESCALATED = "escalated"
    """It has become more urgent: it must be heard (again)."""
    ACKNOWLEDGED = "acknowledged"
    """Somebody has answered."""
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
        _E.ACKNOWLEDGED: _S.ACTIVE_ACKNOWLEDGED,
        _E.RECTIFIED: _S.RECTIFIED_UNACKNOWLEDGED,
    },
    _S.SILENCED: {},
    _S.ACTIVE_ACKNOWLEDGED: {
        _E.ESCALATED: _S.ACTIVE_UNACKNOWLEDGED,
        _E.RECTIFIED: _S.NORMAL,
    },
    _S.RESPONSIBILITY_TRANSFERRED: {},
    _S.RECTIFIED_UNACKNOWLEDGED: {
        _E.RAISED: _S.ACTIVE_UNACKNOWLEDGED,
        _E.RAISED_AS_CAUTION: _S.ACTIVE_ACKNOWLEDGED,
        _E.ACKNOWLEDGED: _S.NORMAL,
    },
}


def raised_event(priority: Priority) -> AlertEvent:
    """How a condition of this priority enters the table."""
    return AlertEvent.RAISED_AS_CAUTION if priority is Priority.CAUTION else AlertEvent.RAISED


def next_alert_state(state: AlertState, event: AlertEvent) -> AlertState:
    """The state after ``event``; raises RefusedError if the table does not know it."""
    following = LIFECYCLE[state].get(event)
    if following is None:
        raise RefusedError(f"An alert that is {state.value} cannot be {event.value}.")
    return following
