"""The flashes of the lamp."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.notify.lamp import ALARM, DARK, OVER, STEADY, WARNING, Code, Lamp
from driftlead.testing import make_alert


def code(*alerts: Alert) -> Code:
    """Show these."""
    lamp = Lamp()
    for alert in alerts:
        lamp.update(alert, wanted=True)
    return lamp.code


@pytest.mark.parametrize(
    ("priority", "state", "shown"),
    [
        (Priority.ALARM, AlertState.ACTIVE_UNACKNOWLEDGED, ALARM),
        (Priority.ALARM, AlertState.SILENCED, ALARM),
        (Priority.ALARM, AlertState.ACTIVE_ACKNOWLEDGED, STEADY),
        (Priority.ALARM, AlertState.RESPONSIBILITY_TRANSFERRED, STEADY),
        (Priority.ALARM, AlertState.RECTIFIED_UNACKNOWLEDGED, OVER),
        (Priority.ALARM, AlertState.NORMAL, DARK),
        (Priority.WARNING, AlertState.ACTIVE_UNACKNOWLEDGED, WARNING),
        (Priority.WARNING, AlertState.ACTIVE_ACKNOWLEDGED, STEADY),
        (Priority.CAUTION, AlertState.ACTIVE_ACKNOWLEDGED, STEADY),
    ],
)
def test_unanswered_alerts_flash_and_answered_ones_burn(
    priority: Priority, state: AlertState, shown: Code
) -> None:
    """IMO MSC.302(87), as to the visual indication of each state (paragraphs 5 to 7)."""
    assert code(make_alert(priority=priority, state=state)) == shown


def test_the_most_urgent_is_shown() -> None:
    """An answered alarm gives way to an unanswered warning."""
    answered = make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED)
    warning = make_alert(name="fix_lost", priority=Priority.WARNING)
    assert code(answered, warning) == WARNING
    assert code(warning, make_alert()) == ALARM
    assert code() == DARK


def test_the_codes_can_be_told_apart_and_the_alarm_is_the_quickest() -> None:
    """Flashes a minute; none is faster than the 5 a second that trouble some people."""
    codes = (ALARM, WARNING, OVER)
    a_minute = [60.0 * len(each) / sum(on + off for on, off in each) for each in codes]
    assert a_minute == sorted(a_minute, reverse=True)
    assert all(first >= 2 * second for first, second in itertools.pairwise(a_minute))
    assert a_minute[0] <= 300.0


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["a", "b"]), st.sampled_from(Priority), st.sampled_from(AlertState)
        )
    )
)
def test_the_lamp_is_dark_when_and_only_when_nothing_is_up(
    changes: list[tuple[str, Priority, AlertState]],
) -> None:
    """Whatever happened before; and all is well only without alarm and warning."""
    lamp = Lamp()
    up = dict[str, Priority]()
    for name, priority, state in changes:
        lamp.update(make_alert(name=name, priority=priority, state=state), wanted=True)
        up.pop(name, None)
        if state is not AlertState.NORMAL:
            up[name] = priority
        assert (lamp.code == DARK) is (not up)
        assert lamp.all_is_well is all(each is Priority.CAUTION for each in up.values())
