"""Lines from UDP datagrams: unicast, broadcast or a multicast group."""

import errno
import socket
from typing import Final, NoReturn

from driftlead.nmea.datagram import datagram_lines
from driftlead.sources.backoff import Backoff
from driftlead.sources.base import Clock, Emit, OnHealth, Sleep
from driftlead.sources.outlet import Outlet
from driftlead.sources.readable import wait_readable
from driftlead.sources.reason import os_reason
from driftlead.sources.reopen import SourceLostError, keep_open
from driftlead.sources.settings import UdpSettings

_LARGEST_DATAGRAM_BYTES: Final = 65535


class UdpSource:
    """Listens on one UDP port.

    The port is shared with other programs that share it too. Each of them then hears every
    broadcast and multicast datagram, but a unicast one reaches only one program.
    """

    def __init__(
        self, settings: UdpSettings, *, emit: Emit, clock: Clock, on_health: OnHealth, sleep: Sleep
    ) -> None:
        self.name = settings.name
        self._port = settings.port
        self._bind = settings.bind
        self._group = settings.group
        self._outlet = Outlet(settings.name, emit=emit, clock=clock, on_health=on_health)
        self._backoff = Backoff(sleep)

    async def run(self) -> None:
        """Read until cancelled."""
        await keep_open(self._session, outlet=self._outlet, backoff=self._backoff)

    async def _session(self) -> NoReturn:
        with self._open() as listening:
            where = f", group {self._group}" if self._group else ""
            self._outlet.opened(f"Listening on UDP port {self._port}{where}.")
            while True:
                await wait_readable(listening.fileno())
                self._outlet.lines(datagram_lines(self._receive(listening)))
                self._backoff.reset()

    def _open(self) -> socket.socket:
        opening = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        try:
            opening.setblocking(False)
            opening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            opening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
            if self._group is None:
                opening.bind((self._bind, self._port))
            else:
                # Bound to the group, not to all addresses, or Linux would deliver any group that
                # some program on this machine has joined on the same port.
                opening.bind((self._group, self._port))
                membership = socket.inet_aton(self._group) + socket.inet_aton(self._bind)
                opening.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, membership)
        except OSError as error:
            opening.close()
            raise self._cannot_open(error) from error
        return opening

    def _receive(self, listening: socket.socket) -> bytes:
        try:
            return listening.recv(_LARGEST_DATAGRAM_BYTES)
        except BlockingIOError:
            # Linux reports a datagram as readable before it proves its checksum and drops it.
            return b""
        except OSError as error:
            raise SourceLostError(
                f"UDP port {self._port} has failed ({os_reason(error)}).",
                remedy="Check the network; the port is opened again without a restart.",
            ) from error

    def _cannot_open(self, error: OSError) -> SourceLostError:
        if error.errno == errno.EADDRINUSE:
            return SourceLostError(
                f"UDP port {self._port} is in use by another program.",
                remedy="Close that program (sudo ss -ulpn shows it), or have the data sent to"
                " another port and set port to that.",
            )
        if error.errno == errno.EACCES:
            return SourceLostError(
                f"There is no permission to listen on UDP port {self._port}.",
                remedy="Use a port from 1024 on.",
            )
        if error.errno in (errno.EADDRNOTAVAIL, errno.ENODEV):
            return SourceLostError(
                f"This machine has no network interface with the address {self._bind}"
                f"{' to join a group on' if self._group else ''}.",
                remedy="Check that the network is up, and set bind to an address that"
                " ip addr shows.",
            )
        return SourceLostError(
            f"UDP port {self._port} cannot be opened ({os_reason(error)}).",
            remedy="Check port, bind and group.",
        )
