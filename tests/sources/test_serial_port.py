"""A serial port, played by a pseudo-terminal."""

import errno
import os
import termios
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import serial

from driftlead.sources.settings import SerialSettings

if TYPE_CHECKING:
    from tests.sources.conftest import Hearing

HDT = b"$GPHDT,123.456,T*32"


class Receiver:
    """A receiver that can be plugged in at ``device`` and pulled out."""

    def __init__(self, folder: Path) -> None:
        self.device = folder / "by-id-gps"
        self.settings = SerialSettings(name="gps", device=str(self.device))
        self._ours = -1

    def plug_in(self) -> None:
        """Make the device."""
        self._ours, theirs = os.openpty()
        self.device.symlink_to(os.ttyname(theirs))
        self._theirs = theirs

    def send(self, data: bytes) -> None:
        """Send by the wire."""
        os.write(self._ours, data)

    def pull_out(self) -> None:
        """Take the device away."""
        self.device.unlink()
        os.close(self._theirs)
        os.close(self._ours)


@pytest.mark.asyncio
async def test_unplugged(hearing: "Hearing", tmp_path: Path) -> None:
    """A receiver pulled out is told once, waited for, and read again at the same path."""
    hearing.held = True
    receiver = Receiver(tmp_path)
    receiver.plug_in()
    async with hearing.running(receiver.settings):
        await hearing.until_health(is_open=True)
        receiver.send(HDT + b"\r\n" + HDT[:9])
        await hearing.until_lines(1)
        receiver.pull_out()
        detail = await hearing.until_health(is_open=False)
        assert "was unplugged" in detail
        assert "Plug the receiver in again" in detail
        for waits in (1, 2, 3):
            await hearing.until(lambda: len(hearing.sleeps_s) == waits)  # noqa: B023
            hearing.let_wake()
        await hearing.until(lambda: len(hearing.sleeps_s) == 4)
        # One change of the text, from "was unplugged" to "is not there", and no more.
        assert [health.open for health in hearing.healths] == [True, False, False]
        receiver.plug_in()
        hearing.let_wake()
        await hearing.until_health(is_open=True)
        receiver.send(HDT[9:] + b"\r\n" + HDT + b"\r\n")
        await hearing.until_lines(3)
        assert hearing.sleeps_s == [0.5, 1.0, 2.0, 4.0]
        receiver.pull_out()
        await hearing.until(lambda: len(hearing.sleeps_s) == 5)
    # The halves of the sentence torn in two are not joined.
    assert hearing.texts == [HDT.decode(), HDT[9:].decode(), HDT.decode()]
    # Data had flowed, so the wait started again at the shortest.
    assert hearing.sleeps_s[-1] == 0.5


@pytest.mark.asyncio
async def test_missing(hearing: "Hearing", tmp_path: Path) -> None:
    """A device that is not there is told with where to look, and read once it is there."""
    hearing.held = True
    receiver = Receiver(tmp_path)
    async with hearing.running(receiver.settings):
        detail = await hearing.until_health(is_open=False)
        assert detail.startswith(f"{receiver.device} is not there.")
        assert "/dev/serial/by-id" in detail
        receiver.plug_in()
        hearing.let_wake()
        await hearing.until_health(is_open=True)
        receiver.send(HDT + b"\n")
        await hearing.until_lines(1)
    receiver.pull_out()


@pytest.mark.asyncio
async def test_busy(hearing: "Hearing", tmp_path: Path) -> None:
    """A device another program holds is told as that."""
    hearing.held = True
    receiver = Receiver(tmp_path)
    receiver.plug_in()
    with serial.Serial(str(receiver.device), exclusive=True):
        async with hearing.running(receiver.settings):
            detail = await hearing.until_health(is_open=False)
    receiver.pull_out()
    assert f"{receiver.device} is in use by another program." in detail
    assert "Close that program" in detail


@pytest.mark.asyncio
async def test_no_serial_port(hearing: "Hearing", tmp_path: Path) -> None:
    """A file that is no serial port is told as that."""
    hearing.held = True
    file = tmp_path / "file"
    file.touch()
    async with hearing.running(SerialSettings(name="gps", device=str(file))):
        detail = await hearing.until_health(is_open=False)
    assert f"{file} cannot be opened as a serial port" in detail
    assert "Check that device" in detail


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("error", "words"),
    [
        (serial.SerialException(errno.EACCES, "could not open port"), ("permission", "dialout")),
        (serial.SerialException(errno.EBUSY, "could not open port"), ("in use",)),
        (serial.SerialException(errno.ENXIO, "could not open port"), ("is not there",)),
        (termios.error(errno.EIO, "Input/output error"), ("Input/output error",)),
    ],
)
async def test_cannot_open(
    hearing: "Hearing", monkeypatch: pytest.MonkeyPatch, error: Exception, words: tuple[str, ...]
) -> None:
    """Each refusal of the system has words of its own; root would not meet some of them."""

    def refuse(*_args: Any, **_options: Any) -> None:
        raise error

    monkeypatch.setattr("driftlead.sources.serial_port.serial.Serial", refuse)
    hearing.held = True
    async with hearing.running(SerialSettings(name="gps", device="/dev/ttyUSB0")):
        detail = await hearing.until_health(is_open=False)
    for word in ("/dev/ttyUSB0", *words):
        assert word in detail


@pytest.mark.asyncio
async def test_noise(hearing: "Hearing", tmp_path: Path) -> None:
    """Noise without a line end (a wrong speed) is dropped, and the next sentence read."""
    receiver = Receiver(tmp_path)
    receiver.plug_in()
    async with hearing.running(receiver.settings):
        await hearing.until_health(is_open=True)
        receiver.send(bytes(range(128, 256)) * 12)
        receiver.send(b"\r\n" + HDT + b"\r\n")
        await hearing.until_lines(1)
    receiver.pull_out()
    assert hearing.texts == [HDT.decode()]


@pytest.mark.asyncio
@pytest.mark.parametrize("baud", [4800, 38400])
async def test_line_settings(hearing: "Hearing", tmp_path: Path, baud: int) -> None:
    """The port is set to 8 data bits, no parity, 1 stop bit and the speed (as termios has it)."""
    receiver = Receiver(tmp_path)
    receiver.plug_in()
    settings = SerialSettings(name="gps", device=str(receiver.device), baud=baud)
    async with hearing.running(settings):
        await hearing.until_health(is_open=True)
        _i, _o, cflag, lflag, ispeed, _ospeed, _cc = termios.tcgetattr(receiver._theirs)
    receiver.pull_out()
    assert cflag & termios.CSIZE == termios.CS8
    assert not cflag & (termios.PARENB | termios.CSTOPB)
    assert not lflag & (termios.ICANON | termios.ECHO)
    assert ispeed == {4800: termios.B4800, 38400: termios.B38400}[baud]
