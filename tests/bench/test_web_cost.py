"""Twenty devices that look at the page at once, and what that costs the detector."""

import asyncio
import datetime as dt
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from attrs import frozen

from driftlead.config.load import build_config
from driftlead.core.inputs import LetGo
from driftlead.daemon.service import Service
from driftlead.lines import StampedLine
from driftlead.simulate.nmea_writer import dpt, gga, hdt, mwv, rmc
from driftlead.sources.build import build_source

pytestmark = pytest.mark.bench
HZ = 10
SECONDS = 20
CLIENTS = 20

LOOKERS = """
import asyncio, sys
import aiohttp

async def listen(session, cookie):
    async with session.get("/api/v1/stream", headers={"Cookie": cookie}) as response:
        assert response.status == 200, await response.text()
        print("listens", flush=True)
        async for _ in response.content:
            pass

async def look(session, cookie, late_s):
    # People do not look all at the same thousandth of a second.
    await asyncio.sleep(late_s)
    while True:
        for path in ("now", "track", "events"):
            async with session.get(f"/api/v1/{path}", headers={"Cookie": cookie}) as response:
                assert response.status == 200, await response.text()
                await response.read()
        await asyncio.sleep(5.0)

async def main(origin, tokens):
    timeout = aiohttp.ClientTimeout(total=None)
    async with aiohttp.ClientSession(origin, timeout=timeout) as session:
        async with asyncio.TaskGroup() as tasks:
            for number, token in enumerate(tokens):
                cookie = f"driftlead_device={token}"
                tasks.create_task(listen(session, cookie))
                tasks.create_task(look(session, cookie, number * 5.0 / len(tokens)))

asyncio.run(main(sys.argv[1], sys.argv[2:]))
"""


@pytest.fixture
def folder() -> Iterator[Path]:
    """A short path: that of a socket may have a hundred characters."""
    with tempfile.TemporaryDirectory(prefix="dl") as name:
        yield Path(name)


def free_port(kind: socket.SocketKind) -> int:
    """A port nobody listens on."""
    with socket.socket(socket.AF_INET, kind) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def datagram(number: int) -> bytes:
    """Five sentences of one epoch, yawing a little."""
    utc = dt.datetime(2026, 7, 1, 20, 0, 0, tzinfo=dt.UTC) + dt.timedelta(seconds=number / HZ)
    lat_deg = 46.5 + 1e-7 * (number % 97)
    lines = (
        hdt(heading_deg=40.0 + number % 30),
        mwv(off_bow_deg=10.0 + number % 20, speed_mps=7.3),
        dpt(below_transducer_m=6.1, transducer_below_water_m=0.4),
        rmc(utc=utc, lat_deg=lat_deg, lon_deg=-31.2, sog_mps=0.1, cog_deg=90.0),
        gga(utc=utc, lat_deg=lat_deg, lon_deg=-31.2, satellites=11, hdop=0.9),
    )
    return "".join(f"{line}\r\n" for line in lines).encode("ascii")


class Bench:
    """A daemon that measures how long each fix takes from being sent to being judged."""

    def __init__(self, folder: Path) -> None:
        self.udp_port = free_port(socket.SOCK_DGRAM)
        self.web_port = free_port(socket.SOCK_STREAM)
        raw = {
            "boat": {"name": "Corvid"},
            "source": [{"name": "gps", "kind": "udp", "port": self.udp_port, "bind": "127.0.0.1"}],
            "notifier": [{"kind": "log"}],
            "journal": {"path": "journal.db"},
            "recording": {"directory": "nights"},
            "control": {"socket": "control.sock"},
            "web": {"listen": f"127.0.0.1:{self.web_port}"},
        }
        config = build_config(raw, folder / "driftlead.toml")
        self.service = Service(config, make_source=self._make_source)
        self.sent_s = 0.0
        self.taken_s: list[float] = []

    def _make_source(self, settings: Any, **given: Any) -> Any:
        emit = given.pop("emit")
        last: list[Any] = [None]

        def timed(line: StampedLine) -> None:
            emit(line)
            judgement = self.service._link.core.watch.judgement
            if judgement is not None and judgement is not last[0]:
                last[0] = judgement
                self.taken_s.append(time.perf_counter() - self.sent_s)

        return build_source(settings, emit=timed, **given)

    def send(self, first: int) -> None:
        """Send for a while, in a thread."""
        data = [datagram(first + number) for number in range(HZ * SECONDS)]
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            next_s = time.perf_counter()
            for each in data:
                next_s += 1.0 / HZ
                time.sleep(max(0.0, next_s - time.perf_counter()))
                self.sent_s = time.perf_counter()
                out.sendto(each, ("127.0.0.1", self.udp_port))

    async def sorted_s(self, first: int) -> list[float]:
        """Send for a while; how long each fix took, the quickest first."""
        self.taken_s.clear()
        sender = threading.Thread(target=self.send, args=(first,))
        sender.start()
        await asyncio.to_thread(sender.join)
        await asyncio.sleep(0.2)
        return sorted(self.taken_s)


