"""Handing every change of an alert to every notifier, without ever waiting for one."""

import asyncio
import contextlib
import logging
from collections.abc import Awaitable, Callable, Iterable

from driftlead.alerts.alert import Alert
from driftlead.notify.base import Closable
from driftlead.notify.lane import Lane, Outlet
from driftlead.notify.within import OutOfTimeError, run_within

_LOGGER = logging.getLogger(__name__)

QUEUE_LIMIT = 64
_CLOSE_LIMIT_S = 5.0


class Dispatcher:
    """One lane a notifier: a slow, hanging or raising one never delays the others.

    ``on_fault(name, text)`` is called when a notifier fails, once for each changed text, and with
    None when it works again. ``sleep`` measures the limits and the waits before another try.
    """

    def __init__(
        self,
        outlets: Iterable[Outlet],
        *,
        on_fault: Callable[[str, str | None], None],
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        queue_limit: int = QUEUE_LIMIT,
    ) -> None:
        self._sleep = sleep
        self._closed = False
        self._lanes = [
            Lane(outlet, on_fault=on_fault, sleep=sleep, limit=queue_limit) for outlet in outlets
        ]

    def dispatch(self, alert: Alert) -> None:
        """Hand ``alert`` out and return at once. Call it in the event loop's thread."""
        if self._closed:
            return
        for lane in self._lanes:
            lane.offer(alert)

    async def idle(self) -> None:
        """Wait until nothing is queued or being sent (what waits for another try may remain)."""
        for lane in self._lanes:
            await lane.idle()

    async def close(self) -> None:
        """Send what is queued, for some seconds at most, then close every notifier. Never fails."""
        if self._closed:
            return
        self._closed = True
        with contextlib.suppress(OutOfTimeError):
            await run_within(self.idle(), _CLOSE_LIMIT_S, self._sleep)
        await asyncio.gather(*(self._close_lane(lane) for lane in self._lanes))

    async def _close_lane(self, lane: Lane) -> None:
        await lane.stop()
        notifier = lane.outlet.notifier
        if not isinstance(notifier, Closable):
            return
        try:
            await run_within(_closing(notifier), _CLOSE_LIMIT_S, self._sleep)
        except Exception:  # one notifier that will not close must not keep the others open
            _LOGGER.exception("Notifier %s did not close", lane.outlet.name)


async def _closing(notifier: Closable) -> None:
    await notifier.close()
