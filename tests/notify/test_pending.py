"""What is still to be sent, and in which order."""

from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.call import Call, CallReason
from driftlead.notify.pending import Pending
from driftlead.testing import make_alert


def call(alert: Alert) -> Call:
    """Call for an alert."""
    return Call(
        alert=alert,
        outlets=("siren",),
        reason=CallReason.FIRST,
        step=0,
        loudness=0,
        mono_s=alert.mono_s,
    )


class Queue(Pending):
    """One that takes and gives alerts, each in a call."""

    def add(self, alert: Alert) -> list[Alert]:
        """Offer a call; the alerts that were dropped."""
        return [dropped.alert for dropped in self.offer(call(alert))]

    def next(self) -> Alert | None:
        """Take the next."""
        taken = self.take()
        return None if taken is None else taken.alert


def pending(limit: int = 64) -> Queue:
    """Make an empty one."""
    return Queue(limit=limit)


def caution(instance: str, **overrides: object) -> Alert:
    """Make a caution."""
    return make_alert(name="fix_poor", instance=instance, priority=Priority.CAUTION, **overrides)


def taken(queue: Queue) -> list[Alert]:
    """Take everything that is due."""
    return list(iter(queue.next, None))


def test_the_most_urgent_goes_first_and_among_equals_the_oldest() -> None:
    """An alarm does not wait behind cautions."""
    queue = pending()
    first, second, alarm = caution("1"), caution("2"), make_alert()
    for alert in (first, second, alarm):
        queue.add(alert)
    assert taken(queue) == [alarm, first, second]


def test_a_newer_state_replaces_an_older_one_that_was_not_sent() -> None:
    """Nobody is woken for what is already answered, and the place in the queue is kept."""
    queue = pending()
    queue.add(caution("1"))
    queue.add(caution("2"))
    newer = caution("1", state=AlertState.ACTIVE_ACKNOWLEDGED)
    queue.add(newer)
    assert taken(queue) == [newer, caution("2")]


def test_above_the_limit_the_oldest_of_the_least_urgent_is_dropped() -> None:
    """Warnings outlast cautions, and newer cautions older ones."""
    queue = pending(limit=2)
    warning = make_alert(name="fix_lost", priority=Priority.WARNING)
    assert queue.add(caution("1")) == []
    assert queue.add(warning) == []
    assert queue.add(caution("2")) == [caution("1")]
    assert taken(queue) == [warning, caution("2")]


def test_alarms_are_never_dropped() -> None:
    """Rather than lose an alarm the queue grows."""
    queue = pending(limit=2)
    alarms = [make_alert(instance=str(i)) for i in range(5)]
    for alarm in alarms:
        assert queue.add(alarm) == []
    assert queue.add(caution("1")) == [caution("1")]
    assert taken(queue) == alarms


def test_in_a_storm_of_a_thousand_the_queue_stays_short_and_the_alarm_comes_first() -> None:
    """Warnings and cautions give way; the alarm, which came last, does not."""
    queue = pending()
    dropped = 0
    for number in range(1000):
        urgent = Priority.WARNING if number % 2 else Priority.CAUTION
        dropped += len(queue.add(make_alert(name="x", instance=str(number), priority=urgent)))
    dropped += len(queue.add(make_alert()))
    left = taken(queue)
    assert len(left) == 64
    assert dropped == 1001 - 64
    assert left[0] == make_alert()
    assert {alert.priority for alert in left[1:]} == {Priority.WARNING}


def test_the_end_of_a_sent_alert_is_never_dropped() -> None:
    """A siren must not sound for ever because its queue was full."""
    queue = pending(limit=1)
    queue.add(caution("1"))
    queue.next()
    over = caution("1", state=AlertState.NORMAL)
    queue.add(over)
    queue.add(make_alert(name="fix_lost", priority=Priority.WARNING))
    assert over in taken(queue)


def test_a_failed_alert_is_held_until_released() -> None:
    """It is not due again at once."""
    queue = pending()
    queue.add(make_alert())
    alert = queue.next()
    assert alert is not None
    queue.hold(call(alert))
    assert queue.is_held
    assert not queue.is_due
    queue.release()
    assert taken(queue) == [alert]
    assert not queue.is_held


def test_a_newer_state_displaces_a_held_one() -> None:
    """Only the newest state of an alert is ever tried again, whichever came to be known first."""
    queue = pending()
    raised, answered = make_alert(), make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED)
    queue.add(raised)
    queue.next()
    queue.hold(call(raised))
    queue.add(answered)
    queue.release()
    assert taken(queue) == [answered]

    queue.add(raised)
    queue.next()
    queue.add(answered)
    queue.hold(call(raised))
    queue.release()
    assert taken(queue) == [answered]


_ALERTS = st.builds(
    lambda name, priority, state: make_alert(name=name, priority=priority, state=state),
    st.sampled_from("abcdef"),
    st.sampled_from(Priority),
    st.sampled_from(AlertState),
)
_STEPS = st.lists(_ALERTS | st.sampled_from(["take", "fail", "release"]), max_size=60)


@given(steps=_STEPS, limit=st.integers(1, 4))
def test_whatever_happens_the_notifier_ends_up_with_the_newest_state(
    steps: list[Alert | str], limit: int
) -> None:
    """Of every alert it was told of, and of every alarm, the last thing it hears is the newest."""
    queue = pending(limit=limit)
    newest: dict[str, Alert] = {}
    heard: dict[str, Alert] = {}

    def hear() -> Alert | None:
        alert = queue.next()
        if alert is not None:
            heard[alert.name] = alert
        return alert

    for step in steps:
        if isinstance(step, Alert):
            newest[step.name] = step
            queue.add(step)
        elif step == "release":
            queue.release()
        elif (alert := hear()) is not None and step == "fail":
            queue.hold(call(alert))
    queue.release()
    while hear() is not None:
        pass

    for name, alert in newest.items():
        if alert.priority is Priority.ALARM:
            assert heard[name] == alert
        if name in heard and heard[name].state is not AlertState.NORMAL:
            assert heard[name] == alert
