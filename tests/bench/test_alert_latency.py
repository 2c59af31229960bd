"""From the decision to the first sounder command: how long an alarm waits in the daemon."""

import asyncio
import os
import socket
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from driftlead.config.load import load_config
from driftlead.core.inputs import Acknowledge, Fault
from driftlead.daemon.service import Service

pytestmark = pytest.mark.bench
ALERTS = 200
LIMIT_S = 0.05
AGAINST_BARE = 2.0
"""A machine with other work starts every program late; so many times a bare start is allowed."""
PATIENCE_S = 20.0


@pytest.fixture
def folder() -> Iterator[Path]:
    """A short path: that of a socket may have a hundred characters."""
    with tempfile.TemporaryDirectory(prefix="dl") as name:
        yield Path(name)


class Ear:
    """Hears each start of the fake player, in a thread of its own, so that the loop is no part."""

    def __init__(self, folder: Path) -> None:
        self._pipe = folder / "starts"
        os.mkfifo(self._pipe)
        # Opened both ways, a named pipe neither blocks nor forgets while no player has it open.
        self._fd = os.open(self._pipe, os.O_RDWR)
        self.player = folder / "player"
        self.player.write_text(f'#!/bin/sh\necho "${{1##*/}}" > {self._pipe}\nexec sleep 60\n')
        self.player.chmod(0o755)
        self.heard_s: asyncio.Queue[float] = asyncio.Queue()
        self._loop = asyncio.get_running_loop()
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()

    def _listen(self) -> None:
        while (said := os.read(self._fd, 4096)) != b"end\n":
            now_s = time.perf_counter()
            # Silence is played now and then to see that the player works.
            if b"silence" not in said:
                self._loop.call_soon_threadsafe(self.heard_s.put_nowait, now_s)

    def close(self) -> None:
        """End the thread."""
        os.write(self._fd, b"end\n")
        self._thread.join()
        os.close(self._fd)


async def bare_start_s(ear: Ear) -> float:
    """Seconds to start the player with nothing around it."""
    began_s = time.perf_counter()
    player = await asyncio.create_subprocess_exec(ear.player, "alarm.wav")
    async with asyncio.timeout(PATIENCE_S):
        taken_s = await ear.heard_s.get() - began_s
    player.kill()
    await player.wait()
    return taken_s


async def latencies_s(folder: Path) -> tuple[list[float], list[float]]:
    """Raise one alert after another, and start a bare player after each.

    Gives the seconds from each decision to the start of the player, and from each bare start.
    """
    ear = Ear(folder)
    path = folder / "driftlead.toml"
    path.write_text(
        f"""
[[source]]
name = "gps"
kind = "udp"
port = {_free_udp_port()}
bind = "127.0.0.1"
[[notifier]]
kind = "log"
[[notifier]]
kind = "sound"
players = [["{ear.player}"]]
[journal]
path = "{folder}/journal.db"
[recording]
directory = "{folder}/nights"
[control]
socket = "{folder}/control.sock"
"""
    )
    service = Service(load_config(path))
    running = asyncio.create_task(service.run())
    taken, bare = [], []
    try:
        await asyncio.sleep(1.0)
        link = service._link
        for number in range(ALERTS):
            decided_s = time.perf_counter()
            link.fault(Fault(name="source_silent", instance=str(number), text="Unplugged."))
            async with asyncio.timeout(PATIENCE_S):
                taken.append(await ear.heard_s.get() - decided_s)
            link.command(Acknowledge())
            link.fault(Fault(name="source_silent", instance=str(number), text=None))
            dispatcher = service._dispatcher
            assert dispatcher is not None
            await dispatcher.idle()
            bare.append(await bare_start_s(ear))
    finally:
        service.request_stop()
        await running
        ear.close()
    return taken, bare


def _free_udp_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def test_the_sounder_is_started_within_fifty_milliseconds(folder: Path) -> None:
    taken, bare = map(sorted, asyncio.run(latencies_s(folder)))
    middle, last = ALERTS // 2, int(0.99 * ALERTS)
    print(
        f"\n{ALERTS} alerts: from decision to the start of the player median "
        f"{1000 * taken[middle]:.1f} ms, p99 {1000 * taken[last]:.1f} ms; "
        f"a bare start median {1000 * bare[middle]:.1f} ms, p99 {1000 * bare[last]:.1f} ms"
    )
    assert taken[last] < max(LIMIT_S, AGAINST_BARE * bare[last])
