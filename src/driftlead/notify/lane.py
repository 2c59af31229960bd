"""One notifier's own queue and task, so that no notifier ever waits for another."""

import asyncio
import logging
from collections.abc import Awaitable, Callable

from attrs import frozen

from driftlead.alerts.alert import Alert, Priority
from driftlead.errors import NotifierError
from driftlead.notify.base import HasTimeout, Notifier
from driftlead.notify.message import describe
from driftlead.notify.pending import Pending
from driftlead.notify.within import OutOfTimeError, run_within

_LOGGER = logging.getLogger(__name__)

DEFAULT_TIMEOUT_S = 20.0
RETRY_AFTER_S = (15.0, 30.0, 60.0, 120.0, 300.0)
"""Waits before a failed alert is tried again; the last one repeats."""


@frozen(kw_only=True)
class Outlet:
    """A notifier, what the owner calls it, and the least priority it is to carry."""

    name: str
    notifier: Notifier
    at_least: Priority = Priority.CAUTION


class Lane:
    """Sends alerts to one outlet, one after another, and tells when that fails or works again.

    A failed alert is kept in its newest state and tried again, after a while or as soon as
    anything else gets through.
    """

    def __init__(
        self,
        outlet: Outlet,
        *,
        on_fault: Callable[[str, str | None], None],
        sleep: Callable[[float], Awaitable[None]],
        limit: int,
    ) -> None:
        self.outlet = outlet
        self._on_fault = on_fault
        self._sleep = sleep
        self._pending = Pending(outlet.at_least, limit=limit)
        self._task: asyncio.Task[None] | None = None
        self._wake = asyncio.Event()
        self._idle = asyncio.Event()
        self._idle.set()
        self._fault: str | None = None
        self._rounds_failed = 0

    def offer(self, alert: Alert) -> None:
        """Queue ``alert`` and return at once."""
        name = self.outlet.name
        if alert.name == "notifier_failed" and alert.instance == name:
            return  # to tell a dead notifier of its death would only fail once more
        for dropped in self._pending.offer(alert):
            _LOGGER.warning("Too much waits for notifier %s; dropped: %s", name, describe(dropped))
        if not self._pending.is_due:
            return
        self._idle.clear()
        self._wake.set()
        if self._task is None:
            self._task = asyncio.get_running_loop().create_task(self._run(), name=f"notify {name}")

    async def idle(self) -> None:
        """Wait until nothing is queued or being sent; what waits for another try does not count."""
        await self._idle.wait()

    async def stop(self) -> None:
        """Stop sending; what is queued is lost."""
        if self._task is not None:
            self._task.cancel()
            await asyncio.wait({self._task})
            self._task = None

    async def _run(self) -> None:
        while True:
            alert = self._pending.take()
            if alert is not None:
                await self._send(alert)
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

    async def _send(self, alert: Alert) -> None:
        notifier = self.outlet.notifier
        limit_s = notifier.timeout_s if isinstance(notifier, HasTimeout) else DEFAULT_TIMEOUT_S
        try:
            await run_within(self._notify(alert), limit_s, self._sleep)
        except OutOfTimeError:
            self._failed(alert, f"It did not finish within {limit_s:g} s.")
        except NotifierError as error:
            self._failed(alert, str(error))
        except Exception as error:
            _LOGGER.debug("Notifier %s broke its contract", self.outlet.name, exc_info=error)
            self._failed(alert, f"{type(error).__name__}: {error}")
        else:
            self._rounds_failed = 0
            self._pending.release()
            self._say(None)

    async def _notify(self, alert: Alert) -> None:
        await self.outlet.notifier.notify(alert)

    def _failed(self, alert: Alert, text: str) -> None:
        self._pending.hold(alert)
        self._say(text)

    def _say(self, fault: str | None) -> None:
        if fault == self._fault:
            return
        self._fault = fault
        try:
            self._on_fault(self.outlet.name, fault)
        except Exception:  # the lane must outlive a fault in the listener
            _LOGGER.exception("Could not report that notifier %s: %s", self.outlet.name, fault)
