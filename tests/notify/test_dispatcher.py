"""Handing every change to every notifier without waiting for one."""

import asyncio
from collections.abc import AsyncIterator, Awaitable

import pytest
import pytest_asyncio

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.errors import NotifierError
from driftlead.notify.base import Notifier
from driftlead.notify.dispatcher import Dispatcher
from driftlead.notify.lane import DEFAULT_TIMEOUT_S, RETRY_AFTER_S, Outlet
from driftlead.testing import FailingNotifier, FakeTime, RecordingNotifier, make_alert

ACKNOWLEDGED = make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED)
OVER = make_alert(state=AlertState.NORMAL)


class HangingNotifier(RecordingNotifier):
    """Keeps the alert, then waits until ``free`` is set."""

    def __init__(self) -> None:
        super().__init__()
        self.free = asyncio.Event()

    async def notify(self, alert: Alert) -> None:
        """Hang."""
        await super().notify(alert)
        await self.free.wait()


class Rig:
    """A dispatcher with two notifiers, on a fake clock."""

    def __init__(self) -> None:
        self.time = FakeTime()
        self.faults: list[tuple[str, str | None]] = []
        self._made: list[Dispatcher] = []

    def dispatcher(
        self, *, queue_limit: int = 64, at_least: Priority = Priority.CAUTION, **named: Notifier
    ) -> Dispatcher:
        """Make one; it is closed after the test."""
        made = Dispatcher(
            [Outlet(name=n, notifier=o, at_least=at_least) for n, o in named.items()],
            on_fault=lambda name, text: self.faults.append((name, text)),
            sleep=self.time.sleep,
            queue_limit=queue_limit,
        )
        self._made.append(made)
        return made

    async def close(self) -> None:
        """Close everything, letting limits pass."""
        for dispatcher in self._made:
            closing = asyncio.create_task(dispatcher.close())
            while not closing.done():
                await self.time.advance(60.0)


@pytest_asyncio.fixture
async def rig() -> AsyncIterator[Rig]:
    """A place to build dispatchers."""
    made = Rig()
    yield made
    await made.close()


async def soon(work: Awaitable[None]) -> None:
    """Await with a real limit that only a defect reaches."""
    await asyncio.wait_for(asyncio.ensure_future(work), 10.0)


@pytest.mark.asyncio
async def test_every_notifier_gets_every_change_in_order(rig: Rig) -> None:
    """Raised, acknowledged, over."""
    first, second = RecordingNotifier(), RecordingNotifier()
    dispatcher = rig.dispatcher(first=first, second=second)
    for alert in (make_alert(), ACKNOWLEDGED, OVER):
        dispatcher.dispatch(alert)
        await soon(dispatcher.idle())
    assert first.alerts == second.alerts == [make_alert(), ACKNOWLEDGED, OVER]
    assert rig.faults == []


@pytest.mark.asyncio
async def test_dispatch_returns_before_anything_is_sent(rig: Rig) -> None:
    """The detector never waits for a notifier."""
    notifier = RecordingNotifier()
    rig.dispatcher(one=notifier).dispatch(make_alert())
    assert notifier.alerts == []


