"""A real daemon process, a boat that talks to it, and a notifier that writes down what it hears."""

import datetime as dt
import json
import os
import select
import signal
import socket
import subprocess
import sys
import tempfile
import time
import tty
import uuid
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

import driftlead
from driftlead.daemon.control_client import ask
from driftlead.simulate.nmea_writer import gga, rmc

PATIENCE_S = 20.0
SOURCE_FOLDER = Path(driftlead.__file__).parents[1]

PLUGIN = """
import json

from driftlead.errors import NotifierError


class ToFile:
    def __init__(self, path):
        self.path = path

    @classmethod
    def from_options(cls, options, context):
        return cls(options["path"])

    async def notify(self, alert):
        with open(self.path, "a") as file:
            told = {"name": alert.name, "state": alert.state.value, "instance": alert.instance}
            file.write(json.dumps(told) + "\\n")

    async def check(self):
        return "The file is there."

    async def close(self):
        with open(self.path, "a") as file:
            file.write(json.dumps({"name": "closed"}) + "\\n")


class Broken:
    @classmethod
    def from_options(cls, options, context):
        return cls()

    async def notify(self, alert):
        raise NotifierError("The siren is broken.", remedy="Mend it.")
"""


class Boat:
    """Says where she is, a second of receiver time after another, as fast as one likes."""

    def __init__(self) -> None:
        self.utc = dt.datetime(2026, 7, 1, 20, 0, 0, tzinfo=dt.UTC)

    def at(
        self, north_m: float, *, seconds: int = 1, sog_mps: float = 0.0, cog_deg: float = 0.0
    ) -> list[str]:
        """Be at a place, in metres north of 46.5 N 31.2 W, for some seconds."""
        lines = []
        lon = -31.2
        for _ in range(seconds):
            self.utc += dt.timedelta(seconds=1)
            # A little to and fro, or the receiver would be called frozen.
            lat = 46.5 + (north_m + 0.2 * (self.utc.second % 3)) / 111_170.0
            lines.append(
                rmc(utc=self.utc, lat_deg=lat, lon_deg=lon, sog_mps=sog_mps, cog_deg=cog_deg)
            )
            lines.append(gga(utc=self.utc, lat_deg=lat, lon_deg=lon, satellites=11, hdop=0.9))
        return lines

    def going(self, from_m: float, to_m: float, mps: float = 0.5) -> list[str]:
        """Go along the meridian."""
        lines, north_m = [], from_m
        cog_deg = 0.0 if to_m > from_m else 180.0
        while abs(to_m - north_m) > mps:
            north_m += mps if to_m > from_m else -mps
            lines += self.at(north_m, sog_mps=mps, cog_deg=cog_deg)
        return lines


