"""Telling systemd how we are (sd_notify(3)): a datagram of ``NAME=value`` lines."""

import contextlib
import os
import socket


class SdNotify:
    """Sends to the socket at ``address``; without one every call does nothing."""

    def __init__(self, address: str | None) -> None:
        # A leading @ stands for the NUL of Linux's abstract socket names.
        self._address = "\0" + address[1:] if address and address[0] == "@" else address

    @classmethod
    def from_environment(cls) -> "SdNotify":
        """Take the address systemd gives its services."""
        return cls(os.environ.get("NOTIFY_SOCKET"))

    def ready(self) -> None:
        """Say that the watch is being kept."""
        self._send("READY=1")

    def stopping(self) -> None:
        """Say that we stop on purpose."""
        self._send("STOPPING=1")

    def status(self, text: str) -> None:
        """Give ``systemctl status`` a line of text."""
        self._send(f"STATUS={' '.join(text.split())}")

    def alive(self) -> None:
        """Feed the watchdog."""
        self._send("WATCHDOG=1")

    def _send(self, text: str) -> None:
        if not self._address:
            return
        # Nothing the watch could do about it: if it lasts, the watchdog restarts us.
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as out:
            out.setblocking(False)
            out.sendto(text.encode(), self._address)
