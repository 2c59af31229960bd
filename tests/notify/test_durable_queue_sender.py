"""Attempts, waits and restarts of a queue whose receiver is a pretence."""

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.errors import NotifierError
from driftlead.notify.durable_queue import QueuedAlert
from driftlead.notify.durable_queue_file import QueueFile
from driftlead.notify.durable_queue_sender import (
    CLOSE_GRACE_S,
    NotTakenError,
    QueueSender,
    Troubles,
    TryAgainError,
    queue_path,
)
from driftlead.testing import FakeTime, make_alert, make_context

LIMIT_S = 20.0
DRAG = make_alert()
WARNING = make_alert(name="fix_lost", priority=Priority.WARNING)


def fails(after_s: float = 0.0) -> TryAgainError:
    """Make a failure that may pass."""
    return TryAgainError("It is away.", remedy="Wait.", after_s=after_s)


class Harbour:
    """A receiver that answers each attempt as it is told, and a queue that sends to it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.time = FakeTime()
        self.got: list[str] = []
        self.answers: list[Exception | Awaitable[None]] = []
        self.reports: list[str | None] = []
        self.always: Exception | None = None

    async def attempt(self, entry: QueuedAlert) -> None:
        """Take an entry, or fail as told."""
        self.got.append(entry.idempotency_key)
        answer = self.answers.pop(0) if self.answers else self.always
        if isinstance(answer, Exception):
            raise answer
        if answer is not None:
            await answer

    @asynccontextmanager
    async def open(self, **options: Any) -> Any:
        """Run a queue."""
        context = make_context(
            self.folder,
            clock=self.time.clock,
            sleep=self.time.sleep,
            report=self.reports.append,
        )
        settings: dict[str, Any] = {"fault_after_s": 60.0, "draw": lambda: 1.0}
        sender = QueueSender(
            context, self.attempt, troubles=Troubles(context.report), **(settings | options)
        )
        try:
            yield sender
        finally:
            await sender.close()

    @property
    def on_disk(self) -> list[str]:
        """What the next run would find."""
        file = QueueFile(queue_path(make_context(self.folder)))
        try:
            return [entry.idempotency_key for entry in file.load()]
        finally:
            file.close()


@pytest.fixture
def harbour(tmp_path: Path) -> Harbour:
    """Give a receiver that takes everything."""
    return Harbour(tmp_path)


async def put(sender: QueueSender, key: str, alert: Alert = DRAG) -> None:
    """Queue an alert under a key."""
    await sender.put(alert, idempotency_key=key, timestamp="0", body=b"{}")


async def at_rest(sender: QueueSender) -> None:
    """Wait until nothing is being sent."""
    async with asyncio.timeout(LIMIT_S):
        await sender._at_rest.wait()


@pytest.mark.asyncio
async def test_what_was_taken_is_on_the_disk_and_what_was_sent_is_not(harbour: Harbour) -> None:
    """Between the two lies the network."""
    sent = asyncio.Event()
    harbour.answers = [wait_for(sent)]
    async with harbour.open() as sender:
        await put(sender, "a")
        assert harbour.on_disk == ["a"]
        sent.set()
        await at_rest(sender)
        assert harbour.got == ["a"]
        assert sender.waiting == ()
    assert harbour.on_disk == []
    assert harbour.reports == []


async def wait_for(event: asyncio.Event) -> None:
    """Take as long as a test wants."""
    await event.wait()


@pytest.mark.asyncio
async def test_waits_double_up_to_half_a_minute_and_go_on_for_ever(harbour: Harbour) -> None:
    """An alert has no last attempt."""
    harbour.always = fails()
    async with harbour.open() as sender:
        await put(sender, "a")
        for wait_s in (1.0, 2.0, 4.0, 8.0, 16.0, 30.0, 30.0, 30.0):
            await harbour.time.until_sleeping(wait_s)
            await harbour.time.advance(wait_s)
        await harbour.time.until_sleeping(30.0)
        assert harbour.got == ["a"] * 9
    assert harbour.on_disk == ["a"]


@pytest.mark.asyncio
@pytest.mark.parametrize(("drawn", "wait_s"), [(0.0, 0.5), (0.5, 0.75), (1.0, 1.0)])
async def test_half_of_each_wait_is_drawn_by_lot(
    harbour: Harbour, drawn: float, wait_s: float
) -> None:
    """So that many boats do not come back in the same moment."""
    harbour.answers = [fails()]
    async with harbour.open(draw=lambda: drawn) as sender:
        await put(sender, "a")
        await harbour.time.until_sleeping(wait_s)
        await harbour.time.advance(wait_s)
        await at_rest(sender)
    assert harbour.got == ["a", "a"]


@pytest.mark.asyncio
async def test_success_makes_the_next_wait_short_again(harbour: Harbour) -> None:
    """A flapping receiver is tried soon."""
    async with harbour.open() as sender:
        for key in ("a", "b"):
            harbour.answers = [fails(), fails()]
            await put(sender, key)
            for wait_s in (1.0, 2.0):
                await harbour.time.until_sleeping(wait_s)
                await harbour.time.advance(wait_s)
            await at_rest(sender)
    assert harbour.got == ["a"] * 3 + ["b"] * 3


@pytest.mark.asyncio
async def test_a_new_alert_is_tried_at_once_the_most_urgent_first(harbour: Harbour) -> None:
    """It does not wait out the failure of an older one."""
    harbour.answers = [fails(), fails()]
    async with harbour.open() as sender:
        await put(sender, "warning", WARNING)
        await harbour.time.until_sleeping(1.0)
        await put(sender, "drag")
        await harbour.time.until_sleeping(2.0)
        assert harbour.got == ["warning", "drag"]
        await harbour.time.advance(2.0)
        await at_rest(sender)
    assert harbour.got == ["warning", "drag", "drag", "warning"]


@pytest.mark.asyncio
@pytest.mark.parametrize(("wish_s", "wait_s"), [(45.0, 45.0), (86_400.0, 300.0)])
async def test_the_receivers_wish_is_obeyed_up_to_five_minutes(
    harbour: Harbour, wish_s: float, wait_s: float
) -> None:
    """Also by an alert that comes meanwhile: the receiver has said that it cannot."""
    harbour.answers = [fails(after_s=wish_s)]
    async with harbour.open() as sender:
        await put(sender, "warning", WARNING)
        await harbour.time.until_sleeping(wait_s)
        await put(sender, "drag")
        await harbour.time.advance(wait_s - 1.0)
        assert harbour.got == ["warning"]
        await harbour.time.advance(1.0)
        await at_rest(sender)
    assert harbour.got == ["warning", "drag", "warning"]


@pytest.mark.asyncio
async def test_failing_for_a_minute_is_a_fault_until_something_gets_through(
    harbour: Harbour,
) -> None:
    """A short break wakes nobody; the text stays the same, so that it is told once."""
    harbour.always = fails()
    async with harbour.open() as sender:
        await put(sender, "a")
        for wait_s in (1.0, 2.0, 4.0, 8.0, 16.0):
            await harbour.time.until_sleeping(wait_s)
            await harbour.time.advance(wait_s)
        assert harbour.reports == []
        for _ in range(3):
            await harbour.time.until_sleeping(30.0)
            await harbour.time.advance(30.0)
        await harbour.time.until_sleeping(30.0)
        said = "It is away. What waits is kept and sent as soon as it can be. Wait."
        assert harbour.reports == [said]
        harbour.always = None
        await harbour.time.advance(30.0)
        await at_rest(sender)
    assert harbour.reports == [said, None]


@pytest.mark.asyncio
async def test_a_refusal_for_good_is_told_at_once_and_holds_nothing_up(
    harbour: Harbour, caplog: pytest.LogCaptureFixture
) -> None:
    """What was refused is in the log, and the fault stands until something gets through."""
    harbour.answers = [NotTakenError("It says no.", remedy="Ask why."), fails()]
    async with harbour.open() as sender:
        await put(sender, "drag")
        await put(sender, "warning", WARNING)
        await harbour.time.until_sleeping(1.0)
        assert harbour.got == ["drag", "warning"]
        assert harbour.reports == ["It says no. Ask why."]
        assert "given up: alarm drag is active_unacknowledged" in caplog.text
        await harbour.time.advance(1.0)
        await at_rest(sender)
    assert harbour.reports == ["It says no. Ask why.", None]
    assert harbour.on_disk == []


@pytest.mark.asyncio
async def test_an_attempt_that_breaks_is_a_failure_like_others(
    harbour: Harbour, caplog: pytest.LogCaptureFixture
) -> None:
    """The queue outlives faults of ours, and the log says where."""
    harbour.answers = [RuntimeError("oops")]
    async with harbour.open(fault_after_s=0.001) as sender:
        await put(sender, "a")
        await harbour.time.until_sleeping(1.0)
        harbour.answers = [RuntimeError("oops")]
        await harbour.time.advance(1.0)
        await harbour.time.until_sleeping(2.0)
        assert "RuntimeError" in str(harbour.reports[0])
        await harbour.time.advance(2.0)
        await at_rest(sender)
    assert harbour.got == ["a"] * 3
    assert "oops" in caplog.text


@pytest.mark.asyncio
async def test_a_restart_sends_what_the_last_run_could_not(harbour: Harbour) -> None:
    """At once, without waiting for a new alert."""
    harbour.always = fails()
    async with harbour.open() as sender:
        await put(sender, "warning", WARNING)
        await put(sender, "drag")
        await at_rest(sender)
    harbour.always = None
    harbour.got.clear()
    async with harbour.open() as sender:
        await at_rest(sender)
    assert harbour.got == ["drag", "warning"]
    assert harbour.on_disk == []


@pytest.mark.asyncio
async def test_closing_lets_what_is_on_its_way_arrive(harbour: Harbour) -> None:
    """The last alert before a stop goes out, if the receiver is quick."""
    sent = asyncio.Event()
    harbour.answers = [wait_for(sent)]
    async with harbour.open() as sender:
        await put(sender, "a")
        closing = asyncio.create_task(sender.close())
        await harbour.time.until_sleeping(CLOSE_GRACE_S)
        sent.set()
        await closing
    assert harbour.got == ["a"]
    assert harbour.on_disk == []


@pytest.mark.asyncio
async def test_closing_does_not_wait_long_for_a_receiver_that_hangs(harbour: Harbour) -> None:
    """The alert stays on the disk."""
    harbour.answers = [wait_for(asyncio.Event())]
    async with harbour.open() as sender:
        await put(sender, "a")
        closing = asyncio.create_task(sender.close())
        await harbour.time.until_sleeping(CLOSE_GRACE_S)
        await harbour.time.advance(CLOSE_GRACE_S)
        await closing
    assert harbour.on_disk == ["a"]


@pytest.mark.asyncio
async def test_closing_does_not_wait_for_a_receiver_that_asked_for_time(harbour: Harbour) -> None:
    """Not even for an alert that came meanwhile: it stays on the disk."""
    harbour.answers = [fails(after_s=60.0)]
    async with harbour.open() as sender:
        await put(sender, "warning", WARNING)
        await harbour.time.until_sleeping(60.0)
        await put(sender, "drag")
        async with asyncio.timeout(LIMIT_S):
            await sender.close()
    assert harbour.got == ["warning"]
    assert harbour.on_disk == ["warning", "drag"]


@pytest.fixture
def no_disk(harbour: Harbour) -> Callable[[], None]:
    """Take the folder of the queue away; calling what this gives brings it back."""
    harbour.folder = harbour.folder / "mount"

    def bring_back() -> None:
        harbour.folder.mkdir()

    return bring_back


@pytest.mark.asyncio
async def test_without_a_disk_alerts_are_sent_all_the_same(
    harbour: Harbour, no_disk: Callable[[], None]
) -> None:
    """It is a fault, but no reason to keep silent."""
    async with harbour.open() as sender:
        await put(sender, "a")
        assert harbour.got == ["a"]
        (told,) = harbour.reports
        assert "They are sent, but would not outlive a restart. Check the disk" in str(told)
        no_disk()
        await put(sender, "b", WARNING)
        await at_rest(sender)
    assert harbour.got == ["a", "b"]
    assert harbour.reports == [told, None]


@pytest.mark.asyncio
async def test_neither_sent_nor_on_the_disk_is_an_error(
    harbour: Harbour, no_disk: Callable[[], None]
) -> None:
    """Then nobody has it, and the dispatcher must know; tried further it is all the same."""
    harbour.always = fails()
    async with harbour.open() as sender:
        with pytest.raises(NotifierError, match="Nor is it safe on the disk") as caught:
            await put(sender, "a")
        assert caught.value.remedy.startswith("Wait. Check the disk")
        harbour.always = None
        no_disk()
        await put(sender, "a")
        await at_rest(sender)
    assert harbour.got.count("a") >= 2
    assert harbour.on_disk == []


@pytest.mark.asyncio
async def test_a_disk_that_comes_late_gives_what_the_last_run_left(harbour: Harbour) -> None:
    """It was merely mounted after driftlead was started."""
    harbour.always = fails()
    async with harbour.open() as sender:
        await put(sender, "old", make_alert(name="earlier"))
        await at_rest(sender)
    folder, away = harbour.folder, harbour.folder.with_name("away")
    folder.rename(away)
    async with harbour.open() as sender:
        with pytest.raises(NotifierError):
            await put(sender, "new")
        away.rename(folder)
        harbour.always = None
        await put(sender, "newer", make_alert(state=AlertState.NORMAL))
        await at_rest(sender)
    assert sorted(set(harbour.got)) == ["new", "newer", "old"]
    assert harbour.on_disk == []


@pytest.mark.asyncio
async def test_what_gives_way_is_logged(harbour: Harbour, caplog: pytest.LogCaptureFixture) -> None:
    """With its priority, name and state."""
    harbour.always = fails()
    async with harbour.open(limit=1) as sender:
        await put(sender, "warning", WARNING)
        await put(sender, "drag")
        await at_rest(sender)
    assert "dropped: warning fix_lost is active_unacknowledged" in caplog.text
    assert harbour.on_disk == ["drag"]


def test_troubles_of_several_parts_do_not_hide_each_other() -> None:
    """One that ends brings the other to light again; what is no news is not repeated."""
    told: list[str | None] = []
    troubles = Troubles(told.append)
    troubles.say("sending", None)
    troubles.say("sending", "S")
    troubles.say("disk", "D")
    troubles.say("disk", "D")
    troubles.say("disk", None)
    troubles.say("sending", None)
    assert told == ["S", "D", "S", None]


@pytest.mark.asyncio
async def test_it_says_of_an_alert_whether_it_still_waits(harbour: Harbour) -> None:
    """A drill asks, to tell what was sent from what was only taken."""
    harbour.always = fails()
    async with harbour.open() as sender:
        await put(sender, "drag")
        await at_rest(sender)
        assert sender.has(make_alert())
        assert not sender.has(make_alert(name="another"))
    harbour.always = None
    async with harbour.open() as sender:
        await at_rest(sender)
        assert not sender.has(make_alert())
