"""One connection to a broker, from opening to its loss.

paho-mqtt does the protocol in a thread of its own; everything it says is handed to the event loop.
A new connection gets a new client, so that nothing old can follow something newer.
"""

import asyncio
import contextlib
import socket
import threading
from collections.abc import Callable
from typing import Any

QOS_AT_LEAST_ONCE = 1


class SessionError(Exception):
    """The connection cannot be had, or is lost; the text says why, ``remedy`` what may help."""

    def __init__(self, text: str, *, remedy: str) -> None:
        super().__init__(text)
        self.text = text
        self.remedy = remedy


_LOST_REMEDY = "Check the boat's connection and that the broker is up."
_REFUSED_REMEDY = "Check username, password and client_id against the broker's own log."


class Session:
    """Wraps one client of paho. All methods are for the event loop's thread."""

    def __init__(self, client: Any) -> None:
        self._client = client
        self._loop = asyncio.get_running_loop()
        self._opened: asyncio.Future[None] = self._loop.create_future()
        self.lost: asyncio.Future[SessionError] = self._loop.create_future()
        """Done when the connection has ended; why."""
        self._acks: dict[int, asyncio.Future[None]] = {}
        self._given_up = False
        client.on_connect = self._on_connect
        client.on_disconnect = self._on_disconnect
        client.on_publish = self._on_publish

    async def open(self, host: str, port: int, keepalive_s: int) -> None:
        """Connect. Raises OSError or SessionError when that fails."""

        def connect() -> None:
            self._client.connect(host, port, keepalive_s)
            if self._given_up:  # it took too long: nobody knows of this connection any more
                self._client.reinitialise()

        await self._in_thread(connect)
        self._client.loop_start()
        await self._opened

    async def publish(self, topic: str, payload: bytes, *, retain: bool) -> None:
        """Return when the broker has taken it. Raises SessionError when the connection is lost."""
        if self.lost.done():
            raise _lost()
        sent = self._client.publish(topic, payload, qos=QOS_AT_LEAST_ONCE, retain=retain)
        acknowledged = self._loop.create_future()
        self._acks[sent.mid] = acknowledged
        try:
            await acknowledged
        finally:
            del self._acks[sent.mid]

    def goodbye(self) -> None:
        """Take leave, so that the broker does not carry out the last will; ``lost`` follows."""
        self._client.disconnect()

    async def end(self) -> None:
        """End the connection without leave, if it still is, and the thread."""
        self._given_up = True
        self.cut()
        await asyncio.to_thread(self._close)

    def _close(self) -> None:
        self._client.loop_stop()
        self._client.reinitialise()  # closes its sockets, which nothing else does in good time

    def cut(self) -> None:
        """Break the connection; this also wakes a thread that waits for a broker that hangs."""
        connection = self._client.socket()
        if connection is not None:
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)

    async def _in_thread(self, work: Callable[[], object]) -> None:
        """Do ``work`` in a thread that the end of the program does not wait for."""
        done = self._loop.create_future()

        def run() -> None:
            try:
                work()
            except Exception as error:  # noqa: BLE001 - whatever it was, it is raised below
                self._later(_fail, done, error)
            else:
                self._later(_settle, done, None)

        threading.Thread(target=run, name="mqtt connect", daemon=True).start()
        await done

    # -- called by paho, in its thread -----------------------------------------------------------

    def _on_connect(self, _client: Any, _data: Any, _flags: Any, code: Any, _more: Any) -> None:
        if code.is_failure:
            refused = SessionError(f"the broker refuses: {code}", remedy=_REFUSED_REMEDY)
            self._later(_fail, self._opened, refused)
        else:
            self._later(_settle, self._opened, None)

    def _on_publish(self, _client: Any, _data: Any, mid: int, _code: Any, _more: Any) -> None:
        self._later(self._acknowledged, mid)

    def _on_disconnect(self, _client: Any, _data: Any, _flags: Any, _code: Any, _more: Any) -> None:
        self._later(self._ended)

    def _later(self, call: Callable[..., None], *arguments: object) -> None:
        # The loop may have been closed while the thread was still at work.
        with contextlib.suppress(RuntimeError):
            self._loop.call_soon_threadsafe(call, *arguments)

    # -- and what follows from it, in the event loop ---------------------------------------------

    def _acknowledged(self, mid: int) -> None:
        if mid in self._acks:
            _settle(self._acks[mid], None)

    def _ended(self) -> None:
        _settle(self.lost, _lost())
        for waiting in (self._opened, *self._acks.values()):
            _fail(waiting, _lost())


def _lost() -> SessionError:
    return SessionError("the connection was lost", remedy=_LOST_REMEDY)


def _settle(future: "asyncio.Future[Any]", result: object) -> None:
    if not future.done():
        future.set_result(result)


def _fail(future: "asyncio.Future[Any]", error: Exception) -> None:
    if not future.done():
        future.set_exception(error)
        future.exception()  # asked for, lest asyncio complains when nobody waits any more
