"""What the tests of sources share: someone who listens, and wires to send by."""

import asyncio
import os
import socket
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import pytest
import pytest_asyncio
from attrs import frozen

from driftlead.lines import StampedLine
from driftlead.sources.base import SourceHealth
from driftlead.sources.build import build_source
from driftlead.sources.settings import SerialSettings, SourceSettings, TcpSettings, UdpSettings

PATIENCE_S = 5.0


class Hearing:
    """Hears what a source says, and is its clock and its sleep.

    Sleep moves the clock on at once; with ``held``, it also waits for ``let_wake``.
    """

    def __init__(self) -> None:
        self.lines: list[StampedLine] = []
        self.healths: list[SourceHealth] = []
        self.sleeps_s: list[float] = []
        self.now_s = 1000.0
        self.error: Exception | None = None
        self.on_line: Callable[[], None] = lambda: None
        self.held = False
        self._wakes = asyncio.Semaphore(0)
        self._heard = asyncio.Event()

    def emit(self, line: StampedLine) -> None:
        """Take a line, or fail as told."""
        if self.error is not None:
            raise self.error
        self.lines.append(line)
        self.on_line()
        self._heard.set()

    def on_health(self, health: SourceHealth) -> None:
        """Take a health."""
        self.healths.append(health)
        self._heard.set()

    def clock(self) -> float:
        """Tell the time of the test."""
        return self.now_s

    async def sleep(self, wait_s: float) -> None:
        """Let ``wait_s`` pass without waiting."""
        self.sleeps_s.append(wait_s)
        self.now_s += wait_s
        self._heard.set()
        if self.held:
            await self._wakes.acquire()
        else:
            await asyncio.sleep(0)

    def let_wake(self) -> None:
        """End one held sleep."""
        self._wakes.release()

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait until something heard makes it true."""
        async with asyncio.timeout(PATIENCE_S):
            while not true():
                self._heard.clear()
                await self._heard.wait()

    async def until_lines(self, count: int) -> None:
        """Wait for so many lines in all."""
        await self.until(lambda: len(self.lines) >= count)

    async def until_health(self, *, is_open: bool) -> str:
        """Wait until the last health is as told; its text."""
        await self.until(lambda: bool(self.healths) and self.healths[-1].open == is_open)
        return self.healths[-1].detail

    @property
    def texts(self) -> list[str]:
        """The texts of the lines heard."""
        return [line.text for line in self.lines]

    def start(self, settings: SourceSettings) -> asyncio.Task[None]:
        """Run the source until the task is cancelled."""
        source = build_source(
            settings,
            emit=self.emit,
            clock=self.clock,
            on_health=self.on_health,
            sleep=self.sleep,
        )
        return asyncio.create_task(source.run())

    @asynccontextmanager
    async def running(self, settings: SourceSettings) -> AsyncIterator[None]:
        """Run the source meanwhile; what it raised comes out at the end."""
        task = self.start(settings)
        try:
            yield
        finally:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task


@pytest.fixture
def hearing() -> Hearing:
    """Give somebody who listens."""
    return Hearing()


@frozen
class Wire:
    """Settings to read by, and the other end.

    ``burst`` is how many short lines may be sent before some are read.
    """

    settings: SourceSettings
    send: Callable[[bytes], Awaitable[None]]
    burst: int


@asynccontextmanager
async def serial_wire(folder: Path) -> AsyncIterator[Wire]:
    """Make a pseudo-terminal that is plugged in."""
    ours, theirs = os.openpty()
    device = folder / "gps"
    device.symlink_to(os.ttyname(theirs))
    os.set_blocking(ours, False)

    async def send(data: bytes) -> None:
        while data:
            try:
                data = data[os.write(ours, data) :]
            except BlockingIOError:
                await asyncio.sleep(0)

    yield Wire(SerialSettings(name="wired", device=str(device)), send, 1000)
    os.close(ours)
    os.close(theirs)


def free_udp_port() -> int:
    """Find a UDP port nobody uses now."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@asynccontextmanager
async def udp_wire(_folder: Path) -> AsyncIterator[Wire]:
    """Make a sender to a UDP port of this machine."""
    port = free_udp_port()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:

        async def send(data: bytes) -> None:
            # Lines by the datagram, for what is more than a datagram's worth.
            for line in data.splitlines(keepends=True):
                sender.sendto(line, ("127.0.0.1", port))

        yield Wire(UdpSettings(name="wired", bind="127.0.0.1", port=port), send, 100)


@asynccontextmanager
async def tcp_wire(_folder: Path) -> AsyncIterator[Wire]:
    """Make a TCP server on this machine."""
    writers: list[asyncio.StreamWriter] = []
    connected = asyncio.Event()

    def serve(_reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        writers.append(writer)
        connected.set()

    async def send(data: bytes) -> None:
        await asyncio.wait_for(connected.wait(), PATIENCE_S)
        writers[-1].write(data)
        await writers[-1].drain()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    port: int = server.sockets[0].getsockname()[1]
    yield Wire(TcpSettings(name="wired", host="127.0.0.1", port=port), send, 1000)
    for writer in writers:
        writer.transport.abort()
    server.close()
    await server.wait_closed()


@pytest_asyncio.fixture(params=[serial_wire, udp_wire, tcp_wire], ids=["serial", "udp", "tcp"])
async def wire(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[Wire]:
    """Give each kind of wire in turn."""
    async with request.param(tmp_path) as made:
        yield made
