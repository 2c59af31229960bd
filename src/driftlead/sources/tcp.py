"""Lines from a TCP server, connected again when the connection is lost."""

import asyncio
import socket
from typing import Final, NoReturn

from driftlead.nmea.framing import LineFramer
from driftlead.sources.backoff import Backoff
from driftlead.sources.base import Clock, Emit, OnHealth, Sleep
from driftlead.sources.outlet import Outlet
from driftlead.sources.reason import os_reason
from driftlead.sources.reopen import SourceLostError, keep_open
from driftlead.sources.settings import TcpSettings

CONNECT_LIMIT_S = 10.0
"""The kernel alone would wait two minutes for a host that is switched off."""

_CHUNK_BYTES: Final = 4096


class TcpSource:
    """Reads from one TCP server, as a client that never writes.

    A server that vanishes without a word is noticed by keepalive within a minute or two; that
    no lines come in is noticed earlier, by the watch's own limits.
    """

    def __init__(
        self, settings: TcpSettings, *, emit: Emit, clock: Clock, on_health: OnHealth, sleep: Sleep
    ) -> None:
        self.name = settings.name
        self._host = settings.host
        self._port = settings.port
        self._where = f"{settings.host} port {settings.port}"
        self._outlet = Outlet(settings.name, emit=emit, clock=clock, on_health=on_health)
        self._backoff = Backoff(sleep)

    async def run(self) -> None:
        """Read until cancelled."""
        await keep_open(self._session, outlet=self._outlet, backoff=self._backoff)

    async def _session(self) -> NoReturn:
        reader, writer = await self._connect()
        try:
            _keep_alive(writer.get_extra_info("socket"))
            self._outlet.opened(f"Connected to {self._where}.")
            framer = LineFramer()
            while True:
                self._outlet.lines(framer.feed(await self._read(reader)))
                self._backoff.reset()
                # A reader that has data buffered does not wait: let the other tasks run.
                await asyncio.sleep(0)
        finally:
            writer.transport.abort()

    async def _connect(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        try:
            async with asyncio.timeout(CONNECT_LIMIT_S):
                return await asyncio.open_connection(self._host, self._port, limit=_CHUNK_BYTES)
        except OSError as error:
            raise self._cannot_connect(error) from error

    async def _read(self, reader: asyncio.StreamReader) -> bytes:
        try:
            data = await reader.read(_CHUNK_BYTES)
        except OSError as error:
            raise SourceLostError(
                f"The connection to {self._where} was lost ({os_reason(error)}).",
                remedy="Check the network and the server; it is tried again.",
            ) from error
        if not data:
            raise SourceLostError(
                f"{self._where} has closed the connection.",
                remedy="Check the server; some serve only few clients. It is tried again.",
            )
        return data

    def _cannot_connect(self, error: OSError) -> SourceLostError:
        if isinstance(error, socket.gaierror):
            return SourceLostError(
                f"The host {self._host} is not known ({error.strerror}).",
                remedy="Check host, or write its address in place of its name.",
            )
        if isinstance(error, ConnectionRefusedError):
            return SourceLostError(
                f"{self._where} refuses the connection: nothing listens there.",
                remedy="Start the server, and check port.",
            )
        if isinstance(error, TimeoutError):
            return SourceLostError(
                f"{self._where} does not answer.",
                remedy="Check that it is switched on and in the same network.",
            )
        return SourceLostError(
            f"{self._where} cannot be reached ({os_reason(error)}).",
            remedy="Check that the network is up, and check host.",
        )


def _keep_alive(connected: socket.socket) -> None:
    """Have the kernel ask after a minute of silence, and give up after four asks unanswered."""
    connected.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE, 60)
    connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPINTVL, 10)
    connected.setsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPCNT, 4)
