"""What a replay came to, in words: each raising counts once."""

from typing import Any

from attrs import evolve

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call, CallReason
from driftlead.core.core import Core
from driftlead.core.settings import CoreSettings
from driftlead.core.state_event import StateEvent
from driftlead.replay.summary import Summary, state_words
from driftlead.testing.alerts import make_alert

RAISED = make_alert(utc_s=1000.0, raised_utc_s=1000.0)


def lines(*events: Alert | Call | AllsWell) -> list[str]:
    """What is said of these events."""
    summary = Summary()
    for event in events:
        summary.hear(event)
    return list(summary.report(Core(CoreSettings(), mono_s=0.0), 0.0))


def changed(**changes: Any) -> Alert:
    """The same alert later."""
    return evolve(RAISED, utc_s=1030.0, **changes)


def test_an_alarm_that_sounds_again_after_a_silence_is_one_alarm() -> None:
    said = lines(RAISED, changed(state=AlertState.SILENCED), changed())
    assert said[-1] == "1 alarm in 3 events."
    assert sum("ALARM drag" in line for line in said) == 1


def test_the_next_raising_is_another_alarm_whatever_its_number() -> None:
    """Numbers begin again in another recording."""
    said = lines(RAISED, evolve(RAISED, utc_s=9000.0, raised_utc_s=9000.0))
    assert said[-1] == "2 alarms in 2 events."


def test_a_warning_that_became_an_alarm_counts_as_one() -> None:
    warning = evolve(RAISED, name="fix_lost", priority=Priority.WARNING)
    said = lines(warning, evolve(warning, priority=Priority.ALARM, overdue=True, utc_s=1300.0))
    assert said[-1] == "1 alarm in 2 events."
    assert [line.split()[1] for line in said[:2]] == ["WARNING", "ALARM"]


def test_calls_and_signs_of_life_are_counted_and_not_told() -> None:
    call = Call(
        alert=RAISED, outlets=("log",), reason=CallReason.FIRST, step=0, loudness=0, mono_s=0.0
    )
    said = lines(RAISED, call, AllsWell(state="riding", sees=True, mono_s=0.0))
    assert said[-1] == "1 alarm in 3 events."
    assert sum("drag" in line for line in said) == 1


def test_a_drill_is_told_and_is_no_alarm() -> None:
    said = lines(evolve(RAISED, name="drill", moved_m=None))
    assert " DRILL: " in said[0]
    assert said[-1] == "0 alarms in 1 events."


def test_a_mark_that_was_corrected_is_told_as_that() -> None:
    event = StateEvent(
        name="mark_corrected", state="laying_back", reason="", mono_s=0.0, utc_s=0.0, anchor=None
    )
    assert state_words(event) == "The mark was corrected."
