"""Alerts and changes of state, each with an id to go on from."""

import json

from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alls_well import AllsWell
from driftlead.core.state_event import StateEvent
from driftlead.testing import make_alert
from driftlead.web.event_log import KEPT, EventLog


def state(number: int) -> StateEvent:
    """One change of state."""
    return StateEvent(name="veer", state="riding", reason=f"n{number}", mono_s=float(number))


def reasons(log: EventLog, number: int) -> list[str]:
    """What is told after that number."""
    return [json.loads(event.text)["event"]["reason"] for event in log.after(number)[1]]


def test_alerts_and_changes_of_state_are_kept_and_signs_of_life_are_not() -> None:
    log = EventLog("ab12")
    assert log.hear(state(1), 0.5)
    assert log.hear(make_alert(name="drag"), 1.25)
    assert not log.hear(AllsWell(state="riding", sees=True, mono_s=2.0), 2.0)
    complete, (first, second) = log.after(0)
    assert complete
    assert (first.kind, second.kind) == ("state", "alert")
    assert first.id == "ab12.1"
    assert json.loads(second.text)["run_s"] == 1.25
    assert json.loads(second.text)["event"]["name"] == "drag"


def test_one_who_has_heard_some_is_told_the_rest() -> None:
    log = EventLog("ab12")
    for n in range(5):
        log.hear(state(n), float(n))
    number = log.number_of("ab12.3")
    assert number == 3
    assert reasons(log, number) == ["n3", "n4"]
    assert log.after(5) == (True, [])


def test_only_the_last_five_hundred_are_kept_and_a_gap_is_told() -> None:
    log = EventLog("ab12")
    for n in range(KEPT + 10):
        log.hear(state(n), float(n))
    assert len(log.after(0)[1]) == KEPT
    assert not log.after(0)[0]
    assert not log.after(9)[0]
    assert log.after(10)[0]


@given(st.text() | st.from_regex(r"(ab12|cd34)?\.?-?[0-9]{0,40}", fullmatch=True))
def test_an_id_of_another_run_or_no_id_at_all_is_none(text: str) -> None:
    log = EventLog("ab12")
    log.hear(state(1), 0.0)
    known = {"ab12.0": 0, "ab12.1": 1}
    number = log.number_of(text)
    assert number == known.get(text) or (number in (0, 1) and text.startswith("ab12.0"))
