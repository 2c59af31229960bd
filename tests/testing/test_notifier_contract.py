"""The contract finds every notifier that breaks it."""
# ruff: noqa: ARG002 - what a notifier with one fault is given does not matter

import asyncio
import inspect
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.errors import NotifierError
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.testing import FailingNotifier, NotifierContract, RecordingNotifier


class TestRecordingNotifierKeepsTheContract(NotifierContract):
    """The fake is a proper notifier itself."""

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build it."""
        return RecordingNotifier()

    def make_broken_notifier(self, context: NotifierContext) -> Notifier:
        """Build the failing fake."""
        return FailingNotifier()


class Plain:
    """Its notify is no coroutine."""

    def notify(self, alert: Alert) -> None:
        """Do nothing."""


class Talkative:
    """Returns what it should not."""

    async def notify(self, alert: Alert) -> bool:
        """Return something."""
        return True


class Picky:
    """Refuses what it was not written for."""

    def __init__(self, refuses: Callable[[Alert], object]) -> None:
        self._refuses = refuses

    async def notify(self, alert: Alert) -> None:
        """Raise for some alerts."""
        if self._refuses(alert):
            raise NotifierError("not this one")


class Forgetful:
    """Knows an alert's end only after its beginning, and an alert only once."""

    def __init__(self) -> None:
        self._open: set[tuple[str, int]] = set()

    async def notify(self, alert: Alert) -> None:
        """Raise KeyError as dictionaries do."""
        if alert.state is AlertState.NORMAL:
            self._open.remove((alert.name, alert.number))
        elif (alert.name, alert.number) in self._open and alert.priority is Priority.ALARM:
            raise KeyError(alert.name)
        else:
            self._open.add((alert.name, alert.number))


class Blocking:
    """Stops everything else."""

    async def notify(self, alert: Alert) -> None:
        """Block for a moment."""
        time.sleep(0.05)  # noqa: ASYNC251 - the fault to be found


class Leaking:
    """Leaves a task behind."""

    async def notify(self, alert: Alert) -> None:
        """Start something."""
        self.task = asyncio.create_task(asyncio.Event().wait())

    async def close(self) -> None:
        """Forget to stop it."""


class ClosesOnce:
    """Cannot be closed twice."""

    def __init__(self) -> None:
        self._open = True

    async def notify(self, alert: Alert) -> None:
        """Do nothing."""

    async def close(self) -> None:
        """Fail the second time."""
        if not self._open:
            raise ValueError("already closed")
        self._open = False


class Mute:
    """Its check says nothing."""

    async def notify(self, alert: Alert) -> None:
        """Do nothing."""

    async def check(self) -> str:
        """Say nothing."""
        return " "


BAD: list[tuple[str, Callable[[], object], str]] = [
    ("test_notify_is_a_coroutine", Plain, "must be an async function"),
    ("test_notify_is_a_coroutine", Talkative, "must return nothing"),
    (
        "test_every_state_at_every_priority_is_accepted",
        lambda: Picky(lambda alert: alert.state is AlertState.SILENCED),
        "not this one",
    ),
    (
        "test_a_whole_life_is_accepted",
        lambda: Picky(lambda alert: alert.number == 2),
        "not this one",
    ),
    ("test_the_same_alert_may_come_twice", Forgetful, "drag"),
    ("test_an_end_without_a_beginning_is_accepted", Forgetful, "drag"),
    (
        "test_figures_may_be_known_unknown_or_no_numbers",
        lambda: Picky(lambda alert: alert.moved_m is not None and round(alert.moved_m) < 0),
        "cannot convert float NaN",
    ),
    (
        "test_figures_may_be_known_unknown_or_no_numbers",
        lambda: Picky(lambda alert: alert.anchor),
        "not this one",
    ),
    (
        "test_any_text_is_accepted",
        lambda: Picky(lambda alert: alert.text.encode("ascii") == b"!"),
        "can't encode",
    ),
    ("test_notify_leaves_the_event_loop_free", Blocking, "stopped the event loop"),
    (
        "test_closing_twice_is_harmless_and_leaves_nothing_running",
        Leaking,
        "still running after close",
    ),
    (
        "test_closing_twice_is_harmless_and_leaves_nothing_running",
        ClosesOnce,
        "already closed",
    ),
    ("test_a_check_says_what_it_proved", Mute, "must say what it proved"),
    ("test_a_broken_device_is_told_with_a_remedy", RecordingNotifier, "must raise NotifierError"),
    (
        "test_a_broken_device_is_told_with_a_remedy",
        lambda: FailingNotifier(NotifierError("bare")),
        "what the owner can do",
    ),
    (
        "test_a_broken_device_is_told_with_a_remedy",
        lambda: FailingNotifier(ValueError("odd")),
        "odd",
    ),
]


def contract_for(make: Callable[[], object]) -> NotifierContract:
    """Make the contract's tests for what ``make`` builds."""

    class Contract(NotifierContract):
        blocks_at_most_s = 0.02

        def make_notifier(self, context: NotifierContext) -> Notifier:
            return make()  # type: ignore[return-value]

        make_broken_notifier = make_notifier

    return Contract()


@pytest.mark.parametrize(("test", "make", "told"), BAD)
def test_a_breach_is_found(
    test: str, make: Callable[[], object], told: str, tmp_path: Path
) -> None:
    """Each test of the contract fails, for its own reason, for a notifier that breaks it."""
    with pytest.raises(Exception, match=told):
        getattr(contract_for(make), test)(tmp_path)


def test_every_test_of_the_contract_has_been_seen_to_fail() -> None:
    """The table above is complete."""
    tests = {n for n, _ in inspect.getmembers(NotifierContract) if n.startswith("test_")}
    assert tests == {name for name, _, _ in BAD}


@pytest.mark.parametrize(
    "test", ["test_a_check_says_what_it_proved", "test_a_broken_device_is_told_with_a_remedy"]
)
def test_what_a_notifier_does_not_have_is_skipped(test: str, tmp_path: Path) -> None:
    """A check and a broken device are optional."""

    class Contract(NotifierContract):
        def make_notifier(self, context: NotifierContext) -> Notifier:
            return RecordingNotifier()

    with pytest.raises(pytest.skip.Exception):
        getattr(Contract(), test)(tmp_path)


def test_a_notifier_that_hangs_does_not_hang_the_tests(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The contract loses patience."""

    class Hanging:
        async def notify(self, alert: Alert) -> None:
            await asyncio.Event().wait()

    monkeypatch.setattr("driftlead.testing.notifier_contract._LIMIT_S", 0.01)
    with pytest.raises(TimeoutError):
        contract_for(Hanging).test_the_same_alert_may_come_twice(tmp_path)
