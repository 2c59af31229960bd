"""The stream of what goes on: each second how she lies, and every event as it happens."""

from collections.abc import Callable
from typing import Final

from aiohttp import web

from driftlead.web.devices import Device
from driftlead.web.event_stream import EventStream, event_frame
from driftlead.web.live import Listener, Live
from driftlead.web.problem import ProblemError

MOST: Final = 32
MOST_OF_ONE: Final = 6
"""By one device, or one address where none is paired."""


class Listening:
    """Handles ``GET /api/v1/stream``."""

    def __init__(self, live: Live, *, device: Callable[[web.Request], Device | None]) -> None:
        self._live = live
        self._device = device
        self._counts: dict[str, int] = {}

    async def stream(self, request: web.Request) -> web.StreamResponse:
        """Tell until the client goes, or the daemon ends."""
        device = self._device(request)
        who = (request.remote or "") if device is None else device.id
        if self._live.listeners >= MOST or self._counts.get(who, 0) >= MOST_OF_ONE:
            raise ProblemError(
                429,
                "busy",
                "Too many listen already.",
                "Close the page elsewhere.",
                retry_after_s=5,
            )
        number = self._begins_after(request)
        listener = self._live.listen(number=number, device_id=None if device is None else device.id)
        self._counts[who] = self._counts.get(who, 0) + 1
        stream: EventStream | None = None
        try:
            stream = await EventStream.begin(request)
            listener.hang_up = stream.hang_up
            while not listener.ended:
                await self._tell(stream, listener)
        except ConnectionError:
            pass  # gone, or asleep
        finally:
            self._live.leave(listener)
            self._counts[who] -= 1
            if not self._counts[who]:
                del self._counts[who]
        return web.Response() if stream is None else stream.response

    def _begins_after(self, request: web.Request) -> int:
        asked = request.headers.get("Last-Event-ID") or request.query.get("after")
        if asked is None:
            return self._live.events.last_number
        # An id of another run: all of this one is news.
        return self._live.events.number_of(asked) or 0

    async def _tell(self, stream: EventStream, listener: Listener) -> None:
        await listener.woken.wait()
        listener.woken.clear()
        _complete, events = self._live.events.after(listener.number)
        for event in events:
            listener.number = event.number
            await stream.send(event_frame(event.kind, event.text, event.id))
        async with self._live.turn:
            if listener.frame is not None and stream.has_room:
                frame, listener.frame = listener.frame, None
                await stream.send(frame)
