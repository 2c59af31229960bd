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

    Over which something was asked once, the framework itself closes when it is idle.
    """

    def __init__(self) -> None:
        self._ticks: dict[RequestHandler, int] = {}
        self._new: set[RequestHandler] = set()

    def let_in(self, server: web.Server) -> asyncio.Protocol:
        """What serves a new connection, or turns it away."""
        # Those that came in the same moment are not among the server's own yet.
        if len(self._new.union(server.connections)) >= MOST:
            return _TurnedAway()
        connection = server()
        self._new.add(connection)
        return connection

    def served(self, connection: RequestHandler) -> None:
        """Note that a request has come over it."""
        self._ticks[connection] = _SERVED

    def tick(self, server: web.Server) -> None:
        """Look at all there are, a second after the last time."""
        self._new.clear()
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
