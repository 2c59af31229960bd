"""One notifier's own queue and task, so that no notifier ever waits for another."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any

from attrs import frozen

from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call, CallReason
from driftlead.errors import NotifierError
from driftlead.notify.base import HasTimeout, HearsAllsWell, HearsCalls, Lasting, Notifier
from driftlead.notify.carried import Carried
from driftlead.notify.message import describe
from driftlead.notify.pending import Pending
from driftlead.notify.within import OutOfTimeError, run_within

_LOGGER = logging.getLogger(__name__)

DEFAULT_TIMEOUT_S = 20.0
ALLS_WELL_LIMIT_S = 5.0
RETRY_AFTER_S = (15.0, 30.0, 60.0, 120.0, 300.0)
"""Waits before a failed alert is tried again; the last one repeats."""


@frozen(kw_only=True)
class Outlet:
    """A notifier, and what the owner calls it."""

    name: str
    notifier: Notifier


class Lane:
    """Makes the calls of one outlet, one after another; tells when that fails or works again.

    A call that failed is kept, or a newer one for its alert, and tried again, after a while or as
    soon as anything else gets through. ``carried`` is asked what need not be told after a restart,
    and ``on_carried`` is called whenever it has changed. ``on_attempted`` hears the end of every
    attempt: the call, and what went wrong, None if it was carried.
    """

    def __init__(
        self,
        outlet: Outlet,
        *,
        on_fault: Callable[[str, str | None], None],
        sleep: Callable[[float], Awaitable[None]],
        limit: int,
        carried: Carried,
        on_carried: Callable[[], None],
        on_attempted: Callable[[Call, str | None], None] = lambda *_: None,
    ) -> None:
        self.outlet = outlet
        self._on_fault = on_fault
        self._sleep = sleep
        self._pending = Pending(limit=limit)
        self._carried = carried
        self._on_carried = on_carried
        self._on_attempted = on_attempted
        self._tick: AllsWell | None = None
        self._task: asyncio.Task[None] | None = None
        self._wake = asyncio.Event()
        self._idle = asyncio.Event()
        self._idle.set()
        self._fault: str | None = None
        self._rounds_failed = 0

    def offer(self, call: Call) -> None:
        """Queue ``call`` and return at once; one that means nothing here is passed over."""
        name = self.outlet.name
        if not self._concerns(call):
            return
        for dropped in self._pending.offer(call):
            _LOGGER.warning(
                "Too much waits for notifier %s; dropped: %s", name, describe(dropped.alert)
            )
        if self._pending.is_due:
            self._go_on()

    def alls_well(self, tick: AllsWell) -> None:
        """Pass ``tick`` on if the notifier can show it and has nothing else to do."""
        busy = self._pending.is_held or not self._idle.is_set()
        if isinstance(self.outlet.notifier, HearsAllsWell) and not busy:
            self._tick = tick
            self._go_on()

    async def idle(self) -> None:
        """Wait until nothing is queued or being sent; what waits for another try does not count."""
        await self._idle.wait()

    async def stop(self) -> None:
        """Stop sending; what is queued is lost."""
        if self._task is not None:
            self._task.cancel()
            await asyncio.wait({self._task})
            self._task = None

    def _concerns(self, call: Call) -> bool:
        notifier, alert = self.outlet.notifier, call.alert
        if alert.name == "notifier_failed" and alert.instance == self.outlet.name:
            return False  # to tell a dead notifier of its death would only fail once more
        if call.reason is CallReason.LOUDER:
            return isinstance(notifier, HearsCalls)
        if call.reason is CallReason.RESUMED:
            if isinstance(notifier, Lasting) and notifier.lasts:
                return not self._carried.has(self.outlet.name, alert)
            return alert.state.sounds
        return True

    def _go_on(self) -> None:
        self._idle.clear()
        self._wake.set()
        if self._task is None:
            name = f"notify {self.outlet.name}"
            self._task = asyncio.get_running_loop().create_task(self._run(), name=name)

    async def _run(self) -> None:
        while True:
            call = self._pending.take()
            if call is not None:
                await self._send(call)
                continue
            tick, self._tick = self._tick, None
            if tick is not None:
                await self._show(tick)
                continue
            self._idle.set()
            self._wake.clear()
            await self._more()

    async def _more(self) -> None:
        """Wait for a new alert, or for the time to try the failed ones again."""
        if not self._pending.is_held:
            await self._wake.wait()
            return
        delay_s = RETRY_AFTER_S[min(self._rounds_failed, len(RETRY_AFTER_S) - 1)]
        try:
            await run_within(self._wait_for_wake(), delay_s, self._sleep)
        except OutOfTimeError:
            self._rounds_failed += 1
            self._idle.clear()
            self._pending.release()

    async def _wait_for_wake(self) -> None:
        await self._wake.wait()

    async def _send(self, call: Call) -> None:
        notifier = self.outlet.notifier
        limit_s = notifier.timeout_s if isinstance(notifier, HasTimeout) else DEFAULT_TIMEOUT_S
        fault = await self._fault_of(self._notify(call), limit_s)
        self._on_attempted(call, fault)
        if fault is not None:
            self._pending.hold(call)
        else:
            self._rounds_failed = 0
            self._pending.release()
            if isinstance(notifier, Lasting) and notifier.lasts:
                self._carried.note(self.outlet.name, call.alert)
                self._on_carried()
        self._say(fault)

    async def _notify(self, call: Call) -> None:
        notifier = self.outlet.notifier
        if isinstance(notifier, HearsCalls):
            await notifier.called(call)
        else:
            await notifier.notify(call.alert)

    async def _show(self, tick: AllsWell) -> None:
        notifier = self.outlet.notifier
        if not isinstance(notifier, HearsAllsWell):
            return
        fault = await self._fault_of(_ticking(notifier, tick), ALLS_WELL_LIMIT_S)
        # What could not be carried says more about it than a lamp that still blinks.
        if fault is not None or not self._pending.is_held:
            self._say(fault)

    async def _fault_of(self, work: Coroutine[Any, Any, None], limit_s: float) -> str | None:
        """Let the notifier work; what went wrong, None if nothing did."""
        try:
            await run_within(work, limit_s, self._sleep)
        except OutOfTimeError:
            return f"It did not finish within {limit_s:g} s."
        except NotifierError as error:
            return str(error)
        except Exception as error:
            _LOGGER.debug("Notifier %s broke its contract", self.outlet.name, exc_info=error)
            return f"{type(error).__name__}: {error}"
        return None

    def _say(self, fault: str | None) -> None:
        if fault == self._fault:
            return
        self._fault = fault
        try:
            self._on_fault(self.outlet.name, fault)
        except Exception:  # the lane must outlive a fault in the listener
            _LOGGER.exception("Could not report that notifier %s: %s", self.outlet.name, fault)


async def _ticking(notifier: HearsAllsWell, tick: AllsWell) -> None:
    await notifier.alls_well(tick)