@pytest.mark.asyncio
async def test_a_hanging_and_a_raising_notifier_do_not_delay_the_others(rig: Rig) -> None:
    """Each has a lane of its own."""
    hanging, good = HangingNotifier(), RecordingNotifier()
    dispatcher = rig.dispatcher(hanging=hanging, raising=FailingNotifier(), good=good)
    dispatcher.dispatch(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    dispatcher.dispatch(ACKNOWLEDGED)
    await rig.time.advance(0.0)
    assert good.alerts[-1] == ACKNOWLEDGED
    assert hanging.alerts == [make_alert()]
    assert rig.faults == [("raising", "It is broken. Mend it.")]


@pytest.mark.asyncio
async def test_a_call_that_takes_too_long_is_cancelled_and_counts_as_failed(rig: Rig) -> None:
    """After the default limit, and not before."""
    hanging = HangingNotifier()
    dispatcher = rig.dispatcher(hanging=hanging)
    dispatcher.dispatch(make_alert())
    await rig.time.until_sleeping(20.0)
    await rig.time.advance(19.9)
    assert rig.faults == []
    await rig.time.advance(0.1)
    await soon(dispatcher.idle())
    assert rig.faults == [("hanging", "It did not finish within 20 s.")]


@pytest.mark.asyncio
async def test_a_notifier_may_ask_for_a_limit_of_its_own(rig: Rig) -> None:
    """One that repeats by itself needs longer."""

    class Patient(HangingNotifier):
        timeout_s = 90.0

    dispatcher = rig.dispatcher(patient=Patient())
    dispatcher.dispatch(make_alert())
    await rig.time.until_sleeping(90.0)
    await rig.time.advance(90.0)
    await soon(dispatcher.idle())
    assert rig.faults == [("patient", "It did not finish within 90 s.")]


@pytest.mark.asyncio
async def test_while_one_is_being_sent_newer_states_replace_each_other(rig: Rig) -> None:
    """A notifier that comes back from a long call hears only the newest."""
    hanging = HangingNotifier()
    dispatcher = rig.dispatcher(hanging=hanging)
    dispatcher.dispatch(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    dispatcher.dispatch(make_alert(moved_m=30.0))
    dispatcher.dispatch(ACKNOWLEDGED)
    hanging.free.set()
    await soon(dispatcher.idle())
    assert hanging.alerts == [make_alert(), ACKNOWLEDGED]


@pytest.mark.asyncio
async def test_a_failure_is_told_once_for_each_changed_text(rig: Rig) -> None:
    """And once more when it works again."""
    notifier = FailingNotifier(NotifierError("one"))
    dispatcher = rig.dispatcher(siren=notifier)
    for error in (NotifierError("one"), NotifierError("one"), NotifierError("two"), None, None):
        notifier.error = error
        dispatcher.dispatch(make_alert())
        await soon(dispatcher.idle())
    assert rig.faults == [("siren", "one"), ("siren", "two"), ("siren", None)]


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("error", "told"),
    [
        (ValueError("odd"), "ValueError: odd"),
        (TimeoutError("mine"), "TimeoutError: mine"),
        (asyncio.CancelledError(), "RuntimeError: the work cancelled itself"),
    ],
)
async def test_an_error_of_any_type_stays_in_its_lane(
    rig: Rig, error: BaseException, told: str
) -> None:
    """A plug-in that breaks its contract has failed, and is called again next time."""
    notifier = FailingNotifier(error)
    dispatcher = rig.dispatcher(siren=notifier)
    dispatcher.dispatch(make_alert())
    await soon(dispatcher.idle())
    dispatcher.dispatch(ACKNOWLEDGED)
    await soon(dispatcher.idle())
    assert rig.faults == [("siren", told)]
    assert notifier.alerts == [make_alert(), ACKNOWLEDGED]


@pytest.mark.asyncio
async def test_a_fault_in_the_listener_does_not_end_the_lane() -> None:
    """The next alert is still sent."""
    notifier = FailingNotifier()

    def listener(_name: str, _text: str | None) -> None:
        raise RuntimeError("listener")

    dispatcher = Dispatcher([Outlet(name="siren", notifier=notifier)], on_fault=listener)
    dispatcher.dispatch(make_alert())
    await soon(dispatcher.idle())
    dispatcher.dispatch(ACKNOWLEDGED)
    await soon(dispatcher.idle())
    assert notifier.alerts == [make_alert(), ACKNOWLEDGED]
    await dispatcher.close()


@pytest.mark.asyncio
async def test_a_notifier_is_not_told_of_its_own_failure(rig: Rig) -> None:
    """The others are."""
    siren, horn = RecordingNotifier(), RecordingNotifier()
    dispatcher = rig.dispatcher(siren=siren, horn=horn)
    failed = make_alert(name="notifier_failed", instance="siren")
    dispatcher.dispatch(failed)
    await soon(dispatcher.idle())
    assert siren.alerts == []
    assert horn.alerts == [failed]


@pytest.mark.asyncio
async def test_the_end_of_an_alert_reaches_who_was_sent_its_raising(rig: Rig) -> None:
    """Also when its priority has sunk below the owner's limit meanwhile."""
    siren = RecordingNotifier()
    dispatcher = rig.dispatcher(at_least=Priority.ALARM, siren=siren)
    sunk = make_alert(priority=Priority.CAUTION, state=AlertState.NORMAL)
    for alert in (make_alert(name="other", priority=Priority.WARNING), make_alert(), sunk):
        dispatcher.dispatch(alert)
        await soon(dispatcher.idle())
    assert siren.alerts == [make_alert(), sunk]


@pytest.mark.asyncio
async def test_a_failed_alert_is_tried_again_ever_more_slowly_until_it_gets_through(
    rig: Rig,
) -> None:
    """Nobody must raise a new alert for a connection that has come back."""
    notifier = FailingNotifier()
    dispatcher = rig.dispatcher(siren=notifier)
    dispatcher.dispatch(make_alert())
    for tries, wait_s in enumerate((*RETRY_AFTER_S, RETRY_AFTER_S[-1]), start=1):
        await rig.time.until_sleeping(wait_s)
        assert notifier.alerts == [make_alert()] * tries
        await rig.time.advance(wait_s - 0.1)
        assert len(notifier.alerts) == tries
        if wait_s == RETRY_AFTER_S[-1] and tries > len(RETRY_AFTER_S):
            notifier.error = None
        await rig.time.advance(0.1)
    await soon(dispatcher.idle())
    assert rig.faults == [("siren", "It is broken. Mend it."), ("siren", None)]
    await rig.time.advance(10_000.0)
    assert notifier.alerts == [make_alert()] * (len(RETRY_AFTER_S) + 2)


@pytest.mark.asyncio
async def test_after_a_success_the_waits_begin_anew(rig: Rig) -> None:
    """An old fault does not make a new one wait longer."""
    notifier = FailingNotifier()
    dispatcher = rig.dispatcher(siren=notifier)
    dispatcher.dispatch(make_alert())
    await rig.time.until_sleeping(RETRY_AFTER_S[0])
    await rig.time.advance(RETRY_AFTER_S[0])
    await rig.time.until_sleeping(RETRY_AFTER_S[1])
    error, notifier.error = notifier.error, None
    dispatcher.dispatch(ACKNOWLEDGED)
    await soon(dispatcher.idle())
    notifier.error = error
    dispatcher.dispatch(OVER)
    await rig.time.until_sleeping(RETRY_AFTER_S[0])


@pytest.mark.asyncio
async def test_when_one_alert_gets_through_the_failed_ones_follow_at_once(rig: Rig) -> None:
    """What works again need not be waited for."""
    notifier = FailingNotifier()
    dispatcher = rig.dispatcher(siren=notifier)
    dispatcher.dispatch(make_alert())
    await soon(dispatcher.idle())
    notifier.error = None
    other = make_alert(name="fix_lost", priority=Priority.WARNING)
    dispatcher.dispatch(other)
    await soon(dispatcher.idle())
    assert notifier.alerts == [make_alert(), other, make_alert()]


@pytest.mark.asyncio
async def test_what_does_not_fit_the_queue_is_dropped_and_logged(
    rig: Rig, caplog: pytest.LogCaptureFixture
) -> None:
    """The log names the notifier and the alert."""
    hanging = HangingNotifier()
    dispatcher = rig.dispatcher(queue_limit=1, hanging=hanging)
    dispatcher.dispatch(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    for name in ("fix_poor", "fix_frozen"):
        dispatcher.dispatch(make_alert(name=name, priority=Priority.CAUTION, text=name))
    assert "dropped: CAUTION. fix_poor." in caplog.text
    assert "hanging" in caplog.text


@pytest.mark.asyncio
async def test_closing_sends_what_is_queued_and_closes_every_notifier(rig: Rig) -> None:
    """The last words of the daemon are heard; afterwards nothing is sent."""
    notifier = RecordingNotifier()
    dispatcher = rig.dispatcher(one=notifier)
    dispatcher.dispatch(make_alert())
    await soon(dispatcher.close())
    dispatcher.dispatch(OVER)
    await rig.time.advance(0.0)
    assert notifier.alerts == [make_alert()]
    assert notifier.closed
    await soon(dispatcher.close())


@pytest.mark.asyncio
async def test_closing_lets_a_slow_notifier_finish_its_queue(rig: Rig) -> None:
    """Within the limit, what waits behind a slow call is sent as well."""
    slow = HangingNotifier()
    dispatcher = rig.dispatcher(slow=slow)
    dispatcher.dispatch(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    dispatcher.dispatch(OVER)
    closing = asyncio.create_task(dispatcher.close())
    await rig.time.until_sleeping(5.0)
    await rig.time.advance(4.9)
    slow.free.set()
    await soon(closing)
    assert slow.alerts == [make_alert(), OVER]
    assert slow.closed


@pytest.mark.asyncio
async def test_closing_waits_neither_for_a_hanging_call_nor_a_hanging_close(
    rig: Rig, caplog: pytest.LogCaptureFixture
) -> None:
    """The others are closed all the same, and the log tells which did not."""

    class Stuck(HangingNotifier):
        async def close(self) -> None:
            await asyncio.Event().wait()

    class Raising(RecordingNotifier):
        async def close(self) -> None:
            raise ValueError("odd")

    good = RecordingNotifier()
    dispatcher = rig.dispatcher(stuck=Stuck(), raising=Raising(), good=good)
    dispatcher.dispatch(make_alert())
    closing = asyncio.create_task(dispatcher.close())
    for _ in range(2):
        await rig.time.until_sleeping(5.0)
        await rig.time.advance(5.0)
    await soon(closing)
    assert good.closed
    assert "Notifier stuck did not close" in caplog.text
    assert "Notifier raising did not close" in caplog.text
    assert len(asyncio.all_tasks()) == 1


@pytest.mark.asyncio
async def test_a_notifier_that_is_no_coroutine_has_failed(rig: Rig) -> None:
    """A plain function in place of an async one is told as the plug-in's fault."""

    class Plain:
        def notify(self, alert: Alert) -> None:
            pass

    dispatcher = rig.dispatcher(plain=Plain())  # type: ignore[arg-type]
    dispatcher.dispatch(make_alert())
    await soon(dispatcher.idle())
    assert rig.faults
    assert rig.faults[0][1].startswith("TypeError")  # type: ignore[union-attr]
