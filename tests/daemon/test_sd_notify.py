"""What systemd is told; the protocol is that of sd_notify(3)."""

import socket
from pathlib import Path

import pytest

from driftlead.daemon.sd_notify import SdNotify


def test_every_message_reaches_a_socket_in_a_folder(folder: Path) -> None:
    """One datagram each, as sd_notify(3) spells them."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as systemd:
        systemd.bind(str(folder / "notify"))
        systemd.setblocking(False)
        notify = SdNotify(str(folder / "notify"))
        notify.ready()
        notify.status("two\nlines")
        notify.alive()
        notify.stopping()
        heard = [systemd.recv(100).decode() for _ in range(4)]
    assert heard == ["READY=1", "STATUS=two lines", "WATCHDOG=1", "STOPPING=1"]


def test_an_abstract_socket_is_reached_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its address begins with @ in the environment and with NUL in truth (unix(7))."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as systemd:
        systemd.bind("\0driftlead-abstract-test")
        systemd.setblocking(False)
        monkeypatch.setenv("NOTIFY_SOCKET", "@driftlead-abstract-test")
        SdNotify.from_environment().ready()
        assert systemd.recv(100) == b"READY=1"


@pytest.mark.parametrize("address", [None, "", "/nowhere/notify"])
def test_without_systemd_nothing_happens(address: str | None) -> None:
    """A watch in a terminal has nobody to tell."""
    SdNotify(address).ready()
