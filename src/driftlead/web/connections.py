"""There is room for so many connections, and none for those over which nothing is asked."""

import asyncio
from typing import Final

from aiohttp import web
from aiohttp.web_protocol import RequestHandler

MOST: Final = 128
IDLE_TICKS: Final = 10
_SERVED: Final = -1


class Connections:
    """Lets connections in, and hangs up on those that are one too many or idle.

    Over which something was asked once, the framework itself closes when it is idle. One that has
    still to agree on TLS counts for ``handshake_ticks``.
    """

    def __init__(self, *, handshake_ticks: int = 0) -> None:
        self._new_ticks = handshake_ticks
        self._ticks: dict[RequestHandler, int] = {}
        self._new: dict[RequestHandler, int] = {}

    def let_in(self, server: web.Server) -> asyncio.Protocol:
        """What serves a new connection, or turns it away."""
        # Those that came in the same moment, or are still to agree on TLS, are not among the
        # server's own yet.
        if len(self._new.keys() | set(server.connections)) >= MOST:
            return _TurnedAway()
        connection = server()
        self._new[connection] = 0
        return connection

    def served(self, connection: RequestHandler) -> None:
        """Note that a request has come over it."""
        self._ticks[connection] = _SERVED

    def tick(self, server: web.Server) -> None:
        """Look at all there are, a second after the last time."""
        own = set(server.connections)
        self._new = {
            each: ticks + 1
            for each, ticks in self._new.items()
            if each not in own and ticks < self._new_ticks
        }
        self._ticks = {
            each: _SERVED if (ticks := self._ticks.get(each, 0)) == _SERVED else ticks + 1
            for each in server.connections
        }
        for connection, ticks in self._ticks.items():
            if ticks > IDLE_TICKS and connection.transport is not None:
                connection.transport.abort()


class _TurnedAway(asyncio.Protocol):
    """One connection too many."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """Hang up."""
        transport.close()
