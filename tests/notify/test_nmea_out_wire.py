"""The wires to displays: real datagrams on the loopback, and a pseudo-terminal."""

import asyncio
import os
import socket
from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest
import pytest_asyncio
import serial

from driftlead.errors import NotifierError
from driftlead.notify.nmea_out import NmeaNotifier
from driftlead.notify.nmea_out_wire import SerialWire, UdpWire
from driftlead.testing import FakeTime, make_alert, make_context

LIMIT_S = 20.0
ACK = b"$VRACK,001*50\r\n"


async def readable(fd: int) -> None:
    """Wait until ``fd`` can be read."""
    loop = asyncio.get_running_loop()
    ready = asyncio.Event()
    loop.add_reader(fd, ready.set)
    try:
        await asyncio.wait_for(ready.wait(), LIMIT_S)
    finally:
        loop.remove_reader(fd)


class Display:
    """A display on the network."""

    def __init__(self) -> None:
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", 0))
        self._socket.setblocking(False)
        self.port: int = self._socket.getsockname()[1]
        self.heard_from: tuple[str, int] = ("", 0)

    async def hear(self) -> bytes:
        """Wait for the next datagram."""
        await readable(self._socket.fileno())
        data, self.heard_from = self._socket.recvfrom(2000)
        return data

    def say(self, data: bytes, port: int | None = None) -> None:
        """Send, by default to whoever was heard last."""
        self._socket.sendto(data, ("127.0.0.1", port) if port else self.heard_from)

    def close(self) -> None:
        """Switch it off."""
        self._socket.close()


class Ears:
    """Hears the lines of a wire."""

    def __init__(self) -> None:
        self._lines: asyncio.Queue[str] = asyncio.Queue()

    def hear(self, line: str) -> None:
        """Take a line."""
        self._lines.put_nowait(line)

    async def next(self) -> str:
        """Wait for a line."""
        return await asyncio.wait_for(self._lines.get(), LIMIT_S)

    @property
    def empty(self) -> bool:
        """Whether all lines have been asked for."""
        return self._lines.empty()


@pytest_asyncio.fixture
async def display() -> AsyncIterator[Display]:
    """A display on the loopback."""
    made = Display()
    yield made
    made.close()


def udp(
    display: Display, on_line: Callable[[str], None] | None = None, **options: int | str | None
) -> UdpWire:
    """Make a wire to the display."""
    settings = {"listen": None, "bind": "127.0.0.1"} | options
    return UdpWire("127.0.0.1", display.port, on_line=on_line, **settings)  # type: ignore[arg-type]


@pytest.mark.asyncio
async def test_each_sentence_is_a_datagram(display: Display) -> None:
    """With its line end, which simple displays look for."""
    wire = udp(display)
    assert wire.where == f"UDP 127.0.0.1:{display.port}"
    await wire.send(("$A*00", "$B*00"))
    assert [await display.hear(), await display.hear()] == [b"$A*00\r\n", b"$B*00\r\n"]
    wire.close()
    wire.close()


@pytest.mark.asyncio
async def test_an_answer_to_the_port_that_was_sent_from_is_heard(display: Display) -> None:
    """Several lines in one datagram, plain or with the header of IEC 61162-450."""
    ears = Ears()
    wire = udp(display, ears.hear)
    await wire.send(("$A*00",))
    await display.hear()
    display.say(ACK + b"$X*00\r\n")
    display.say(b"UdPbC\0\\s:RA0001*7C\\" + ACK)
    assert await ears.next() == "$VRACK,001*50"
    assert await ears.next() == "$X*00"
    assert await ears.next() == "\\s:RA0001*7C\\$VRACK,001*50"
    wire.close()


@pytest.mark.asyncio
async def test_an_answer_to_the_port_that_was_given_is_heard(display: Display) -> None:
    """For displays that send where they were told to."""
    ears, spare = Ears(), Display()
    listen = spare.port
    spare.close()
    wire = udp(display, ears.hear, listen=listen)
    await wire.send(())
    display.say(ACK, listen)
    assert await ears.next() == "$VRACK,001*50"
    wire.close()


@pytest.mark.asyncio
async def test_without_ears_nothing_is_read(display: Display) -> None:
    """What is sent to us then stays with the system."""
    wire = udp(display)
    await wire.send(("$A*00",))
    await display.hear()
    display.say(ACK)
    assert wire._socket is not None
    await readable(wire._socket.fileno())
    wire.close()


