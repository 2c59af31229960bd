"""The wires to displays: UDP and serial, sending and hearing on the same one."""

import asyncio
import contextlib
import errno
import ipaddress
import os
import socket
import termios
from collections.abc import Callable
from typing import Any, Protocol

from driftlead.errors import NotifierError
from driftlead.nmea.datagram import datagram_lines
from driftlead.nmea.framing import LineFramer

OnLine = Callable[[str], None]
_CHUNK_BYTES = 4096
_LARGEST_DATAGRAM_BYTES = 65535


class Wire(Protocol):
    """Carries sentences to displays; ``on_line`` of its builder hears the lines that come back."""

    @property
    def where(self) -> str:
        """The wire in words."""

    async def send(self, sentences: tuple[str, ...]) -> None:
        """Send them, opening the wire first if need be. Raises NotifierError with a remedy."""

    def close(self) -> None:
        """Close it. May be called more than once."""


class UdpWire:
    """Sends each sentence as a datagram of its own to an address, a broadcast or a group.

    Without ``on_line`` nothing is listened for. What is heard comes in on the port that is sent
    from: ``listen``, or any free one that displays learn from our datagrams. The port is not
    shared: another program's datagrams must not get lost here.
    """

    def __init__(
        self, host: str, port: int, *, listen: int | None, bind: str, on_line: OnLine | None
    ) -> None:
        self._to = (host, port)
        self._group = host if ipaddress.IPv4Address(host).is_multicast else None
        self._listen = listen
        self._bind = bind
        self._on_line = on_line
        self._socket: socket.socket | None = None

    @property
    def where(self) -> str:
        """Where it sends to."""
        return f"UDP {self._to[0]}:{self._to[1]}"

    async def send(self, sentences: tuple[str, ...]) -> None:
        """Send them. That nobody hears them cannot be known."""
        if self._socket is None:
            self._socket = self._open()
        for sentence in sentences:
            try:
                self._socket.sendto(f"{sentence}\r\n".encode("ascii"), self._to)
            except BlockingIOError:
                continue  # the queue of the network is full: UDP may lose, and the list repeats
            except OSError as error:
                raise self._failed("cannot be sent to", error) from error

    def close(self) -> None:
        """Close it."""
        opened, self._socket = self._socket, None
        if opened is not None:
            if self._on_line is not None:
                asyncio.get_running_loop().remove_reader(opened.fileno())
            opened.close()

    def _open(self) -> socket.socket:
        opening = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            opening.setblocking(False)
            opening.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
            opening.bind((self._bind, self._listen or 0))
            if self._group is not None:
                own = socket.inet_aton(self._bind)
                opening.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, own)
                if self._listen is not None:
                    membership = socket.inet_aton(self._group) + own
                    opening.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, membership)
        except OSError as error:
            opening.close()
            raise self._failed("cannot be opened for", error) from error
        if self._on_line is not None:
            loop = asyncio.get_running_loop()
            loop.add_reader(opening.fileno(), self._hear, opening, self._on_line)
        return opening

    def _hear(self, listening: socket.socket, on_line: OnLine) -> None:
        # An error here is of a datagram that was sent before and reached nobody: no matter.
        with contextlib.suppress(OSError):
            for line in datagram_lines(listening.recv(_LARGEST_DATAGRAM_BYTES)):
                on_line(line)

    def _failed(self, what: str, error: OSError) -> NotifierError:
        if error.errno == errno.EADDRINUSE:
            return NotifierError(
                f"{self.where}: port {self._listen} is in use, perhaps by a source of our own.",
                remedy="Set listen to a port that nothing else listens on.",
            )
        if error.errno == errno.EADDRNOTAVAIL:
            return NotifierError(
                f"{self.where}: this machine has no address {self._bind}.",
                remedy="Check that the network is up, and set bind to an address ip addr shows.",
            )
        reason = error.strerror or str(error)
        return NotifierError(
            f"{self.where} {what}: {reason}.",
            remedy="Check that the network is up, and host and port.",
        )


class SerialWire:
    """Sends on a serial port of its own; one that is unplugged is opened again by the next send."""

    def __init__(self, device: str, baud: int, *, on_line: OnLine | None) -> None:
        self._device = device
        self._baud = baud
        self._on_line = on_line
        self._port: Any = None
        self._framer = LineFramer()
        self._sending = asyncio.Lock()

    @property
    def where(self) -> str:
        """The port and its speed."""
        return f"{self._device} at {self._baud} baud"

    async def send(self, sentences: tuple[str, ...]) -> None:
        """Return when the port has taken everything."""
        async with self._sending:
            if self._port is None:
                self._open()
            data = "".join(f"{sentence}\r\n" for sentence in sentences).encode("ascii")
            try:
                while data and self._port is not None:
                    data = data[await self._write(data) :]
            except OSError as error:
                self.close()
                raise self._lost() from error
            if data:  # it was closed meanwhile, because nothing can be read from it any more
                raise self._lost()

    def close(self) -> None:
        """Close it."""
        port, self._port = self._port, None
        if port is None:
            return
        # Closing what was pulled out may fail once more, with nothing left to lose.
        with contextlib.suppress(OSError, termios.error):
            asyncio.get_running_loop().remove_reader(port.fileno())
            asyncio.get_running_loop().remove_writer(port.fileno())
            port.close()

    def _open(self) -> None:
        # Only for those who use it.
        from driftlead.sources.serial_open import SerialPortError, open_serial  # noqa: PLC0415

        try:
            port = open_serial(
                self._device,
                self._baud,
                plugged="adapter",
                in_use="Give the displays a port of their own that no source of ours reads, or send"
                " to them by UDP.",
            )
        except SerialPortError as error:
            raise NotifierError(error.message, remedy=error.remedy) from error
        os.set_blocking(port.fileno(), False)
        self._port = port
        # Half a sentence from before a loss must not be joined to half of one from after it.
        self._framer = LineFramer()
        if self._on_line is not None:
            asyncio.get_running_loop().add_reader(port.fileno(), self._hear, self._on_line)

    async def _write(self, data: bytes) -> int:
        """Write what the port takes; 0 after waiting until it takes more."""
        fd = self._port.fileno()
        try:
            return os.write(fd, data)
        except BlockingIOError:
            loop = asyncio.get_running_loop()
            ready = loop.create_future()
            loop.add_writer(fd, _settle, ready)
            try:
                await ready
            finally:
                loop.remove_writer(fd)
            return 0

    def _hear(self, on_line: OnLine) -> None:
        try:
            data = os.read(self._port.fileno(), _CHUNK_BYTES)
        except BlockingIOError:
            return
        except OSError:
            data = b""
        if not data:  # unplugged: the next send opens it again, or tells
            self.close()
            return
        for line in self._framer.feed(data):
            on_line(line)

    def _lost(self) -> NotifierError:
        return NotifierError(
            f"{self._device} was unplugged or has failed.",
            remedy="Plug the adapter in again; it is then used without a restart.",
        )


def _settle(ready: "asyncio.Future[None]") -> None:
    # The loop may call twice before the waiting task runs.
    if not ready.done():
        ready.set_result(None)
