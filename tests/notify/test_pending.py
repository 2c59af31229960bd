"""What is still to be sent, and in which order."""

from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.notify.pending import Pending
from driftlead.testing import make_alert


def pending(at_least: Priority = Priority.CAUTION, limit: int = 64) -> Pending:
    """Make an empty one."""
    return Pending(at_least, limit=limit)


def caution(instance: str, **overrides: object) -> Alert:
    """Make a caution."""
    return make_alert(name="fix_poor", instance=instance, priority=Priority.CAUTION, **overrides)


def taken(queue: Pending) -> list[Alert]:
    """Take everything that is due."""
    return list(iter(queue.take, None))


def test_the_most_urgent_goes_first_and_among_equals_the_oldest() -> None:
    """An alarm does not wait behind cautions."""
    queue = pending()
    first, second, alarm = caution("1"), caution("2"), make_alert()
    for alert in (first, second, alarm):
        queue.offer(alert)
    assert taken(queue) == [alarm, first, second]


def test_a_newer_state_replaces_an_older_one_that_was_not_sent() -> None:
    """Nobody is woken for what is already answered, and the place in the queue is kept."""
    queue = pending()
    queue.offer(caution("1"))
    queue.offer(caution("2"))
    newer = caution("1", state=AlertState.ACTIVE_ACKNOWLEDGED)
    queue.offer(newer)
    assert taken(queue) == [newer, caution("2")]


def test_below_the_wanted_priority_nothing_is_queued() -> None:
    """The owner's limit holds."""
    queue = pending(Priority.WARNING)
    assert queue.offer(caution("1")) == []
    assert not queue.is_due


def test_changes_of_a_sent_alert_come_through_whatever_their_priority() -> None:
    """Who heard of an alarm hears that it became a caution and that it ended; then no more."""
    queue = pending(Priority.ALARM)
    raised = make_alert()
    eased = make_alert(priority=Priority.CAUTION)
    over = make_alert(priority=Priority.CAUTION, state=AlertState.NORMAL)
    for alert in (raised, eased, over):
        queue.offer(alert)
        assert queue.take() == alert
    queue.offer(make_alert(number=2, priority=Priority.CAUTION))
    assert not queue.is_due


def test_above_the_limit_the_oldest_of_the_least_urgent_is_dropped() -> None:
    """Warnings outlast cautions, and newer cautions older ones."""
    queue = pending(limit=2)
    warning = make_alert(name="fix_lost", priority=Priority.WARNING)
    assert queue.offer(caution("1")) == []
    assert queue.offer(warning) == []
    assert queue.offer(caution("2")) == [caution("1")]
    assert taken(queue) == [warning, caution("2")]


def test_alarms_are_never_dropped() -> None:
    """Rather than lose an alarm the queue grows."""
    queue = pending(limit=2)
    alarms = [make_alert(instance=str(i)) for i in range(5)]
    for alarm in alarms:
        assert queue.offer(alarm) == []
    assert queue.offer(caution("1")) == [caution("1")]
    assert taken(queue) == alarms


def test_the_end_of_a_sent_alert_is_never_dropped() -> None:
    """A siren must not sound for ever because its queue was full."""
    queue = pending(limit=1)
    queue.offer(caution("1"))
    queue.take()
    over = caution("1", state=AlertState.NORMAL)
    queue.offer(over)
    queue.offer(make_alert(name="fix_lost", priority=Priority.WARNING))
    assert over in taken(queue)


def test_a_failed_alert_is_held_until_released() -> None:
    """It is not due again at once."""
    queue = pending()
    queue.offer(make_alert())
    alert = queue.take()
    assert alert is not None
    queue.hold(alert)
    assert queue.is_held
    assert not queue.is_due
    queue.release()
    assert taken(queue) == [alert]
    assert not queue.is_held


def test_a_newer_state_displaces_a_held_one() -> None:
    """Only the newest state of an alert is ever tried again, whichever came to be known first."""
    queue = pending()
    raised, answered = make_alert(), make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED)
    queue.offer(raised)
    queue.take()
    queue.hold(raised)
    queue.offer(answered)
    queue.release()
    assert taken(queue) == [answered]

    queue.offer(raised)
    queue.take()
    queue.offer(answered)
    queue.hold(raised)
    queue.release()
    assert taken(queue) == [answered]


_ALERTS = st.builds(
    lambda name, priority, state: make_alert(name=name, priority=priority, state=state),
    st.sampled_from("abcdef"),
    st.sampled_from(Priority),
    st.sampled_from(AlertState),
)
_STEPS = st.lists(_ALERTS | st.sampled_from(["take", "fail", "release"]), max_size=60)


@given(steps=_STEPS, at_least=st.sampled_from(Priority), limit=st.integers(1, 4))
def test_whatever_happens_the_notifier_ends_up_with_the_newest_state(
    steps: list[Alert | str], at_least: Priority, limit: int
) -> None:
    """Of every alert it was told of, and of every alarm, the last thing it hears is the newest."""
    queue = pending(at_least, limit=limit)
    newest: dict[str, Alert] = {}
    heard: dict[str, Alert] = {}

    def hear() -> Alert | None:
        alert = queue.take()
        if alert is not None:
            heard[alert.name] = alert
        return alert

    for step in steps:
        if isinstance(step, Alert):
            newest[step.name] = step
            queue.offer(step)
        elif step == "release":
            queue.release()
        elif (alert := hear()) is not None and step == "fail":
            queue.hold(alert)
    queue.release()
    while hear() is not None:
        pass

    for name, alert in newest.items():
        if alert.priority is Priority.ALARM:
            assert heard[name] == alert
        if name in heard and heard[name].state is not AlertState.NORMAL:
            assert heard[name] == alert
