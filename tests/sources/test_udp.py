"""UDP on the loopback interface."""

import errno
import socket
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

from driftlead.sources.settings import UdpSettings

if TYPE_CHECKING:
    from tests.sources.conftest import Hearing

HDT = "$GPHDT,123.456,T*32"
GROUP = "239.192.0.4"


@pytest.fixture
def port() -> int:
    """Find a UDP port nobody uses now."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@pytest.fixture
def sender() -> Iterator[socket.socket]:
    """Give a socket to send from, to broadcasts and to groups on the loopback too."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sending:
        sending.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        sending.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
        yield sending


@pytest.mark.asyncio
async def test_several_lines(hearing: "Hearing", sender: socket.socket, port: int) -> None:
    """A datagram with several sentences and no final line end gives each of them."""
    async with hearing.running(UdpSettings(name="net", port=port)):
        await hearing.until_health(is_open=True)
        sender.sendto(f"{HDT}\r\n{HDT}".encode(), ("127.0.0.1", port))
        await hearing.until_lines(2)
    assert hearing.texts == [HDT, HDT]


@pytest.mark.asyncio
async def test_empty_datagram(hearing: "Hearing", sender: socket.socket, port: int) -> None:
    """An empty datagram is no end of anything."""
    async with hearing.running(UdpSettings(name="net", port=port)):
        await hearing.until_health(is_open=True)
        sender.sendto(b"", ("127.0.0.1", port))
        sender.sendto(HDT.encode(), ("127.0.0.1", port))
        await hearing.until_lines(1)
    assert [health.open for health in hearing.healths] == [True]


@pytest.mark.asyncio
async def test_broadcast(hearing: "Hearing", sender: socket.socket, port: int) -> None:
    """A broadcast is heard by every program that shares the port."""
    async with (
        hearing.running(UdpSettings(name="one", port=port)),
        hearing.running(UdpSettings(name="two", port=port)),
    ):
        await hearing.until(lambda: len(hearing.healths) == 2)
        sender.sendto(HDT.encode(), ("127.255.255.255", port))
        await hearing.until_lines(2)
    assert {line.source for line in hearing.lines} == {"one", "two"}


@pytest.mark.asyncio
@pytest.mark.parametrize("option", [socket.SO_REUSEADDR, socket.SO_REUSEPORT])
async def test_shared_port(
    hearing: "Hearing", sender: socket.socket, port: int, option: int
) -> None:
    """A port is shared with a program that allows it by either of the two options."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.setsockopt(socket.SOL_SOCKET, option, 1)
        other.settimeout(5)
        other.bind(("", port))
        async with hearing.running(UdpSettings(name="net", port=port)):
            await hearing.until_health(is_open=True)
            sender.sendto(HDT.encode(), ("127.255.255.255", port))
            await hearing.until_lines(1)
        assert other.recv(100) == HDT.encode()


@pytest.mark.asyncio
async def test_multicast(hearing: "Hearing", sender: socket.socket, port: int) -> None:
    """A group is joined, and only that group is heard, though another is joined on the port."""
    settings = UdpSettings(name="nav", port=port, group=GROUP, bind="127.0.0.1")
    other = UdpSettings(name="other", port=port, group="239.192.0.5", bind="127.0.0.1")
    async with hearing.running(settings), hearing.running(other):
        await hearing.until(lambda: len(hearing.healths) == 2)
        if not all(health.open for health in hearing.healths):
            pytest.skip(f"no multicast on this loopback: {hearing.healths[-1].detail}")
        assert GROUP in hearing.healths[0].detail
        sender.sendto(b"UdPbC\0\\s:GP0001*5F\\" + HDT.encode() + b"\r\n", (GROUP, port))
        sender.sendto(b"to the other group", ("239.192.0.5", port))
        await hearing.until_lines(2)
    heard = {(line.source, line.text) for line in hearing.lines}
    assert heard == {("nav", f"\\s:GP0001*5F\\{HDT}"), ("other", "to the other group")}


@pytest.mark.asyncio
async def test_port_in_use(hearing: "Hearing", sender: socket.socket, port: int) -> None:
    """A port another program keeps for itself is told as that, and taken once it is free."""
    hearing.held = True
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(("127.0.0.1", port))
        async with hearing.running(UdpSettings(name="net", port=port)):
            detail = await hearing.until_health(is_open=False)
            assert f"UDP port {port} is in use by another program." in detail
            assert "Close that program" in detail
            other.close()
            hearing.let_wake()
            await hearing.until_health(is_open=True)
            sender.sendto(HDT.encode(), ("127.0.0.1", port))
            await hearing.until_lines(1)


@pytest.mark.asyncio
@pytest.mark.parametrize("group", [None, GROUP])
async def test_no_such_interface(hearing: "Hearing", port: int, group: str | None) -> None:
    """An address this machine has not is told (192.0.2.0/24 is for documentation, RFC 5737)."""
    hearing.held = True
    async with hearing.running(UdpSettings(name="n", port=port, bind="192.0.2.1", group=group)):
        detail = await hearing.until_health(is_open=False)
    assert "no network interface with the address 192.0.2.1" in detail
    assert "Check that the network is up" in detail


class FailingSocket(socket.socket):
    """A socket that fails in mid-reading, or has nothing after all."""

    errors: list[OSError]

    def recv(self, bufsize: int, flags: int = 0) -> bytes:
        """Fail as told, then receive."""
        if self.errors:
            raise self.errors.pop()
        return super().recv(bufsize, flags)


@pytest.mark.asyncio
async def test_fails(
    hearing: "Hearing", sender: socket.socket, port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A network that goes down is told and opened again; a datagram with a bad sum is nothing."""
    FailingSocket.errors = [OSError(errno.ENETDOWN, "down"), BlockingIOError()]
    monkeypatch.setattr("driftlead.sources.udp.socket.socket", FailingSocket)
    async with hearing.running(UdpSettings(name="net", port=port)):
        await hearing.until_health(is_open=True)
        sender.sendto(HDT.encode(), ("127.0.0.1", port))
        await hearing.until(lambda: len(hearing.healths) == 3)
        sender.sendto(HDT.encode(), ("127.0.0.1", port))
        await hearing.until_lines(1)
        assert [health.open for health in hearing.healths] == [True, False, True]
        assert "Network is down" in hearing.healths[1].detail
        FailingSocket.errors = [OSError(errno.ENETDOWN, "down")]
        sender.sendto(HDT.encode(), ("127.0.0.1", port))
        await hearing.until(lambda: len(hearing.healths) == 5)
    # Data had flowed, so the wait started again at the shortest.
    assert hearing.sleeps_s == [0.5, 0.5]


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("number", "words"), [(errno.EACCES, "port from 1024"), (errno.ENOBUFS, "No buffer space")]
)
async def test_cannot_open(
    hearing: "Hearing", port: int, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    """Other refusals of the system, which root would not meet, are told too."""

    def refuse(*_args: object) -> None:
        raise OSError(number, "refused")

    monkeypatch.setattr("driftlead.sources.udp.socket.socket.bind", refuse)
    hearing.held = True
    async with hearing.running(UdpSettings(name="net", port=port)):
        assert words in await hearing.until_health(is_open=False)
