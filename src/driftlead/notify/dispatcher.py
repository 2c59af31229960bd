"""Handing every call to the notifiers it names, without ever waiting for one."""

import asyncio
import contextlib
import functools
import logging
from collections.abc import Awaitable, Callable, Iterable

from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call
from driftlead.notify.base import Closable
from driftlead.notify.carried import Carried
from driftlead.notify.lane import Lane, Outlet
from driftlead.notify.within import OutOfTimeError, run_within

_LOGGER = logging.getLogger(__name__)

QUEUE_LIMIT = 64
_CLOSE_LIMIT_S = 5.0


class Dispatcher:
    """One lane a notifier: a slow, hanging or raising one never delays the others.

    ``on_fault(name, text)`` is called when a notifier fails, once for each changed text, and with
    None when it works again. ``sleep`` measures the limits and the waits before another try.
    ``carried`` is what lasting notifiers carried in an earlier run; ``on_carried`` is called with
    it whenever there is more. ``on_attempted(name, call, text)`` is called at the end of every
    attempt, with what went wrong, or None when it was carried.
    """

    def __init__(
        self,
        outlets: Iterable[Outlet],
        *,
        on_fault: Callable[[str, str | None], None],
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        queue_limit: int = QUEUE_LIMIT,
        carried: Carried | None = None,
        on_carried: Callable[[Carried], None] = lambda _: None,
        on_attempted: Callable[[str, Call, str | None], None] = lambda *_: None,
    ) -> None:
        self._sleep = sleep
        self._closed = False
        known = Carried() if carried is None else carried
        self._lanes = {
            outlet.name: Lane(
                outlet,
                on_fault=on_fault,
                sleep=sleep,
                limit=queue_limit,
                carried=known,
                on_carried=lambda: on_carried(known),
                on_attempted=functools.partial(on_attempted, outlet.name),
            )
            for outlet in outlets
        }

    def dispatch(self, call: Call) -> None:
        """Hand ``call`` out and return at once. Call it in the event loop's thread.

        A name without a notifier is passed over: one that could not be built is a fault already.
        """
        if self._closed:
            return
        for name in call.outlets:
            lane = self._lanes.get(name)
            if lane is not None:
                lane.offer(call)

    def alls_well(self, tick: AllsWell) -> None:
        """Let every notifier show that all is well that can; one that is busy leaves it out."""
        if self._closed:
            return
        for lane in self._lanes.values():
            lane.alls_well(tick)

    async def idle(self) -> None:
        """Wait until nothing is queued or being sent (what waits for another try may remain)."""
        for lane in self._lanes.values():
            await lane.idle()

    async def close(self) -> None:
        """Send what is queued, for some seconds at most, then close every notifier. Never fails."""
        if self._closed:
            return
        self._closed = True
        with contextlib.suppress(OutOfTimeError):
            await run_within(self.idle(), _CLOSE_LIMIT_S, self._sleep)
        await asyncio.gather(*(self._close_lane(lane) for lane in self._lanes.values()))

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