@pytest.mark.asyncio
async def test_a_port_that_a_source_listens_on_is_never_shared(display: Display) -> None:
    """Or the receiver's datagrams would go astray; the source has these options set."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as source:
        source.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        source.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        source.bind(("127.0.0.1", 0))
        wire = udp(display, lambda _: None, listen=source.getsockname()[1])
        with pytest.raises(NotifierError, match="is in use, perhaps by a source") as caught:
            await wire.send(("$A*00",))
    assert "listen" in caught.value.remedy
    await wire.send(("$A*00",))
    assert await display.hear() == b"$A*00\r\n"
    wire.close()


@pytest.mark.asyncio
async def test_an_address_that_is_not_ours_is_told(display: Display) -> None:
    """The network may be down (192.0.2.1 is for documentation, RFC 5737)."""
    wire = udp(display, bind="192.0.2.1")
    with pytest.raises(NotifierError, match=r"no address 192\.0\.2\.1") as caught:
        await wire.send(("$A*00",))
    assert "bind" in caught.value.remedy


class Plug:
    """A serial adapter that can be plugged in at ``device`` and pulled out."""

    def __init__(self, folder: Path) -> None:
        self.device = folder / "displays"
        self._ours = self._theirs = -1

    def plug_in(self) -> None:
        """Make the device."""
        self._ours, self._theirs = os.openpty()
        os.set_blocking(self._ours, False)
        self.device.symlink_to(os.ttyname(self._theirs))

    async def hear(self, text: bytes) -> None:
        """Wait until this has come."""
        got = b""
        while text not in got:
            await readable(self._ours)
            got += os.read(self._ours, 4096)

    def say(self, data: bytes) -> None:
        """Send by the wire."""
        os.write(self._ours, data)

    def pull_out(self) -> None:
        """Take the device away."""
        self.device.unlink()
        os.close(self._theirs)
        os.close(self._ours)


@pytest.fixture
def plug(tmp_path: Path) -> Plug:
    """An adapter that is not plugged in."""
    return Plug(tmp_path)


def on(plug: Plug, on_line: Callable[[str], None] | None = None) -> SerialWire:
    """Make the wire of an adapter."""
    return SerialWire(str(plug.device), 4800, on_line=on_line)


@pytest.mark.asyncio
async def test_sentences_go_out_and_answers_come_in_by_one_line(plug: Plug) -> None:
    """However the answers are cut on their way."""
    ears = Ears()
    plug.plug_in()
    wire = on(plug, ears.hear)
    await wire.send(("$A*00", "$B*00"))
    await plug.hear(b"$A*00\r\n$B*00\r\n")
    plug.say(ACK[:5])
    plug.say(ACK[5:])
    assert await ears.next() == "$VRACK,001*50"
    wire.close()
    wire.close()
    plug.pull_out()


@pytest.mark.asyncio
async def test_more_than_the_line_takes_at_once_waits_for_it(plug: Plug) -> None:
    """A slow line loses nothing, and holds up nobody else."""
    plug.plug_in()
    wire = on(plug)
    sentences = tuple(f"$LONG,{number:03d}{'x' * 60}*00" for number in range(400))
    sending = asyncio.create_task(wire.send(sentences))
    await plug.hear(b"$LONG,399")
    await asyncio.wait_for(sending, LIMIT_S)
    wire.close()
    plug.pull_out()


@pytest.mark.asyncio
@pytest.mark.parametrize("listens", [True, False])
async def test_pulled_out_is_told_and_plugged_in_again_is_used(plug: Plug, listens: bool) -> None:
    """Without a restart, at the same path; half a line from before is not joined to one after."""
    ears = Ears()
    plug.plug_in()
    wire = on(plug, ears.hear if listens else None)
    await wire.send(("$A*00",))
    await plug.hear(b"$A*00")
    plug.say(ACK[:5])
    plug.pull_out()
    for _ in range(2):
        with pytest.raises(NotifierError, match=r"was unplugged|is not there") as caught:
            await wire.send(("$B*00",))
        assert "Plug the adapter in" in caught.value.remedy
    plug.plug_in()
    await wire.send(("$C*00",))
    await plug.hear(b"$C*00")
    plug.say(ACK)
    if listens:
        assert await ears.next() == "$VRACK,001*50"
        assert ears.empty
    wire.close()
    plug.pull_out()


@pytest.mark.asyncio
async def test_a_port_in_use_is_told_as_that(plug: Plug) -> None:
    """It may be a source of our own."""
    plug.plug_in()
    with (
        serial.Serial(str(plug.device), exclusive=True),
        pytest.raises(NotifierError, match="is in use") as caught,
    ):
        await on(plug).send(("$A*00",))
    assert "UDP" in caught.value.remedy
    plug.pull_out()


@pytest.mark.asyncio
async def test_what_is_no_serial_port_is_told_as_that(plug: Plug) -> None:
    """A file, for example."""
    plug.device.touch()
    with pytest.raises(NotifierError, match="cannot be opened as a serial port") as caught:
        await on(plug).send(("$A*00",))
    assert caught.value.remedy


@pytest.mark.asyncio
async def test_the_notifier_outlives_an_adapter_that_is_pulled_out(
    plug: Plug, tmp_path: Path
) -> None:
    """It says so, and what is up is on the display again when it is back."""
    time, reports = FakeTime(), list[str | None]()
    context = make_context(tmp_path, clock=time.clock, sleep=time.sleep, report=reports.append)
    plug.plug_in()
    notifier = NmeaNotifier.from_options(
        {"device": str(plug.device), "answers": True, "sentences": "both"}, context
    )
    await plug.hear(b"$IIALC,01,01,00,0*")
    await notifier.notify(make_alert())
    await plug.hear(b"$IIALR,,001,A,V,The anchor is dragging.*")
    plug.say(ACK)
    await plug.hear(b"$IIARC,,,10001,,A*")
    plug.pull_out()
    with pytest.raises(NotifierError):
        await notifier.notify(make_alert(mono_s=101.0))
    await time.until_sleeping(30.0)
    await time.advance(30.0)
    await time.until_sleeping(5.0)
    assert "is not there" in str(reports[0])
    plug.plug_in()
    await time.advance(5.0)
    await plug.hear(b"$IIALC,01,01,02,1,,10001,1,")
    await time.until_sleeping(30.0)
    assert reports[1:] == [None]
    await notifier.close()
    plug.pull_out()
