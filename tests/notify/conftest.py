"""Fake players for the sound tests: small scripts that a test starts, follows and ends by hand."""

import asyncio
import os
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
        path.write_text(f'#!/bin/sh\necho "$$ {name} $1" > "{self._starts}"\n{body}\n')
        path.chmod(0o755)
        return [str(path)]

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
