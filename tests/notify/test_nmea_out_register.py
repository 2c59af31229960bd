"""What displays have been told, and its counters."""

from driftlead.alerts.alert import AlertState, Priority
from driftlead.notify.alert_sentences import Answer, AnswerKind
from driftlead.notify.nmea_out_register import ShownAlerts
from driftlead.testing import make_alert

WARNING = make_alert(name="source_silent", instance="gps", priority=Priority.WARNING, number=2)


def ask(number: int, instance: int | None = None, manufacturer: str = "") -> Answer:
    """Ask about an alert."""
    return Answer(
        kind=AnswerKind.ACKNOWLEDGE, number=number, instance=instance, manufacturer=manufacturer
    )


def test_each_change_is_a_revision_and_the_same_again_is_none() -> None:
    """A display tells by it whether it has the newest; a new raising begins at 1."""
    shown = ShownAlerts("")
    states = (
        AlertState.ACTIVE_UNACKNOWLEDGED,
        AlertState.ACTIVE_UNACKNOWLEDGED,
        AlertState.SILENCED,
        AlertState.ACTIVE_ACKNOWLEDGED,
        AlertState.NORMAL,
        AlertState.ACTIVE_UNACKNOWLEDGED,
    )
    revisions = [shown.take(make_alert(state=state)).revision for state in states]
    assert revisions == [1, 1, 2, 3, 4, 1]


def test_growing_more_urgent_is_an_escalation() -> None:
    """Growing less urgent is a revision only."""
    shown = ShownAlerts("")
    counts = []
    for priority in (Priority.CAUTION, Priority.WARNING, Priority.ALARM, Priority.WARNING):
        taken = shown.take(make_alert(priority=priority))
        counts.append((taken.revision, taken.escalation))
    assert counts == [(1, 0), (2, 1), (3, 2), (4, 2)]


def test_what_is_up_is_listed_by_urgency_until_it_is_normal() -> None:
    """In order of raising among equals."""
    shown = ShownAlerts("")
    shown.take(WARNING)
    shown.take(make_alert(name="fix_lost", priority=Priority.WARNING, number=1))
    shown.take(make_alert(number=3))
    assert [each.alert.name for each in shown.all] == ["drag", "fix_lost", "source_silent"]
    shown.take(make_alert(number=3, state=AlertState.NORMAL))
    assert [each.alert.name for each in shown.all] == ["fix_lost", "source_silent"]


def test_an_answer_must_name_the_very_alert() -> None:
    """Number, instance and maker; only older displays name a number alone."""
    shown = ShownAlerts("XYZ")
    drag = shown.take(make_alert()).identity
    shown.take(WARNING)
    (found,) = shown.asked(ask(drag.number, 1, "XYZ"))
    assert found.alert.name == "drag"
    (found,) = shown.asked(ask(drag.number))
    assert found.alert.name == "drag"
    for wrong in (
        ask(drag.number, 1),
        ask(drag.number, 2, "XYZ"),
        ask(drag.number + 1, 1, "XYZ"),
        ask(10_010, 1, "XYZ"),
    ):
        assert shown.asked(wrong) == []
    assert len(shown.asked(ask(10_010))) == 1