@frozen
class Measured:
    """What was measured in one round; the quickest fixes first."""

    taken_s: list[float]
    longest_s: float
    cpu_s: float

    def p(self, share: float) -> float:
        """So long or less took that share of the fixes."""
        return self.taken_s[int(share * len(self.taken_s))]

    def line(self, what: str) -> str:
        """Everything in words."""
        return (
            f"{what}: from sending to decision median {1000 * self.p(0.5):.2f} ms, p99 "
            f"{1000 * self.p(0.99):.2f} ms; the loop worked for {1000 * self.longest_s:.2f} ms at "
            f"the most before it looked for a fix; {100 * self.cpu_s / SECONDS:.1f} % of a core"
        )


class BusyLoop(asyncio.SelectorEventLoop):
    """Notes for how long, in processor time, it works before it looks for input again."""

    longest_s = 0.0

    def _run_once(self) -> None:
        began_s = time.thread_time()
        super()._run_once()  # type: ignore[misc]
        self.longest_s = max(self.longest_s, time.thread_time() - began_s)


async def one_round(bench: Bench, first: int) -> Measured:
    """Send for a while, and measure."""
    loop = asyncio.get_running_loop()
    assert isinstance(loop, BusyLoop)
    began_s, loop.longest_s = time.process_time(), 0.0
    taken_s = await bench.sorted_s(first)
    return Measured(taken_s, loop.longest_s, time.process_time() - began_s)


async def measured(folder: Path) -> tuple[Measured, Measured]:
    """Without and with those who look."""
    bench = Bench(folder)
    running = asyncio.create_task(bench.service.run())
    web = bench.service._web
    assert web is not None
    while web.port is None:
        await asyncio.sleep(0.05)
        assert not running.done()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
        for number in range(20):
            out.sendto(datagram(number), ("127.0.0.1", bench.udp_port))
            await asyncio.sleep(0.05)
    reply, _saved = bench.service._link.command(LetGo(rode_m=30.0, depth_m=6.0))
    assert reply.accepted, reply
    # Eight hours of track, which is what each of them loads.
    status = bench.service._link.core.status(bench.service._clock())
    for n in range(5760):
        web._live.history.look(n * 5.0 - 30_000.0, status)

    await asyncio.sleep(0.5)
    alone = await one_round(bench, 20)
    tokens = [(await web._devices.add(f"device {n}"))[1] for n in range(CLIENTS)]
    origin = f"http://127.0.0.1:{bench.web_port}"
    lookers = await asyncio.create_subprocess_exec(
        # Elsewhere they are on other machines, and take nothing from this one.
        *("nice", "-n", "19", sys.executable, "-c", LOOKERS, origin, *tokens),
        stdout=subprocess.PIPE,
    )
    assert lookers.stdout is not None
    for _ in range(CLIENTS):
        assert await lookers.stdout.readline() == b"listens\n"
    looked_at = await one_round(bench, 20 + HZ * SECONDS)
    assert web._live.listeners == CLIENTS
    lookers.kill()
    await lookers.wait()
    bench.service.request_stop()
    await running
    return alone, looked_at


def test_twenty_devices_that_look_cost_the_detector_next_to_nothing(folder: Path) -> None:
    """Processor time is what they cost; how late a fix is besides depends on what else runs."""
    with asyncio.Runner(loop_factory=BusyLoop) as runner:
        alone, looked_at = runner.run(measured(folder))
    print(f"\n{alone.line('nobody looks')}\n{looked_at.line(f'{CLIENTS} look')}")
    assert len(looked_at.taken_s) > 0.8 * HZ * SECONDS
    assert looked_at.longest_s < 0.005
    assert looked_at.p(0.5) < 1.5 * alone.p(0.5)
    if os.getloadavg()[0] < (os.cpu_count() or 1):
        # The limit that the daemon alone is held to; a machine with more to do cannot hold it.
        assert looked_at.p(0.99) < 0.005
