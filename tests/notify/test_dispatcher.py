"""Handing every change to every notifier without waiting for one."""

import asyncio
from collections.abc import AsyncIterator, Awaitable

import pytest
import pytest_asyncio

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call, CallReason
from driftlead.errors import NotifierError
from driftlead.notify.base import Notifier
from driftlead.notify.carried import Carried
from driftlead.notify.dispatcher import Dispatcher
from driftlead.notify.lane import ALLS_WELL_LIMIT_S, DEFAULT_TIMEOUT_S, RETRY_AFTER_S, Outlet
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


def call(alert: Alert, *outlets: str, reason: CallReason = CallReason.FIRST) -> Call:
    """Call these notifiers."""
    return Call(
        alert=alert, outlets=outlets, reason=reason, step=0, loudness=0, mono_s=alert.mono_s
    )


class ToAll(Dispatcher):
    """One that can be told to call every notifier it has."""

    def tell(self, alert: Alert, *, reason: CallReason = CallReason.FIRST) -> None:
        """Call them all."""
        self.dispatch(call(alert, *self._lanes, reason=reason))


class Rig:
    """A dispatcher with two notifiers, on a fake clock."""

    def __init__(self) -> None:
        self.time = FakeTime()
        self.faults: list[tuple[str, str | None]] = []
        self.carried: list[str] = []
        self._made: list[Dispatcher] = []

    def dispatcher(
        self, *, queue_limit: int = 64, carried: Carried | None = None, **named: Notifier
    ) -> ToAll:
        """Make one; it is closed after the test."""
        made = ToAll(
            [Outlet(name=n, notifier=o) for n, o in named.items()],
            on_fault=lambda name, text: self.faults.append((name, text)),
            sleep=self.time.sleep,
            queue_limit=queue_limit,
            carried=carried,
            on_carried=lambda known: self.carried.append(known.to_json()),
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
        dispatcher.tell(alert)
        await soon(dispatcher.idle())
    assert first.alerts == second.alerts == [make_alert(), ACKNOWLEDGED, OVER]
    assert rig.faults == []


@pytest.mark.asyncio
async def test_dispatch_returns_before_anything_is_sent(rig: Rig) -> None:
    """The detector never waits for a notifier."""
    notifier = RecordingNotifier()
    rig.dispatcher(one=notifier).tell(make_alert())
    assert notifier.alerts == []


@pytest.mark.asyncio
async def test_a_hanging_and_a_raising_notifier_do_not_delay_the_others(rig: Rig) -> None:
    """Each has a lane of its own."""
    hanging, good = HangingNotifier(), RecordingNotifier()
    dispatcher = rig.dispatcher(hanging=hanging, raising=FailingNotifier(), good=good)
    dispatcher.tell(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    dispatcher.tell(ACKNOWLEDGED)
    await rig.time.advance(0.0)
    assert good.alerts[-1] == ACKNOWLEDGED
    assert hanging.alerts == [make_alert()]
    assert rig.faults == [("raising", "It is broken. Mend it.")]


@pytest.mark.asyncio
async def test_a_call_that_takes_too_long_is_cancelled_and_counts_as_failed(rig: Rig) -> None:
    """After the default limit, and not before."""
    hanging = HangingNotifier()
    dispatcher = rig.dispatcher(hanging=hanging)
    dispatcher.tell(make_alert())
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
    dispatcher.tell(make_alert())
    await rig.time.until_sleeping(90.0)
    await rig.time.advance(90.0)
    await soon(dispatcher.idle())
    assert rig.faults == [("patient", "It did not finish within 90 s.")]


@pytest.mark.asyncio
async def test_while_one_is_being_sent_newer_states_replace_each_other(rig: Rig) -> None:
    """A notifier that comes back from a long call hears only the newest."""
    hanging = HangingNotifier()
    dispatcher = rig.dispatcher(hanging=hanging)
    dispatcher.tell(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    dispatcher.tell(make_alert(moved_m=30.0))
    dispatcher.tell(ACKNOWLEDGED)
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
        dispatcher.tell(make_alert())
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
    dispatcher.tell(make_alert())
    await soon(dispatcher.idle())
    dispatcher.tell(ACKNOWLEDGED)
    await soon(dispatcher.idle())
    assert rig.faults == [("siren", told)]
    assert notifier.alerts == [make_alert(), ACKNOWLEDGED]


@pytest.mark.asyncio
async def test_a_fault_in_the_listener_does_not_end_the_lane() -> None:
    """The next alert is still sent."""
    notifier = FailingNotifier()

    def listener(_name: str, _text: str | None) -> None:
        raise RuntimeError("listener")

    dispatcher = ToAll([Outlet(name="siren", notifier=notifier)], on_fault=listener)
    dispatcher.tell(make_alert())
    await soon(dispatcher.idle())
    dispatcher.tell(ACKNOWLEDGED)
    await soon(dispatcher.idle())
    assert notifier.alerts == [make_alert(), ACKNOWLEDGED]
    await dispatcher.close()


@pytest.mark.asyncio
async def test_a_notifier_is_not_told_of_its_own_failure(rig: Rig) -> None:
    """The others are."""
    siren, horn = RecordingNotifier(), RecordingNotifier()
    dispatcher = rig.dispatcher(siren=siren, horn=horn)
    failed = make_alert(name="notifier_failed", instance="siren")
    dispatcher.tell(failed)
    await soon(dispatcher.idle())
    assert siren.alerts == []
    assert horn.alerts == [failed]


@pytest.mark.asyncio
async def test_a_failed_alert_is_tried_again_ever_more_slowly_until_it_gets_through(
    rig: Rig,
) -> None:
    """Nobody must raise a new alert for a connection that has come back."""
    notifier = FailingNotifier()
    dispatcher = rig.dispatcher(siren=notifier)
    dispatcher.tell(make_alert())
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
    dispatcher.tell(make_alert())
    await rig.time.until_sleeping(RETRY_AFTER_S[0])
    await rig.time.advance(RETRY_AFTER_S[0])
    await rig.time.until_sleeping(RETRY_AFTER_S[1])
    error, notifier.error = notifier.error, None
    dispatcher.tell(ACKNOWLEDGED)
    await soon(dispatcher.idle())
    notifier.error = error
    dispatcher.tell(OVER)
    await rig.time.until_sleeping(RETRY_AFTER_S[0])


@pytest.mark.asyncio
async def test_when_one_alert_gets_through_the_failed_ones_follow_at_once(rig: Rig) -> None:
    """What works again need not be waited for."""
    notifier = FailingNotifier()
    dispatcher = rig.dispatcher(siren=notifier)
    dispatcher.tell(make_alert())
    await soon(dispatcher.idle())
    notifier.error = None
    other = make_alert(name="fix_lost", priority=Priority.WARNING)
    dispatcher.tell(other)
    await soon(dispatcher.idle())
    assert notifier.alerts == [make_alert(), other, make_alert()]


@pytest.mark.asyncio
async def test_what_does_not_fit_the_queue_is_dropped_and_logged(
    rig: Rig, caplog: pytest.LogCaptureFixture
) -> None:
    """The log names the notifier and the alert."""
    hanging = HangingNotifier()
    dispatcher = rig.dispatcher(queue_limit=1, hanging=hanging)
    dispatcher.tell(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    for name in ("fix_poor", "fix_frozen"):
        dispatcher.tell(make_alert(name=name, priority=Priority.CAUTION, text=name))
    assert "dropped: CAUTION. fix_poor." in caplog.text
    assert "hanging" in caplog.text


@pytest.mark.asyncio
async def test_closing_sends_what_is_queued_and_closes_every_notifier(rig: Rig) -> None:
    """The last words of the daemon are heard; afterwards nothing is sent."""
    notifier = RecordingNotifier()
    dispatcher = rig.dispatcher(one=notifier)
    dispatcher.tell(make_alert())
    await soon(dispatcher.close())
    dispatcher.tell(OVER)
    await rig.time.advance(0.0)
    assert notifier.alerts == [make_alert()]
    assert notifier.closed
    await soon(dispatcher.close())


@pytest.mark.asyncio
async def test_closing_lets_a_slow_notifier_finish_its_queue(rig: Rig) -> None:
    """Within the limit, what waits behind a slow call is sent as well."""
    slow = HangingNotifier()
    dispatcher = rig.dispatcher(slow=slow)
    dispatcher.tell(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    dispatcher.tell(OVER)
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
    dispatcher.tell(make_alert())
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
    dispatcher.tell(make_alert())
    await soon(dispatcher.idle())
    assert rig.faults
    assert rig.faults[0][1].startswith("TypeError")  # type: ignore[union-attr]


class Loud(RecordingNotifier):
    """One that hears how loudly and why."""

    def __init__(self) -> None:
        super().__init__()
        self.calls: list[Call] = []

    async def called(self, call: Call) -> None:
        """Keep the call."""
        self.calls.append(call)


class Lamp(RecordingNotifier):
    """One that shows that all is well."""

    def __init__(self) -> None:
        super().__init__()
        self.ticks: list[AllsWell] = []
        self.error: Exception | None = None

    async def alls_well(self, tick: AllsWell) -> None:
        """Keep the tick, then fail if it is to."""
        self.ticks.append(tick)
        if self.error is not None:
            raise self.error


class Telephone(RecordingNotifier):
    """One whose messages last."""

    lasts = True


TICK = AllsWell(state="riding", sees=True, mono_s=100.0)


@pytest.mark.asyncio
async def test_only_those_named_are_called(rig: Rig) -> None:
    """And a name nobody has is passed over."""
    aft, fore = RecordingNotifier(), RecordingNotifier()
    dispatcher = rig.dispatcher(aft=aft, fore=fore)
    dispatcher.dispatch(call(make_alert(), "fore", "nobody"))
    await soon(dispatcher.idle())
    assert (aft.alerts, fore.alerts) == ([], [make_alert()])
    assert rig.faults == []


@pytest.mark.asyncio
async def test_a_notifier_that_hears_calls_is_told_how_loudly_and_why(rig: Rig) -> None:
    """In place of the plain alert; the others hear nothing of being louder."""
    loud, plain = Loud(), RecordingNotifier()
    dispatcher = rig.dispatcher(loud=loud, plain=plain)
    for reason in (CallReason.FIRST, CallReason.LOUDER, CallReason.AGAIN):
        dispatcher.tell(make_alert(), reason=reason)
        await soon(dispatcher.idle())
    assert [each.reason.value for each in loud.calls] == ["first", "louder", "again"]
    assert loud.alerts == []
    assert plain.alerts == [make_alert()] * 2


@pytest.mark.asyncio
async def test_after_a_restart_a_sounder_sounds_again_what_still_sounds(rig: Rig) -> None:
    """It forgot everything; what is answered it need not know."""
    siren = RecordingNotifier()
    dispatcher = rig.dispatcher(siren=siren)
    for alert in (make_alert(), make_alert(name="fix_lost", state=AlertState.ACTIVE_ACKNOWLEDGED)):
        dispatcher.tell(alert, reason=CallReason.RESUMED)
        await soon(dispatcher.idle())
    assert siren.alerts == [make_alert()]


@pytest.mark.asyncio
async def test_after_a_restart_a_lasting_notifier_is_told_only_what_it_has_not_carried(
    rig: Rig,
) -> None:
    """Nobody's telephone rings twice for one page; what was not sent is sent."""
    telephone = Telephone()
    dispatcher = rig.dispatcher(telephone=telephone)
    dispatcher.tell(make_alert())
    await soon(dispatcher.idle())
    after = Telephone()
    again = rig.dispatcher(telephone=after, carried=Carried.from_json(rig.carried[-1]))
    unsent = make_alert(name="fix_lost", priority=Priority.WARNING)
    for alert in (make_alert(), unsent):
        again.tell(alert, reason=CallReason.RESUMED)
    await soon(again.idle())
    assert after.alerts == [unsent]


@pytest.mark.asyncio
async def test_what_failed_was_not_carried(rig: Rig) -> None:
    """And is told after the restart."""

    class Dead(FailingNotifier):
        lasts = True

    dispatcher = rig.dispatcher(telephone=Dead())
    dispatcher.tell(make_alert())
    await soon(dispatcher.idle())
    assert rig.carried == []


@pytest.mark.asyncio
async def test_alls_well_reaches_those_who_can_show_it(rig: Rig) -> None:
    """The others are left alone."""
    lamp, siren = Lamp(), RecordingNotifier()
    dispatcher = rig.dispatcher(lamp=lamp, siren=siren)
    dispatcher.alls_well(TICK)
    await soon(dispatcher.idle())
    assert lamp.ticks == [TICK]
    assert lamp.alerts == siren.alerts == []
    await soon(dispatcher.close())
    dispatcher.alls_well(TICK)
    await rig.time.advance(0.0)
    assert lamp.ticks == [TICK]


@pytest.mark.asyncio
async def test_whoever_is_busy_leaves_alls_well_out(rig: Rig) -> None:
    """While an alert is being carried, and while one waits to be tried again."""

    class BusyLamp(Lamp):
        def __init__(self) -> None:
            super().__init__()
            self.free = asyncio.Event()

        async def notify(self, alert: Alert) -> None:  # noqa: ARG002
            await self.free.wait()
            raise NotifierError("It is broken.")

    lamp = BusyLamp()
    dispatcher = rig.dispatcher(lamp=lamp)
    dispatcher.tell(make_alert())
    await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    dispatcher.alls_well(TICK)
    lamp.free.set()
    await soon(dispatcher.idle())
    await rig.time.until_sleeping(RETRY_AFTER_S[0])
    dispatcher.alls_well(TICK)
    await rig.time.advance(1.0)
    assert lamp.ticks == []


@pytest.mark.asyncio
async def test_a_lamp_that_cannot_show_it_has_failed_until_it_can_again(rig: Rig) -> None:
    """It is the one sign that quiet is not dead."""
    lamp = Lamp()
    dispatcher = rig.dispatcher(lamp=lamp)
    for error in (None, NotifierError("No pin."), None):
        lamp.error = error
        dispatcher.alls_well(TICK)
        await soon(dispatcher.idle())
    assert rig.faults == [("lamp", "No pin."), ("lamp", None)]


@pytest.mark.asyncio
async def test_a_lamp_that_hangs_is_given_up_on(rig: Rig) -> None:
    """An alert must not wait for it long."""

    class StuckLamp(RecordingNotifier):
        async def alls_well(self, tick: AllsWell) -> None:  # noqa: ARG002
            await asyncio.Event().wait()

    lamp = StuckLamp()
    dispatcher = rig.dispatcher(lamp=lamp)
    dispatcher.alls_well(TICK)
    await rig.time.until_sleeping(ALLS_WELL_LIMIT_S)
    dispatcher.tell(make_alert())
    await rig.time.advance(ALLS_WELL_LIMIT_S)
    await soon(dispatcher.idle())
    assert lamp.alerts == [make_alert()]
    assert rig.faults == [("lamp", "It did not finish within 5 s."), ("lamp", None)]


@pytest.mark.asyncio
async def test_in_a_storm_of_a_thousand_the_alarm_is_the_next_to_be_sent(rig: Rig) -> None:
    """What is being sent cannot be called back; everything else waits behind the alarm."""
    hanging = HangingNotifier()
    dispatcher = rig.dispatcher(hanging=hanging)
    for number in range(1000):
        warning = make_alert(name="x", instance=str(number), priority=Priority.WARNING)
        dispatcher.tell(warning)
        if number == 0:
            await rig.time.until_sleeping(DEFAULT_TIMEOUT_S)
    dispatcher.tell(make_alert())
    hanging.free.set()
    await soon(dispatcher.idle())
    assert hanging.alerts[1] == make_alert()
    assert len(hanging.alerts) == 1 + 64
