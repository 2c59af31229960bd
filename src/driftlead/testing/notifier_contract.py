"""The tests every notifier must pass.

Write ``class TestMine(NotifierContract)`` in a test file, override ``make_notifier`` and run
pytest. The tests are plain functions with an event loop of their own, so no plug-in of pytest is
needed.
"""

import asyncio
import itertools
import math
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

from driftlead.alerts.alert import AlertState, Priority
from driftlead.errors import NotifierError
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.notify.base import Checkable, Closable, Notifier, NotifierContext
from driftlead.testing.alerts import make_alert
from driftlead.testing.notifiers import make_context

_LIMIT_S = 20.0  # real seconds for one test's work; a notifier that hangs must not hang the tests


class NotifierContract:
    """Subclass it, name the subclass ``Test...``, and override ``make_notifier``."""

    blocks_at_most_s: float = 0.5
    """How long ``notify`` may keep the event loop from everything else, in real seconds."""

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build a notifier that works, with a pretended device. Runs inside the event loop."""
        raise NotImplementedError

    def make_broken_notifier(self, context: NotifierContext) -> Notifier | None:  # noqa: ARG002
        """Build one whose device does not work; None if there is no such thing."""
        return None

    def make_context(self, state_dir: Path) -> NotifierContext:
        """Override to give your notifier another context than ``make_context`` of this package."""
        return make_context(state_dir)

    def test_notify_is_a_coroutine(self, tmp_path: Path) -> None:
        """Calling notify gives a coroutine that results in None."""

        async def work(notifier: Notifier) -> None:
            called: object = notifier.notify(make_alert())
            if not asyncio.iscoroutine(called):
                raise AssertionError("notify must be an async function")
            _require(await called is None, "notify must return nothing")

        self._run(tmp_path, work)

    def test_every_state_at_every_priority_is_accepted(self, tmp_path: Path) -> None:
        """Whatever an alert may become, the notifier takes it."""

        async def work(notifier: Notifier) -> None:
            for priority, state in itertools.product(Priority, AlertState):
                await notifier.notify(make_alert(priority=priority, state=state))

        self._run(tmp_path, work)

    def test_a_whole_life_is_accepted(self, tmp_path: Path) -> None:
        """An alert is raised, made more urgent, acknowledged and over; then it comes again."""

        async def work(notifier: Notifier) -> None:
            active = AlertState.ACTIVE_UNACKNOWLEDGED
            for number in (1, 2):
                for priority, state in (
                    (Priority.WARNING, active),
                    (Priority.ALARM, active),
                    (Priority.ALARM, AlertState.ACTIVE_ACKNOWLEDGED),
                    (Priority.ALARM, AlertState.NORMAL),
                ):
                    alert = make_alert(number=number, priority=priority, state=state)
                    await notifier.notify(alert)

        self._run(tmp_path, work)

    def test_the_same_alert_may_come_twice(self, tmp_path: Path) -> None:
        """A failed call is repeated, so the notifier may see an alert it has already carried."""

        async def work(notifier: Notifier) -> None:
            alert = make_alert()
            await notifier.notify(alert)
            await notifier.notify(alert)

        self._run(tmp_path, work)

    def test_an_end_without_a_beginning_is_accepted(self, tmp_path: Path) -> None:
        """After a restart the first thing heard of an alert may be that it is over."""

        async def work(notifier: Notifier) -> None:
            await notifier.notify(make_alert(state=AlertState.NORMAL))

        self._run(tmp_path, work)

    def test_figures_may_be_known_unknown_or_no_numbers(self, tmp_path: Path) -> None:
        """Figures come as numbers, as None, and from a broken instrument as NaN or infinity."""

        async def work(notifier: Notifier) -> None:
            for figure in (None, 0.0, 131.4, math.nan, math.inf, -math.inf):
                await notifier.notify(
                    make_alert(
                        utc_s=figure,
                        raised_utc_s=figure,
                        moved_m=figure,
                        bearing_deg=figure,
                        rate_mps=figure,
                        confidence=figure,
                    )
                )
            anchor = AnchorEstimate(46.5, -31.2, 4.0, AnchorMethod.MARKED)
            await notifier.notify(make_alert(anchor=anchor))

        self._run(tmp_path, work)

    def test_any_text_is_accepted(self, tmp_path: Path) -> None:
        """Names and texts may be empty, long, of several lines, or in any script."""

        async def work(notifier: Notifier) -> None:
            for text in ("", "x" * 5000, "two\nlines\x00", "Ankerkette 錨 ⚓", "%s {} \\ \"'"):
                await notifier.notify(make_alert(text=text, reason=text, instance=text))

        self._run(tmp_path, work)

    def test_notify_leaves_the_event_loop_free(self, tmp_path: Path) -> None:
        """While notify runs, everything else in the daemon goes on."""

        async def work(notifier: Notifier) -> None:
            longest_s = await _longest_stop_s(notifier.notify(make_alert()))
            _require(
                longest_s <= self.blocks_at_most_s,
                f"notify stopped the event loop for {longest_s:.2f} s: await, or use a thread",
            )

        self._run(tmp_path, work)

    def test_closing_twice_is_harmless_and_leaves_nothing_running(self, tmp_path: Path) -> None:
        """After close no task of the notifier is left, and a second close does nothing."""

        async def work(notifier: Notifier) -> None:
            before = asyncio.all_tasks()
            await notifier.notify(make_alert())
            if isinstance(notifier, Closable):
                await notifier.close()
                await notifier.close()
            left = [task.get_name() for task in asyncio.all_tasks() - before if not task.done()]
            _require(not left, f"still running after close: {left}")

        self._run(tmp_path, work)

    def test_a_check_says_what_it_proved(self, tmp_path: Path) -> None:
        """A notifier with a check tells in words what works."""

        async def work(notifier: Notifier) -> None:
            if not isinstance(notifier, Checkable):
                _skip("this notifier has no check")
                return
            proved: object = await notifier.check()
            _require(bool(str(proved or "").strip()), "check must say what it proved")

        self._run(tmp_path, work)

    def test_a_broken_device_is_told_with_a_remedy(self, tmp_path: Path) -> None:
        """A notifier that cannot do its work raises NotifierError with a remedy, nothing else."""

        async def work(notifier: Notifier) -> None:
            try:
                await notifier.notify(make_alert())
            except NotifierError as error:
                _require(bool(error.message), "say what failed")
                _require(bool(error.remedy), "say what the owner can do about it")
            else:
                raise AssertionError("a notifier that cannot do its work must raise NotifierError")

        self._run(tmp_path, work, make=self.make_broken_notifier)

    def _run(
        self,
        state_dir: Path,
        work: Callable[[Any], Awaitable[None]],
        *,
        make: Callable[[NotifierContext], Notifier | None] | None = None,
    ) -> None:
        async def with_notifier() -> None:
            notifier = (make or self.make_notifier)(self.make_context(state_dir))
            if notifier is None:
                _skip("this notifier cannot be broken")
                return
            try:
                await asyncio.wait_for(_as_coroutine(work(notifier)), _LIMIT_S)
            finally:
                if isinstance(notifier, Closable):
                    await notifier.close()

        asyncio.run(with_notifier())


async def _as_coroutine(work: Awaitable[None]) -> None:
    await work


async def _longest_stop_s(work: Awaitable[None]) -> float:
    """Do ``work`` while a heart beats beside it; return the longest time between two beats."""
    longest_s = 0.0

    async def beat() -> None:
        nonlocal longest_s
        last_s = time.monotonic()
        while True:
            await asyncio.sleep(0)
            now_s = time.monotonic()
            longest_s = max(longest_s, now_s - last_s)
            last_s = now_s

    heart = asyncio.create_task(beat())
    await asyncio.sleep(0)
    try:
        await work
        await asyncio.sleep(0)  # a beat after work that never let one through
    finally:
        heart.cancel()
    return longest_s


def _require(kept: bool, otherwise: str) -> None:
    # Not an assert statement: `python -O` drops those, and pytest explains none outside tests.
    if not kept:
        raise AssertionError(otherwise)


def _skip(reason: str) -> None:
    import pytest  # noqa: PLC0415 - only whoever runs the contract has it

    pytest.skip(reason)
