"""Fake players for the sound tests: small scripts that a test starts, follows and ends by hand.

And a real broker for the tests of MQTT.
"""

import asyncio
import os
import select
import shutil
import signal
import socket
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

REAL_LIMIT_S = 20.0  # for real processes to come and go; reached only when something is broken


class Deck:
    """Makes player scripts in a folder and talks with them through named pipes."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._starts = folder / "starts"
        self._orders = folder / "orders"
        os.mkfifo(self._starts)
        os.mkfifo(self._orders)
        # Opened both ways, a named pipe neither blocks nor forgets while no script has it open.
        self._starts_fd = os.open(self._starts, os.O_RDWR | os.O_NONBLOCK)
        self._orders_fd = os.open(self._orders, os.O_RDWR)
        self._heard = b""

    def player(self, name: str, body: str) -> list[str]:
        """Write a player that says that it starts, then does ``body`` (shell)."""
        path = self._folder / name
        path.write_text(f"#!/bin/sh\n{self.says(name)}\n{body}\n")
        path.chmod(0o755)
        return [str(path)]

    def says(self, name: str) -> str:
        """Give the line of shell with which a player says that it starts."""
        return f'echo "$$ {name} $1" > "{self._starts}"'

    def obedient(self, name: str = "obedient") -> list[str]:
        """Write a player that plays until ``end`` tells one of its kind with which code to end."""
        return self.player(name, f'read code < "{self._orders}"\nexit "$code"')

    def failing(self, name: str = "failing") -> list[str]:
        """Write a player that fails at once."""
        return self.player(name, 'echo "audio open error: No such device" >&2\nexit 1')

    def end(self, code: int = 0) -> None:
        """End one obedient player."""
        os.write(self._orders_fd, f"{code}\n".encode())

    async def began(self) -> tuple[int, str, str]:
        """Wait for the next start: the process id, the player's and the sound's name."""
        while b"\n" not in self._heard:
            self._heard += await self.read(self._starts_fd)
        line, _, self._heard = self._heard.partition(b"\n")
        pid, name, sound = line.decode().split()
        return int(pid), name, Path(sound).stem

    async def read(self, fd: int) -> bytes:
        """Wait for something to read from a pipe; nothing means its end."""
        await asyncio.wait_for(readable(fd), REAL_LIMIT_S)
        return os.read(fd, 4096)

    def close(self) -> None:
        """Close the pipes."""
        os.close(self._starts_fd)
        os.close(self._orders_fd)


async def readable(fd: int) -> None:
    """Wait until ``fd`` can be read or is at its end."""
    loop = asyncio.get_running_loop()
    ready: asyncio.Future[None] = loop.create_future()

    def note() -> None:
        if not ready.done():
            ready.set_result(None)

    loop.add_reader(fd, note)
    try:
        await ready
    finally:
        loop.remove_reader(fd)


@pytest.fixture
def deck(tmp_path: Path) -> Iterator[Deck]:
    """A folder of fake players."""
    folder = tmp_path / "deck"
    folder.mkdir()
    made = Deck(folder)
    yield made
    made.close()


class Broker:
    """A mosquitto on a free port of the loopback, started and ended by the test."""

    def __init__(self, program: str, folder: Path) -> None:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self.config = (
            f"listener {self.port} 127.0.0.1\npersistence false\nlog_dest stderr\nuser root\n"
        )
        """Whoever wants other options adds to it before ``start``. (``user`` counts for root.)"""
        self._program = program
        self._file = folder / "mosquitto.conf"
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it; what it held before is forgotten. Returns when it listens."""
        allow = "" if "allow_anonymous" in self.config else "allow_anonymous true\n"
        self._file.write_text(self.config + allow)
        reading, writing = os.pipe()
        self._process = subprocess.Popen([self._program, "-c", str(self._file)], stderr=writing)
        os.close(writing)
        said = b""
        while b" running" not in said and select.select([reading], [], [], REAL_LIMIT_S)[0]:
            piece = os.read(reading, 4096)
            said += piece
            if not piece:
                break
        assert b" running" in said, f"mosquitto did not start: {said.decode()}"
        self._reading = reading  # kept open, for it goes on talking (little: a pipe holds it)

    def kill(self) -> None:
        """End it as a power cut would, if it runs."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait(REAL_LIMIT_S)
            os.close(self._reading)

    def hang(self) -> None:
        """Let it answer nobody, but keep its connections."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[Broker]:
    """A broker that the test starts. Where CI is set, it must be there."""
    program = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if program is None:
        missing = "mosquitto is not installed (Debian: apt-get install mosquitto)"
        if os.environ.get("CI"):
            pytest.fail(missing)
        pytest.skip(missing)
    folder = tmp_path / "broker"
    folder.mkdir()
    made = Broker(program, folder)
    yield made
    made.kill()
