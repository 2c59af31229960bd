"""TCP on the loopback interface."""

import asyncio
import socket
import struct
from collections.abc import AsyncIterator
from typing import TYPE_CHECKING, NoReturn

import pytest
import pytest_asyncio

from driftlead.sources import tcp
from driftlead.sources.settings import TcpSettings

if TYPE_CHECKING:
    from tests.sources.conftest import Hearing

HDT = "$GPHDT,123.456,T*32"


class Server:
    """A server on this machine that hands out the connections it gets."""

    def __init__(self) -> None:
        self.connections: asyncio.Queue[tuple[asyncio.StreamReader, asyncio.StreamWriter]] = (
            asyncio.Queue()
        )

    async def start(self, port: int = 0) -> None:
        """Listen."""
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", port)
        self.port: int = self._server.sockets[0].getsockname()[1]

    async def next(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        """Wait for the next client."""
        return await asyncio.wait_for(self.connections.get(), 5)

    def stop(self) -> None:
        """Listen no more."""
        self._server.close()

    def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.connections.put_nowait((reader, writer))


@pytest_asyncio.fixture
async def server() -> AsyncIterator[Server]:
    """Give a server that listens."""
    serving = Server()
    await serving.start()
    yield serving
    serving.stop()


@pytest.mark.asyncio
async def test_reconnects(hearing: "Hearing", server: Server) -> None:
    """A connection the server closed is told and made anew; half a sentence is not joined."""
    hearing.held = True
    async with hearing.running(TcpSettings(name="net", host="127.0.0.1", port=server.port)):
        _reader, writer = await server.next()
        writer.write(f"{HDT}\r\n$GPHD".encode())
        writer.close()
        await writer.wait_closed()
        detail = await hearing.until_health(is_open=False)
        assert f"127.0.0.1 port {server.port} has closed the connection." in detail
        hearing.let_wake()
        _reader, writer = await server.next()
        writer.write(f"{HDT}\r\n".encode())
        await hearing.until_lines(2)
        writer.close()
        await hearing.until(lambda: len(hearing.sleeps_s) == 2)
    assert hearing.texts == [HDT, HDT]
    assert [health.open for health in hearing.healths] == [True, False, True, False]
    assert hearing.sleeps_s == [0.5, 0.5]


@pytest.mark.asyncio
async def test_mute_server(hearing: "Hearing", server: Server) -> None:
    """A server that closes without a word is tried less and less often."""
    hearing.held = True
    async with hearing.running(TcpSettings(name="net", host="127.0.0.1", port=server.port)):
        for count in (1, 2, 3):
            _reader, writer = await server.next()
            writer.close()
            await hearing.until(lambda: len(hearing.sleeps_s) == count)  # noqa: B023
            hearing.let_wake()
    assert hearing.sleeps_s[:3] == [0.5, 1.0, 2.0]


@pytest.mark.asyncio
async def test_reset(hearing: "Hearing", server: Server) -> None:
    """A connection that is reset is told with the system's reason."""
    hearing.held = True
    async with hearing.running(TcpSettings(name="net", host="127.0.0.1", port=server.port)):
        _reader, writer = await server.next()
        await hearing.until_health(is_open=True)
        # Linger 0 has the kernel send RST in place of FIN.
        raw: socket.socket = writer.get_extra_info("socket")
        raw.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        writer.transport.abort()
        detail = await hearing.until_health(is_open=False)
    assert "was lost (Connection reset by peer)" in detail


@pytest.mark.asyncio
async def test_refused(hearing: "Hearing") -> None:
    """A server that does not run is told, and read once it runs."""
    hearing.held = True
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = Server()
    async with hearing.running(TcpSettings(name="net", host="127.0.0.1", port=port)):
        detail = await hearing.until_health(is_open=False)
        assert f"127.0.0.1 port {port} refuses the connection" in detail
        assert "Start the server" in detail
        await server.start(port)
        hearing.let_wake()
        _reader, writer = await server.next()
        writer.write(f"{HDT}\n".encode())
        await hearing.until_lines(1)
        writer.close()
    server.stop()


@pytest.mark.asyncio
async def test_unknown_host(hearing: "Hearing", monkeypatch: pytest.MonkeyPatch) -> None:
    """A name nobody knows is told as that."""

    async def unknown(*_args: object, **_options: object) -> NoReturn:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    monkeypatch.setattr(asyncio.get_running_loop(), "getaddrinfo", unknown)
    hearing.held = True
    async with hearing.running(TcpSettings(name="net", host="plotter.invalid")):
        detail = await hearing.until_health(is_open=False)
    assert "The host plotter.invalid is not known" in detail
    assert "Check host" in detail


@pytest.mark.asyncio
async def test_no_answer(hearing: "Hearing", monkeypatch: pytest.MonkeyPatch) -> None:
    """A host that never answers is given up after a while of our own."""

    async def silent(*_args: object, **_options: object) -> None:
        await asyncio.Event().wait()

    monkeypatch.setattr(asyncio.get_running_loop(), "sock_connect", silent)
    monkeypatch.setattr(tcp, "CONNECT_LIMIT_S", 0.01)
    hearing.held = True
    async with hearing.running(TcpSettings(name="net", host="127.0.0.1", port=9)):
        detail = await hearing.until_health(is_open=False)
    assert "127.0.0.1 port 9 does not answer." in detail


@pytest.mark.asyncio
async def test_unreachable(hearing: "Hearing", monkeypatch: pytest.MonkeyPatch) -> None:
    """A network that is down is told with the system's reason."""

    async def unreachable(*_args: object, **_options: object) -> NoReturn:
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(asyncio.get_running_loop(), "sock_connect", unreachable)
    hearing.held = True
    async with hearing.running(TcpSettings(name="net", host="127.0.0.1", port=9)):
        detail = await hearing.until_health(is_open=False)
    assert "cannot be reached (Network is unreachable" in detail


@pytest.mark.asyncio
async def test_cancelled(hearing: "Hearing", server: Server) -> None:
    """A cancelled source hangs up."""
    async with hearing.running(TcpSettings(name="net", host="127.0.0.1", port=server.port)):
        reader, writer = await server.next()
        await hearing.until_health(is_open=True)
    assert await asyncio.wait_for(reader.read(), 5) == b""
    writer.close()


@pytest.mark.asyncio
async def test_keepalive(hearing: "Hearing", server: Server) -> None:
    """The kernel asks whether a silent server is still there."""
    found: list[socket.socket] = []
    connect = tcp._keep_alive

    def look(connected: socket.socket) -> None:
        connect(connected)
        found.append(connected)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tcp, "_keep_alive", look)
        async with hearing.running(TcpSettings(name="net", host="127.0.0.1", port=server.port)):
            await hearing.until_health(is_open=True)
            assert found[0].getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE) == 1
            assert found[0].getsockopt(socket.IPPROTO_TCP, socket.TCP_KEEPIDLE) == 60
        _reader, writer = await server.next()
        writer.close()
