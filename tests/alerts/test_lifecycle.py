"""Every row of the alert lifecycle, and every pair that is no row."""

import pytest

from driftlead.alerts.alert import AlertState, Priority
from driftlead.alerts.lifecycle import LIFECYCLE, AlertEvent, next_alert_state, raised_event
from driftlead.errors import RefusedError

# Written out by hand from IMO MSC.302(87) and the states of IEC 62923-1; not read from the table.
ROWS = {
    ("normal", "raised"): "active_unacknowledged",
    ("normal", "raised_as_caution"): "active_acknowledged",
    ("active_unacknowledged", "escalated"): "active_unacknowledged",
    ("active_unacknowledged", "acknowledged"): "active_acknowledged",
    ("active_unacknowledged", "rectified"): "rectified_unacknowledged",
    ("active_acknowledged", "escalated"): "active_unacknowledged",
    ("active_acknowledged", "rectified"): "normal",
    ("rectified_unacknowledged", "raised"): "active_unacknowledged",
    ("rectified_unacknowledged", "raised_as_caution"): "active_acknowledged",
    ("rectified_unacknowledged", "acknowledged"): "normal",
}


@pytest.mark.parametrize("state", list(AlertState))
@pytest.mark.parametrize("event", list(AlertEvent))
def test_each_pair_leads_where_the_standard_says_or_is_refused(
    state: AlertState, event: AlertEvent
) -> None:
    wanted = ROWS.get((state.value, event.value))
    if wanted is None:
        with pytest.raises(RefusedError):
            next_alert_state(state, event)
    else:
        assert next_alert_state(state, event) is AlertState(wanted)


def test_every_state_has_its_place_in_the_table() -> None:
    assert set(LIFECYCLE) == set(AlertState)


def test_only_an_unanswered_active_alert_sounds() -> None:
    """MSC.302(87): audible until acknowledged or rectified."""
    assert [state for state in AlertState if state.sounds] == [AlertState.ACTIVE_UNACKNOWLEDGED]


def test_a_caution_needs_no_answer_and_the_others_do() -> None:
    assert raised_event(Priority.CAUTION) is AlertEvent.RAISED_AS_CAUTION
    assert raised_event(Priority.WARNING) is AlertEvent.RAISED
    assert raised_event(Priority.ALARM) is AlertEvent.RAISED


def test_priorities_are_in_order_of_urgency() -> None:
    assert Priority.CAUTION.rank < Priority.WARNING.rank < Priority.ALARM.rank
