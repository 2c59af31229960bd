"""The alert book: one alert for one situation, answered once, ended by its own rule."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.book import AlertBook
from driftlead.alerts.catalogue import CATALOGUE, ClearRule, clear_rule
from driftlead.alerts.condition import Condition
from driftlead.alerts.lifecycle import AlertEvent
from driftlead.alerts.moment import Moment

UNACKNOWLEDGED = AlertState.ACTIVE_UNACKNOWLEDGED
ACKNOWLEDGED = AlertState.ACTIVE_ACKNOWLEDGED


def take(
    book: AlertBook,
    name: str,
    priority: Priority | None,
    *,
    at_s: float = 0.0,
    reason: str = "why",
    instance: str = "",
) -> list[Alert]:
    """Tell the book of a condition; its change, or nothing."""
    condition = Condition(
        name=name, instance=instance, priority=priority, reason=reason, text="So it is."
    )
    change = book.take(condition, Moment(at_s, 1000.0 + at_s))
    return [] if change is None else [change]


def acknowledge(book: AlertBook, name: str | None = None, *, at_s: float = 1.0) -> list[Alert]:
    """Answer."""
    return book.answer(AlertEvent.ACKNOWLEDGED, name, Moment(at_s))


def states(changes: list[Alert]) -> list[str]:
    """Name and state of each change."""
    return [f"{alert.name}:{alert.state.value}" for alert in changes]


def test_the_same_condition_told_again_is_no_news() -> None:
    book = AlertBook()
    assert states(take(book, "drag", Priority.ALARM)) == ["drag:active_unacknowledged"]
    assert take(book, "drag", Priority.ALARM, at_s=1.0) == []
    assert len(book.alerts) == 1


def test_an_answered_alert_ends_when_its_condition_does() -> None:
    book = AlertBook()
    take(book, "fix_lost", Priority.WARNING)
    assert states(acknowledge(book)) == ["fix_lost:active_acknowledged"]
    assert states(take(book, "fix_lost", None)) == ["fix_lost:normal"]
    assert book.alerts == ()


def test_an_unanswered_alert_that_is_rectified_waits_to_be_seen() -> None:
    book = AlertBook()
    take(book, "fix_lost", Priority.WARNING)
    assert states(take(book, "fix_lost", None)) == ["fix_lost:rectified_unacknowledged"]
    assert take(book, "fix_lost", None) == []
    assert states(acknowledge(book)) == ["fix_lost:normal"]


def test_a_drag_goes_on_sounding_until_somebody_answers_though_she_holds_again() -> None:
    book = AlertBook()
    take(book, "drag", Priority.ALARM)
    assert take(book, "drag", None) == []
    assert book.alerts[0].state is UNACKNOWLEDGED
    assert states(acknowledge(book)) == ["drag:normal"]


def test_a_drag_that_begins_again_before_the_answer_is_not_over_with_it() -> None:
    book = AlertBook()
    take(book, "drag", Priority.ALARM)
    take(book, "drag", None)
    take(book, "drag", Priority.ALARM)
    acknowledge(book)
    assert book.alerts[0].state is ACKNOWLEDGED


def test_a_second_drag_after_the_first_was_answered_sounds_again() -> None:
    """Code on Alerts: a second fault after acceptance sounds again."""
    book = AlertBook()
    (first,) = take(book, "drag", Priority.ALARM)
    acknowledge(book)
    take(book, "drag", None)
    (second,) = take(book, "drag", Priority.ALARM, at_s=5.0)
    assert second.state is UNACKNOWLEDGED
    assert second.number == first.number + 1


def test_growing_more_urgent_sounds_again_and_keeps_its_number() -> None:
    book = AlertBook()
    (first,) = take(book, "data_stale", Priority.WARNING, at_s=30.0)
    acknowledge(book, at_s=31.0)
    (second,) = take(book, "data_stale", Priority.ALARM, at_s=180.0)
    assert (second.state, second.priority) == (UNACKNOWLEDGED, Priority.ALARM)
    assert (second.number, second.raised_utc_s) == (first.number, first.utc_s)
    assert second.utc_s == 1180.0


def test_another_reason_is_told_but_does_not_sound_anew() -> None:
    book = AlertBook()
    take(book, "fix_poor", Priority.WARNING, reason="high_hdop")
    acknowledge(book)
    (change,) = take(book, "fix_poor", Priority.WARNING, reason="position_jump")
    assert (change.state, change.reason) == (ACKNOWLEDGED, "position_jump")


def test_two_notifiers_that_fail_are_two_alerts() -> None:
    book = AlertBook()
    take(book, "notifier_failed", Priority.WARNING, instance="horn")
    take(book, "notifier_failed", Priority.WARNING, instance="lamp")
    assert [alert.instance for alert in book.alerts] == ["horn", "lamp"]
    take(book, "notifier_failed", None, instance="horn")
    assert book.find("notifier_failed", "lamp") is not None
    assert [alert.state for alert in book.alerts if alert.instance == "lamp"] == [UNACKNOWLEDGED]


def test_one_alert_can_be_answered_by_its_name() -> None:
    book = AlertBook()
    take(book, "drag", Priority.ALARM)
    take(book, "fix_lost", Priority.WARNING)
    assert states(acknowledge(book, "fix_lost")) == ["fix_lost:active_acknowledged"]
    assert book.alerts[0].state is UNACKNOWLEDGED


def test_the_most_urgent_comes_first() -> None:
    book = AlertBook()
    take(book, "rode_unknown", Priority.CAUTION)
    take(book, "fix_lost", Priority.WARNING)
    take(book, "drag", Priority.ALARM)
    assert [alert.name for alert in book.alerts] == ["drag", "fix_lost", "rode_unknown"]


def test_answering_with_nothing_up_changes_nothing() -> None:
    assert acknowledge(AlertBook()) == []


@pytest.mark.parametrize("name", sorted(CATALOGUE))
def test_each_alert_of_the_catalogue_clears_by_its_rule(name: str) -> None:
    book = AlertBook()
    take(book, name, Priority.WARNING)
    ended = states(take(book, name, None))
    if clear_rule(name) is ClearRule.LATCHED:
        assert ended == []
        assert states(acknowledge(book)) == [f"{name}:normal"]
    else:
        assert ended == [f"{name}:rectified_unacknowledged"]


def test_only_a_drag_and_a_restart_are_latched() -> None:
    latched = {name for name in CATALOGUE if clear_rule(name) is ClearRule.LATCHED}
    assert latched == {"drag", "watch_resumed"}


def test_an_alert_nobody_listed_clears_when_rectified() -> None:
    assert clear_rule("of_a_plug_in") is ClearRule.WHEN_RECTIFIED


def answered(book: AlertBook, event: AlertEvent, name: str | None = None) -> list[str]:
    """Let somebody do something about alerts; the changes."""
    return states(book.answer(event, name, Moment(1.0), by="mate", where="cockpit"))


def test_whoever_answers_is_written_down_and_forgotten_when_it_sounds_anew() -> None:
    book = AlertBook()
    take(book, "data_stale", Priority.WARNING)
    answered(book, AlertEvent.ACKNOWLEDGED)
    (alert,) = book.alerts
    assert (alert.by, alert.where) == ("mate", "cockpit")
    (again,) = take(book, "data_stale", Priority.ALARM)
    assert (again.by, again.where) == (None, None)


def test_only_what_sounds_can_be_silenced() -> None:
    """Not twice either, or a finger on the button would keep an alarm quiet for good."""
    book = AlertBook()
    take(book, "drag", Priority.ALARM)
    take(book, "fix_poor", Priority.CAUTION)
    assert answered(book, AlertEvent.SILENCED) == ["drag:silenced"]
    assert answered(book, AlertEvent.SILENCED) == []
    answered(book, AlertEvent.ACKNOWLEDGED)
    assert answered(book, AlertEvent.SILENCED) == []


def test_a_silence_that_runs_out_sounds_again_with_the_same_number() -> None:
    book = AlertBook()
    take(book, "drag", Priority.ALARM)
    answered(book, AlertEvent.SILENCED)
    again = book.time_out(("drag", ""), AlertEvent.SILENCE_RAN_OUT, Moment(31.0))
    assert (again.state, again.number, again.mono_s) == (UNACKNOWLEDGED, 1, 31.0)


def test_what_is_handed_over_says_to_whom_until_it_is_taken_back() -> None:
    book = AlertBook()
    take(book, "drag", Priority.ALARM)
    (alert,) = book.answer(
        AlertEvent.TRANSFERRED, None, Moment(1.0), by="mate", handed_to="skipper"
    )
    assert alert.state is AlertState.RESPONSIBILITY_TRANSFERRED
    assert (alert.by, alert.handed_to) == ("mate", "skipper")
    back = book.time_out(("drag", ""), AlertEvent.TAKEN_BACK, Moment(91.0))
    assert (back.state, back.by, back.handed_to) == (UNACKNOWLEDGED, None, None)


@pytest.mark.parametrize("quiet", [AlertEvent.SILENCED, AlertEvent.TRANSFERRED])
def test_a_drag_that_stops_while_it_is_quiet_still_waits_for_its_answer(quiet: AlertEvent) -> None:
    book = AlertBook()
    take(book, "drag", Priority.ALARM)
    answered(book, quiet)
    assert take(book, "drag", None) == []
    assert answered(book, AlertEvent.ACKNOWLEDGED) == ["drag:normal"]


@pytest.mark.parametrize("quiet", [AlertEvent.SILENCED, AlertEvent.TRANSFERRED])
def test_growing_more_urgent_breaks_a_silence_and_a_handing_over(quiet: AlertEvent) -> None:
    book = AlertBook()
    take(book, "data_stale", Priority.WARNING)
    answered(book, quiet)
    (again,) = take(book, "data_stale", Priority.ALARM)
    assert (again.state, again.priority) == (UNACKNOWLEDGED, Priority.ALARM)


def overdue() -> AlertBook:
    """A book with a warning that became an alarm because nobody answered."""
    book = AlertBook()
    take(book, "fix_lost", Priority.WARNING)
    change = book.time_out(("fix_lost", ""), AlertEvent.ESCALATED, Moment(300.0))
    assert (change.priority, change.overdue, change.number) == (Priority.ALARM, True, 1)
    return book


def test_a_warning_that_became_an_alarm_stays_one_while_it_is_told_of_as_a_warning() -> None:
    book = overdue()
    assert take(book, "fix_lost", Priority.WARNING, at_s=301.0) == []
    (change,) = take(book, "fix_lost", Priority.WARNING, at_s=302.0, reason="another")
    assert (change.priority, change.state, change.overdue) == (Priority.ALARM, UNACKNOWLEDGED, True)
    acknowledge(book)
    assert take(book, "fix_lost", Priority.WARNING, at_s=303.0, reason="another") == []
    assert book.alerts[0].priority is Priority.ALARM


def test_an_alarm_for_its_own_sake_sounds_anew_after_one_for_want_of_an_answer() -> None:
    book = overdue()
    acknowledge(book)
    (change,) = take(book, "fix_lost", Priority.ALARM, at_s=400.0)
    assert (change.state, change.overdue) == (UNACKNOWLEDGED, False)


def test_what_eases_to_a_caution_needs_no_answer_any_more() -> None:
    book = overdue()
    (change,) = take(book, "fix_lost", Priority.CAUTION, at_s=301.0)
    assert (change.state, change.priority, change.overdue) == (
        ACKNOWLEDGED,
        Priority.CAUTION,
        False,
    )


DEEDS = st.tuples(
    st.sampled_from(["drag", "fix_lost", "data_stale"]),
    st.sampled_from(
        [
            None,
            *Priority,
            AlertEvent.ACKNOWLEDGED,
            AlertEvent.SILENCED,
            AlertEvent.TRANSFERRED,
            AlertEvent.SILENCE_RAN_OUT,
            AlertEvent.TAKEN_BACK,
        ]
    ),
)


@settings(deadline=None)
@given(st.lists(DEEDS, max_size=40))
def test_no_order_of_conditions_and_answers_loses_or_doubles_an_alert(
    deeds: list[tuple[str, Priority | AlertEvent | None]],
) -> None:
    """Whatever happens: one alert a name; an active condition is up; the last change is kept."""
    book = AlertBook()
    active: dict[str, bool] = {}
    latest: dict[str, Alert] = {}
    for at_s, (name, deed) in enumerate(deeds):
        if isinstance(deed, AlertEvent):
            changes = book.answer(deed, name, Moment(at_s))
        else:
            changes = take(book, name, deed, at_s=at_s)
            active[name] = deed is not None
        latest.update({alert.name: alert for alert in changes})
        names = [alert.name for alert in book.alerts]
        assert len(names) == len(set(names))
        for each, is_active in active.items():
            if is_active:
                found = book.find(each)
                assert found is not None
                assert found.state.is_unanswered or found.state is ACKNOWLEDGED
        for each, alert in latest.items():
            kept = book.find(each)
            assert kept == (None if alert.state is AlertState.NORMAL else alert)


def renewed(priority: Priority, text: str, *, reason: str = "why") -> Condition:
    """What is up, with other figures."""
    return Condition(name="drag", priority=priority, reason=reason, text=text, renewed=True)


@pytest.mark.parametrize("answered", [True, False])
@pytest.mark.parametrize("priority", [Priority.ALARM, Priority.WARNING, Priority.CAUTION])
def test_renewed_figures_are_told_by_the_same_alert_in_the_same_state(
    priority: Priority, answered: bool
) -> None:
    book = AlertBook()
    take(book, "drag", priority)
    if answered:
        acknowledge(book)
    (before,) = book.alerts
    after = book.take(renewed(priority, "The pier is nearer."), Moment(9.0))
    assert after is not None
    assert after.text == "The pier is nearer."
    assert (after.number, after.state, after.priority) == (
        before.number,
        before.state,
        before.priority,
    )
    assert after.raised_utc_s == before.raised_utc_s
    assert book.take(renewed(priority, "The pier is nearer."), Moment(10.0)) is None


def test_a_warning_nobody_answered_stays_an_alarm_when_it_is_renewed() -> None:
    book = AlertBook()
    take(book, "drag", Priority.WARNING)
    book.time_out(("drag", ""), AlertEvent.ESCALATED, Moment(300.0))
    after = book.take(renewed(Priority.WARNING, "Worse."), Moment(310.0))
    assert after is not None
    assert (after.priority, after.overdue, after.text) == (Priority.ALARM, True, "Worse.")


def test_what_is_renewed_without_having_been_told_is_raised() -> None:
    raised = AlertBook().take(renewed(Priority.ALARM, "She drags."), Moment(0.0))
    assert raised is not None
    assert raised.state is UNACKNOWLEDGED
