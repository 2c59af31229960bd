"""What waits to be carried far, and what gives way."""

from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.notify.durable_queue import DurableQueue, QueuedAlert
from driftlead.testing import make_alert

ACTIVE, OVER = AlertState.ACTIVE_UNACKNOWLEDGED, AlertState.NORMAL


def put(queue: DurableQueue, alert: Alert) -> list[QueuedAlert]:
    """Put an alert whose monotonic time makes it this change and no other."""
    _, dropped = queue.put(
        alert, idempotency_key=str(alert.mono_s), timestamp="0", body=alert.text.encode()
    )
    return dropped


def alert(mono_s: float, **fields: object) -> Alert:
    """Make the change number ``mono_s``."""
    return make_alert(mono_s=mono_s, **fields)


def waiting(queue: DurableQueue) -> list[tuple[str, str]]:
    """What waits, as names and states in order of arrival."""
    return [(entry.name, entry.state.value) for entry in queue.entries]


def test_a_newer_state_takes_the_place_of_an_older_one() -> None:
    """Of a warning only the newest is of interest."""
    queue = DurableQueue()
    for mono_s, state in enumerate((ACTIVE, AlertState.ACTIVE_ACKNOWLEDGED, OVER)):
        put(queue, alert(mono_s, name="fix_lost", priority=Priority.WARNING, state=state))
    assert waiting(queue) == [("fix_lost", "normal")]


def test_that_an_alarm_was_raised_is_never_lost() -> None:
    """Even if it was acknowledged and over before anybody could be told."""
    queue = DurableQueue()
    put(queue, alert(1.0, priority=Priority.WARNING))
    put(queue, alert(2.0))
    put(queue, alert(3.0, state=AlertState.ACTIVE_ACKNOWLEDGED))
    put(queue, alert(4.0, state=OVER))
    put(queue, alert(5.0, number=2))
    put(queue, alert(6.0, number=2, state=OVER))
    assert [entry.idempotency_key for entry in queue.entries] == ["2.0", "5.0", "6.0"]


def test_an_alarm_that_sounds_again_is_raised_once() -> None:
    """A silence that runs out every half minute of a night must not fill the disk."""
    queue = DurableQueue()
    for mono_s in range(100):
        put(queue, alert(mono_s, state=(ACTIVE, AlertState.SILENCED)[mono_s % 2]))
    assert [entry.idempotency_key for entry in queue.entries] == ["98", "99"]


def test_the_number_alone_does_not_make_two_alarms_one() -> None:
    """After a lost journal the numbers begin at 1 again."""
    queue = DurableQueue()
    put(queue, alert(1.0, raised_utc_s=1_780_000_000.0))
    put(queue, alert(2.0, raised_utc_s=1_780_100_000.0))
    assert len(queue.entries) == 2


def test_instances_of_one_name_are_alerts_of_their_own() -> None:
    """Two sources may be silent."""
    queue = DurableQueue()
    for mono_s, instance in enumerate(("gps", "wind")):
        put(queue, alert(mono_s, name="source_silent", instance=instance, state=OVER))
    assert len(queue.entries) == 2


def test_the_same_change_is_not_queued_twice() -> None:
    """A failed call is repeated by the dispatcher."""
    queue = DurableQueue()
    for _ in range(2):
        put(queue, alert(1.0))
    assert len(queue.entries) == 1


def test_the_most_urgent_goes_first_and_among_equals_the_oldest() -> None:
    """An alarm does not wait behind what has gathered."""
    queue = DurableQueue()
    put(queue, alert(1.0, name="a", priority=Priority.CAUTION))
    put(queue, alert(2.0, name="b", priority=Priority.WARNING))
    put(queue, alert(3.0, name="c", priority=Priority.WARNING))
    put(queue, alert(4.0, name="d"))
    sent = []
    while (head := queue.head) is not None:
        sent.append(head.name)
        queue.remove(head)
        assert head not in queue
    assert sent == ["d", "b", "c", "a"]


def test_what_an_earlier_run_left_comes_before_all_else() -> None:
    """And gives way to newer states by the same rules."""
    earlier = DurableQueue()
    put(earlier, alert(1.0))
    put(earlier, alert(2.0, name="fix_lost", priority=Priority.WARNING))
    queue = DurableQueue()
    put(queue, alert(3.0, name="fix_lost", priority=Priority.WARNING, state=OVER))
    queue.adopt(earlier.entries)
    assert waiting(queue) == [("drag", "active_unacknowledged"), ("fix_lost", "normal")]


def test_news_of_an_end_gives_way_first_then_cautions_then_warnings_and_alarms_never() -> None:
    """The oldest of each kind first."""
    queue = DurableQueue(limit=4)
    kinds = (
        ("warning", Priority.WARNING, ACTIVE),
        ("caution", Priority.CAUTION, AlertState.ACTIVE_ACKNOWLEDGED),
        ("later", Priority.CAUTION, AlertState.ACTIVE_ACKNOWLEDGED),
        ("over", Priority.WARNING, OVER),
    )
    for mono_s, (name, priority, state) in enumerate(kinds):
        assert put(queue, alert(mono_s, name=name, priority=priority, state=state)) == []
    dropped = []
    for mono_s in range(10, 16):
        dropped += put(queue, alert(mono_s, number=mono_s))
    assert [entry.name for entry in dropped] == ["over", "caution", "later", "warning"]
    assert waiting(queue) == [("drag", "active_unacknowledged")] * 6


CHANGES = st.lists(
    st.builds(
        make_alert,
        name=st.sampled_from(["drag", "fix_lost", "fix_poor"]),
        instance=st.sampled_from(["", "gps"]),
        number=st.integers(1, 3),
        priority=st.sampled_from(Priority),
        state=st.sampled_from(AlertState),
    ),
    max_size=30,
)


@settings(deadline=None)
@given(changes=CHANGES, limit=st.integers(1, 5))
def test_whatever_happens_no_alarm_is_lost_and_the_rest_is_bounded(
    changes: list[Alert], limit: int
) -> None:
    """Every raised alarm is there, the newest state of each alarm too, each alert in its order."""
    queue = DurableQueue(limit=limit)
    for mono_s, change in enumerate(changes):
        queue.put(change, idempotency_key=str(mono_s), timestamp="0", body=b"")
    entries = queue.entries
    raised = {
        (*change.key, change.number)
        for change in changes
        if change.priority is Priority.ALARM and change.state is ACTIVE
    }
    kept = [e for e in entries if e.raises_an_alarm]
    assert {(e.name, e.instance, int(e.occurrence.split("@")[0])) for e in kept} == raised
    assert len(kept) == len(raised)
    newest = {change.key: mono_s for mono_s, change in enumerate(changes)}
    for (name, instance), mono_s in newest.items():
        of_alert = [e.idempotency_key for e in entries if (e.name, e.instance) == (name, instance)]
        if changes[mono_s].priority is Priority.ALARM:
            assert of_alert[-1] == str(mono_s)
    assert [int(e.idempotency_key) for e in entries] == sorted(
        int(e.idempotency_key) for e in entries
    )
    lesser = [e for e in entries if e.priority is not Priority.ALARM]
    assert len(entries) <= limit or not lesser