class Pty:
    """A pseudo terminal in place of a receiver on a serial port."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self.master = -1
        self.sent = 0
        self.plug_in()

    def plug_in(self) -> None:
        """Make the device appear."""
        self.master, slave = os.openpty()
        tty.setraw(slave)
        name = os.ttyname(slave)
        os.close(slave)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(name)

    def unplug(self) -> None:
        """Make it vanish."""
        self.link.unlink()
        os.close(self.master)
        self.master = -1

    def send(self, lines: list[str]) -> None:
        """Write lines, waiting where the daemon is slow to read."""
        self.sent += len(lines)
        self.send_bytes("".join(f"{line}\r\n" for line in lines).encode("latin-1"))

    def send_bytes(self, data: bytes) -> None:
        """Write bytes."""
        os.set_blocking(self.master, False)
        until_s = time.monotonic() + PATIENCE_S
        while data:
            assert time.monotonic() < until_s, "the daemon does not read its serial port"
            select.select([], [self.master], [], 1.0)
            with suppress(BlockingIOError):
                data = data[os.write(self.master, data) :]

    def close(self) -> None:
        """Give it back."""
        if self.master >= 0:
            os.close(self.master)


class Daemon:
    """One boat's daemon: its files live on while its process is killed and started."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.socket = folder / "control.sock"
        self.journal = folder / "state" / "journal.db"
        self.nights = folder / "nights"
        self.told_path = folder / "told.jsonl"
        self.events_path = folder / "events.jsonl"
        self.log_path = folder / "daemon.log"
        self.config_path = folder / "driftlead.toml"
        self.udp_port = _free_udp_port()
        self.gps = Pty(folder / "gps")
        self.extra = ""
        self.process: subprocess.Popen[bytes] | None = None
        self._notified: socket.socket | None = None
        self.said: list[str] = []
        _install_plugin(folder / "plugin")

    def config(self) -> str:
        """The configuration file."""
        return f"""
[boat]
name = "Corvid"
[[source]]
name = "gps"
kind = "serial"
device = "{self.gps.link}"
[[source]]
name = "instruments"
kind = "udp"
port = {self.udp_port}
bind = "127.0.0.1"
[[notifier]]
kind = "tofile"
path = "{self.told_path}"
[journal]
path = "{self.journal}"
[recording]
directory = "{self.nights}"
[control]
socket = "{self.socket}"
{self.extra}
"""

    def environment(self) -> dict[str, str]:
        """What the process gets."""
        path = [str(self.folder / "plugin"), str(SOURCE_FOLDER)]
        return {**os.environ, "PYTHONPATH": os.pathsep.join(path)}

    def start(self) -> float:
        """Start the process and wait until it says that it watches; the seconds that took."""
        self.config_path.write_text(self.config())
        address = f"driftlead-test-{uuid.uuid4()}"
        self._close_notified()
        self._notified = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._notified.bind("\0" + address)
        self.said = []
        self.gps.sent = 0
        began_s = time.monotonic()
        with self.log_path.open("ab") as log:
            self.process = subprocess.Popen(
                [
                    *(sys.executable, "-X", "dev", "-W", "error"),
                    *("-m", "driftlead.cli.main", "watch", "--config", str(self.config_path)),
                    *("--events", str(self.events_path)),
                ],
                env={**self.environment(), "NOTIFY_SOCKET": f"@{address}"},
                stdout=log,
                stderr=log,
            )
        self.wait_said("READY=1")
        return time.monotonic() - began_s

    def wait_said(self, text: str) -> None:
        """Wait until the process has told systemd this, or what begins so."""
        until_s = time.monotonic() + PATIENCE_S
        assert self._notified is not None
        assert self.process is not None
        self._notified.settimeout(0.2)
        while not any(said.startswith(text) for said in self.said):
            assert self.process.poll() is None, self.log()
            assert time.monotonic() < until_s, self.log()
            with suppress(TimeoutError):
                self.said.append(self._notified.recv(4096).decode())

    def log(self) -> str:
        """Everything the process has logged."""
        return self.log_path.read_text()

    def ask(self, **request: Any) -> Any:
        """Ask over the control socket."""
        return ask(self.socket, request)

    def command(self, verb: str, **arguments: Any) -> Any:
        """Give a command that must succeed."""
        answer = self.ask(command=verb, **arguments)
        assert answer["ok"], answer
        return answer

    def status(self) -> Any:
        """Ask for the status."""
        return self.ask(status=True)["status"]

    def until(self, true: Callable[[Any], bool]) -> Any:
        """Wait until the status is so."""
        until_s = time.monotonic() + PATIENCE_S
        while not true(status := self.status()):
            assert time.monotonic() < until_s, (status, self.log())
        return status

    def until_state(self, state: str) -> Any:
        """Wait for a state of the watch."""
        return self.until(lambda status: status["state"] == state)

    def until_heard(self) -> Any:
        """Wait until the core has had every line sent to the serial port since the start."""
        return self.until(lambda status: _lines_of(status, "gps") >= self.gps.sent)

    def send_udp(self, *lines: str) -> None:
        """Send a datagram of instruments."""
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            data = "".join(f"{line}\r\n" for line in lines).encode("latin-1")
            out.sendto(data, ("127.0.0.1", self.udp_port))

    def told(self) -> list[dict[str, str]]:
        """What the notifier has heard."""
        if not self.told_path.exists():
            return []
        return [json.loads(line) for line in self.told_path.read_text().splitlines()]

    def until_told(self, **wanted: str) -> None:
        """Wait until the notifier has heard this."""
        until_s = time.monotonic() + PATIENCE_S
        while not any(wanted.items() <= told.items() for told in self.told()):
            assert time.monotonic() < until_s, (self.told(), self.log())

    def kill(self) -> None:
        """Kill the process without a chance to clean up."""
        assert self.process is not None
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()

    def stop(self) -> int:
        """Stop it as systemd does; its exit code."""
        assert self.process is not None
        self.process.send_signal(signal.SIGTERM)
        code = self.process.wait(PATIENCE_S)
        assert "Traceback" not in self.log(), self.log()
        assert "Warning" not in self.log(), self.log()
        return code

    def heard_last(self) -> str:
        """The last thing it told systemd."""
        assert self._notified is not None
        self._notified.setblocking(False)
        with suppress(BlockingIOError):
            while True:
                self.said.append(self._notified.recv(4096).decode())
        return self.said[-1]

    def close(self) -> None:
        """Leave nothing behind."""
        if self.process is not None and self.process.poll() is None:
            self.kill()
        self._close_notified()
        self.gps.close()

    def _close_notified(self) -> None:
        if self._notified is not None:
            self._notified.close()
            self._notified = None


def _free_udp_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _lines_of(status: Any, source: str) -> int:
    """Count the lines the core has had from a source."""
    (found,) = [each for each in status["sources"] if each["name"] == source]
    fates = ("accepted", "unsupported", "rejected")
    return sum(sum(found[fate].values()) for fate in fates)


def _install_plugin(folder: Path) -> None:
    """Lay the notifiers down as an installed package would be."""
    info = folder / "fake_siren-1.dist-info"
    info.mkdir(parents=True)
    (folder / "fake_siren.py").write_text(PLUGIN)
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: fake-siren\nVersion: 1\n")
    (info / "entry_points.txt").write_text(
        "[driftlead.notifiers]\ntofile = fake_siren:ToFile\nbroken = fake_siren:Broken\n"
    )


@pytest.fixture
def folder() -> Iterator[Path]:
    """Give a folder with a short name: the path of a socket may have a hundred characters."""
    with tempfile.TemporaryDirectory(prefix="dl") as name:
        yield Path(name)


@pytest.fixture
def daemon(folder: Path) -> Iterator[Daemon]:
    """Give a daemon that is not started yet."""
    made = Daemon(folder)
    yield made
    made.close()


@pytest.fixture
def boat() -> Boat:
    """Give a boat."""
    return Boat()
