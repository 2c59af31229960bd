"""The daemon at 10 Hz: how long from a fix to its decision, how large, how soon watching."""

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
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from driftlead.config.load import load_config
from driftlead.core.inputs import LetGo
from driftlead.daemon.service import Service
from driftlead.lines import StampedLine
from driftlead.simulate.nmea_writer import dpt, gga, gsa, hdt, mwv, rmc
from driftlead.sources.build import build_source

pytestmark = pytest.mark.bench
HZ = 10
SECONDS = 30


@pytest.fixture
def folder() -> Iterator[Path]:
    """A short path: that of a socket may have a hundred characters."""
    with tempfile.TemporaryDirectory(prefix="dl") as name:
        yield Path(name)


def free_udp_port() -> int:
    """A port nobody listens on."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def write_config(folder: Path, port: int) -> Path:
    """A boat with everything on, so that nothing is left out of the figures."""
    path = folder / "driftlead.toml"
    path.write_text(
        f"""
[boat]
name = "Corvid"
antenna_aft = "8m"
[[source]]
name = "gps"
kind = "udp"
port = {port}
bind = "127.0.0.1"
[[notifier]]
kind = "log"
[[notifier]]
kind = "webhook"
url = "http://127.0.0.1:9/alerts"
[journal]
path = "{folder}/journal.db"
[recording]
directory = "{folder}/nights"
[control]
socket = "{folder}/control.sock"
"""
    )
    return path


def datagram(number: int) -> bytes:
    """Six sentences of one epoch, yawing a little."""
    utc = dt.datetime(2026, 7, 1, 20, 0, 0, tzinfo=dt.UTC) + dt.timedelta(seconds=number / HZ)
    lat_deg = 46.5 + 1e-7 * (number % 97)
    lines = (
        hdt(heading_deg=40.0 + number % 30),
        mwv(off_bow_deg=10.0 + number % 20, speed_mps=7.3),
        dpt(below_transducer_m=6.1, transducer_below_water_m=0.4),
        gsa(satellites=11, hdop=0.9),
        rmc(utc=utc, lat_deg=lat_deg, lon_deg=-31.2, sog_mps=0.1, cog_deg=90.0),
        gga(utc=utc, lat_deg=lat_deg, lon_deg=-31.2, satellites=11, hdop=0.9),
    )
    return "".join(f"{line}\r\n" for line in lines).encode("ascii")


async def latencies_s(folder: Path) -> list[float]:
    """Send at 10 Hz from a thread; seconds from each sending to its fix being judged."""
    port = free_udp_port()
    sent_s: list[float] = []
    taken: list[float] = []

    def make_source(settings: Any, **given: Any) -> Any:
        emit = given.pop("emit")
        last: list[Any] = [None]

        def timed(line: StampedLine) -> None:
            emit(line)
            judgement = service._link.core.watch.judgement
            if judgement is not None and judgement is not last[0]:
                last[0] = judgement
                taken.append(time.perf_counter() - sent_s[-1])

        return build_source(settings, emit=timed, **given)

    service = Service(load_config(write_config(folder, port)), make_source=make_source)
    running = asyncio.create_task(service.run())
    data = [datagram(number) for number in range(HZ * SECONDS)]

    def send() -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            next_s = time.perf_counter()
            for each in data:
                next_s += 1.0 / HZ
                time.sleep(max(0.0, next_s - time.perf_counter()))
                sent_s.append(time.perf_counter())
                out.sendto(each, ("127.0.0.1", port))

    sender = threading.Thread(target=send)
    await asyncio.sleep(1.0)
    sender.start()
    await asyncio.sleep(1.0)
    reply, durable = service._link.command(LetGo(rode_m=30.0, depth_m=6.0))
    assert reply.accepted, reply
    if durable is not None:
        await durable
    await asyncio.to_thread(sender.join)
    await asyncio.sleep(0.2)
    service.request_stop()
    await running
    return taken


def test_a_fix_is_judged_within_five_milliseconds(folder: Path) -> None:
    taken = sorted(asyncio.run(latencies_s(folder)))
    assert len(taken) > 0.8 * HZ * SECONDS
    p99_s = taken[int(0.99 * len(taken))]
    print(
        f"\n{len(taken)} fixes at {HZ} Hz: from sending to decision median "
        f"{1000 * taken[len(taken) // 2]:.2f} ms, p99 {1000 * p99_s:.2f} ms"
    )
    assert p99_s < 0.005


def test_it_starts_within_a_second_and_stays_under_90_megabytes(folder: Path) -> None:
    port = free_udp_port()
    config = write_config(folder, port)
    ready = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    ready.bind(str(folder / "notify"))
    ready.settimeout(20.0)
    began_s = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "driftlead.cli.main", "watch", "--config", str(config)],
        env={**os.environ, "NOTIFY_SOCKET": str(folder / "notify")},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        while not ready.recv(4096).startswith(b"READY=1"):
            pass
        started_s = time.perf_counter() - began_s
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out:
            for number in range(6000):
                out.sendto(datagram(number), ("127.0.0.1", port))
                if number % 20 == 0:
                    time.sleep(0.01)
        status = Path(f"/proc/{process.pid}/status").read_text()
    finally:
        process.terminate()
        process.wait(20.0)
        ready.close()
    peak_kb = next(int(line.split()[1]) for line in status.splitlines() if "VmHWM" in line)
    print(f"\nstart to watching {started_s:.2f} s, peak memory {peak_kb / 1000:.0f} MB")
    with suppress(OSError):
        (folder / "notify").unlink()
    assert started_s < 1.0
    assert peak_kb < 90_000
