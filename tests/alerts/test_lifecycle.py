"""Every row of the alert lifecycle, and every pair that is no row."""

import pytest

from driftlead.alerts.alert import AlertState, Priority
from driftlead.alerts.lifecycle import (
    LIFECYCLE,
    SILENCE_S,
    AlertEvent,
    is_legal,
    next_alert_state,
    raised_event,
)
from driftlead.errors import RefusedError

# Written out by hand from IMO MSC.302(87) and the states of IEC 62923-1; not read from the table.
# "Eased" is ours: an alert that has become a caution needs no answer (Code on Alerts: a caution is
# awareness only). That a silence is broken by more urgency follows from "a second fault sounds".
ROWS = {
    ("normal", "raised"): "active_unacknowledged",
    ("normal", "raised_as_caution"): "active_acknowledged",
    ("active_unacknowledged", "escalated"): "active_unacknowledged",
    ("active_unacknowledged", "eased"): "active_acknowledged",
    ("active_unacknowledged", "acknowledged"): "active_acknowledged",
    ("active_unacknowledged", "silenced"): "silenced",
    ("active_unacknowledged", "transferred"): "responsibility_transferred",
    ("active_unacknowledged", "rectified"): "rectified_unacknowledged",
    ("silenced", "escalated"): "active_unacknowledged",
    ("silenced", "eased"): "active_acknowledged",
    ("silenced", "acknowledged"): "active_acknowledged",
    ("silenced", "silence_ran_out"): "active_unacknowledged",
    ("silenced", "transferred"): "responsibility_transferred",
    ("silenced", "rectified"): "rectified_unacknowledged",
    ("active_acknowledged", "escalated"): "active_unacknowledged",
    ("active_acknowledged", "eased"): "active_acknowledged",
    ("active_acknowledged", "rectified"): "normal",
    ("responsibility_transferred", "escalated"): "active_unacknowledged",
    ("responsibility_transferred", "eased"): "active_acknowledged",
    ("responsibility_transferred", "acknowledged"): "active_acknowledged",
    ("responsibility_transferred", "taken_back"): "active_unacknowledged",
    ("responsibility_transferred", "rectified"): "rectified_unacknowledged",
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
    assert is_legal(state, event) is (wanted is not None)
    if wanted is None:
        with pytest.raises(RefusedError) as refused:
            next_alert_state(state, event)
        assert refused.value.remedy
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


def test_a_silence_lasts_half_a_minute() -> None:
    """MSC.302(87): not acknowledged within 30 s, it sounds again."""
    assert SILENCE_S == 30.0


def test_no_alert_can_get_lost_in_its_table() -> None:
    """From every state a rectified and acknowledged alert comes to its end."""
    for state in AlertState:
        now = state
        for event in (AlertEvent.ACKNOWLEDGED, AlertEvent.RECTIFIED):
            now = next_alert_state(now, event) if is_legal(now, event) else now
        assert now is AlertState.NORMAL


def test_quiet_states_are_unanswered_all_the_same() -> None:
    unanswered = {state.value for state in AlertState if state.is_unanswered}
    assert unanswered == {"active_unacknowledged", "silenced", "responsibility_transferred"}
