"""Server-sent events (the WHATWG HTML standard, section 9.2) over one connection."""

import asyncio
import contextlib
import socket
from typing import Final

from aiohttp import web

MOST_WAITING_BYTES: Final = 16 * 1024
"""With more than this still to be sent, the client is slow."""
_MOST_BUFFERED_BYTES: Final = 256 * 1024
_RETRY: Final = b"retry: 2000\n\n"


def event_frame(kind: str, data: str, event_id: str | None = None) -> bytes:
    """One event; ``data`` is JSON, which has no line ends."""
    head = "" if event_id is None else f"id: {event_id}\n"
    return f"{head}event: {kind}\ndata: {data}\n\n".encode()


class EventStream:
    """Sends to one client. Sending raises ConnectionError when it is gone or was hung up on."""

    def __init__(self, response: web.StreamResponse, transport: asyncio.Transport) -> None:
        self._response = response
        self._transport = transport

    @classmethod
    async def begin(cls, request: web.Request) -> "EventStream":
        """Answer the request by a stream."""
        response = web.StreamResponse(headers={"Content-Type": "text/event-stream"})
        transport = request.transport
        if transport is None:
            raise ConnectionResetError("the client is gone")
        # Whoever has room is sent a glance without waiting: others wait for their turn meanwhile.
        transport.set_write_buffer_limits(high=_MOST_BUFFERED_BYTES)
        own = transport.get_extra_info("socket")
        with contextlib.suppress(OSError):
            # Little waits for a slow client, so that what it gets is not old.
            own.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, MOST_WAITING_BYTES)
        await response.prepare(request)
        stream = cls(response, transport)
        await stream.send(_RETRY)
        return stream

    @property
    def response(self) -> web.StreamResponse:
        """What the handler returns in the end."""
        return self._response

    async def send(self, data: bytes) -> None:
        """Send whole events. It waits where much is waiting to be sent already."""
        await self._response.write(data)

    @property
    def has_room(self) -> bool:
        """Whether the client keeps up. One that does not is better told less than told late."""
        return self._transport.get_write_buffer_size() <= MOST_WAITING_BYTES

    def hang_up(self) -> None:
        """Give a client up that takes nothing: whoever waits to send to it gets an error."""
        self._transport.abort()
