"""Logs played as live sources, with a clock that jumps."""

import asyncio
import gzip
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from driftlead.errors import SourceError
from driftlead.lines import StampedLine
from driftlead.recording.format import HEADER, format_input, format_line
from driftlead.sources.settings import LogSettings

if TYPE_CHECKING:
    from tests.sources.conftest import Hearing

# The classic GGA of the trade at three seconds; checksums as published for the first.
GGA = (
    "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
    "$GPGGA,123520,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*4D",
    "$GPGGA,123523,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*4E",
)


def plain(path: Path, data: bytes) -> None:
    """Write the data."""
    path.write_bytes(data)


def gzipped(path: Path, data: bytes) -> None:
    """Write the data gzipped."""
    path.write_bytes(gzip.compress(data))


@pytest.mark.asyncio
@pytest.mark.parametrize("write", [plain, gzipped])
@pytest.mark.parametrize("end", ["", "\r\n"])
async def test_bare(
    hearing: "Hearing", tmp_path: Path, write: Callable[[Path, bytes], None], end: str
) -> None:
    """Bare NMEA, gzipped or not, comes at the distances its sentences tell, to the last line."""
    path = tmp_path / "night"
    write(path, ("\r\n".join(GGA) + end).encode())
    await hearing.start(LogSettings(name="log", path=path))
    assert hearing.lines == [
        StampedLine(1000.0, "log", GGA[0]),
        StampedLine(1001.0, "log", GGA[1]),
        StampedLine(1004.0, "log", GGA[2]),
    ]
    assert [(health.source, health.open, health.detail) for health in hearing.healths] == [
        ("log", True, f"Playing {path} as it was recorded."),
        ("log", False, f"{path} was played to its end."),
    ]


@pytest.mark.asyncio
@pytest.mark.parametrize(("pace", "last_s"), [(2.0, 1002.0), (0.5, 1008.0), (0.0, 1000.0)])
async def test_pace(hearing: "Hearing", tmp_path: Path, pace: float, last_s: float) -> None:
    """Pace 2 takes half the time, pace 0 none."""
    path = tmp_path / "night.nmea"
    plain(path, "\n".join(GGA).encode())
    await hearing.start(LogSettings(name="log", path=path, pace=pace))
    assert hearing.lines[-1].mono_s == last_s
    assert len(hearing.lines) == 3


@pytest.mark.asyncio
async def test_delays_do_not_add_up(hearing: "Hearing", tmp_path: Path) -> None:
    """What a slow listener takes is made up for."""
    path = tmp_path / "night.nmea"
    plain(path, "\n".join(GGA).encode())

    def take_long() -> None:
        hearing.now_s += 0.75

    hearing.on_line = take_long
    await hearing.start(LogSettings(name="log", path=path))
    assert [line.mono_s for line in hearing.lines] == [1000.0, 1001.0, 1004.0]


@pytest.mark.asyncio
async def test_recording(hearing: "Hearing", tmp_path: Path) -> None:
    """A recording gives its lines, all under the name of the source, and nothing else."""
    path = tmp_path / "night.log.gz"
    noise = "".join(map(chr, range(128, 256))) * 8  # the longest line there is, all escaped
    recorded = [
        HEADER,
        format_line(StampedLine(7.5, "gps", GGA[0])),
        format_input(7.6, "command", {"command": "weigh"}),
        format_line(StampedLine(8.0, "wind", noise)),
    ]
    gzipped(path, "".join(line + "\n" for line in recorded).encode())
    await hearing.start(LogSettings(name="log", path=path))
    assert hearing.lines == [
        StampedLine(1000.0, "log", GGA[0]),
        StampedLine(1000.5, "log", noise),
    ]


@pytest.mark.asyncio
async def test_one_source_of_a_recording(hearing: "Hearing", tmp_path: Path) -> None:
    """One source can be picked from a recording."""
    path = tmp_path / "night.log"
    lines = [StampedLine(7.0, "gps", GGA[0]), StampedLine(8.0, "wind", GGA[1])]
    plain(path, "\n".join([HEADER, *map(format_line, lines)]).encode())
    await hearing.start(LogSettings(name="log", path=path, recorded_source="wind"))
    assert hearing.texts == [GGA[1]]


async def failed(hearing: "Hearing", settings: LogSettings) -> SourceError:
    """Play what cannot be played to its end; the error, which the health has told too."""
    with pytest.raises(SourceError) as raised:
        await hearing.start(settings)
    assert raised.value.remedy
    assert not hearing.healths[-1].open
    assert hearing.healths[-1].detail == str(raised.value)
    return raised.value


@pytest.mark.asyncio
async def test_cut_short(hearing: "Hearing", tmp_path: Path) -> None:
    """A gzipped log cut short is told after every line that can still be unpacked."""
    path = tmp_path / "night.gz"
    lines = [f"$GPTXT,{number * 7919 % 10007:05d}" for number in range(20_000)]
    packed = gzip.compress("".join(line + "\n" for line in lines).encode())
    path.write_bytes(packed[: len(packed) // 2])
    error = await failed(hearing, LogSettings(name="log", path=path, pace=0))
    assert "is cut short" in error.message
    assert hearing.texts == lines[: len(hearing.texts)]
    assert len(hearing.texts) > 9_000
    assert hearing.healths[0].open


@pytest.mark.asyncio
async def test_damaged_gzip(hearing: "Hearing", tmp_path: Path) -> None:
    """A gzipped log with damage is told after what came before it."""
    path = tmp_path / "night.gz"
    lines = [f"$GPTXT,{number * 7919 % 10007:05d}" for number in range(20_000)]
    packed = bytearray(gzip.compress("".join(line + "\n" for line in lines).encode()))
    packed[-6] ^= 0xFF  # in the checksum of the whole
    path.write_bytes(packed)
    error = await failed(hearing, LogSettings(name="log", path=path, pace=0))
    assert "is damaged" in error.message
    assert hearing.texts == lines


@pytest.mark.asyncio
async def test_damaged_recording(hearing: "Hearing", tmp_path: Path) -> None:
    """A recording that breaks off within a line, as by a power cut, is told after the rest."""
    path = tmp_path / "night.log"
    line = format_line(StampedLine(7.5, "gps", GGA[0]))
    plain(path, f"{HEADER}\n{line}\n8.50".encode())
    error = await failed(hearing, LogSettings(name="log", path=path))
    assert str(path) in error.message
    assert hearing.texts == [GGA[0]]


@pytest.mark.asyncio
async def test_newer_format(hearing: "Hearing", tmp_path: Path) -> None:
    """A recording of a format to come is not taken for bare NMEA."""
    path = tmp_path / "night.log"
    plain(path, b"# driftlead recording, format 2\n")
    error = await failed(hearing, LogSettings(name="log", path=path))
    assert "format 2" in error.message


@pytest.mark.asyncio
async def test_missing(hearing: "Hearing", tmp_path: Path) -> None:
    """A file that is not there is told."""
    path = tmp_path / "night.log"
    assert f"{path} is not there." in str(await failed(hearing, LogSettings(name="log", path=path)))
    assert [health.open for health in hearing.healths] == [False]


@pytest.mark.asyncio
async def test_folder(hearing: "Hearing", tmp_path: Path) -> None:
    """A folder is told to be no file."""
    error = await failed(hearing, LogSettings(name="log", path=tmp_path))
    assert "cannot be read (Is a directory)" in error.message


@pytest.mark.asyncio
@pytest.mark.parametrize("data", [b"", b"\r\n\r\n", HEADER.encode()])
async def test_nothing_to_play(hearing: "Hearing", tmp_path: Path, data: bytes) -> None:
    """A log without a line would be a rehearsal of nothing."""
    path = tmp_path / "night.log"
    plain(path, data)
    error = await failed(hearing, LogSettings(name="log", path=path))
    assert "holds no line to play" in error.message


@pytest.mark.asyncio
async def test_other_tasks_run(hearing: "Hearing", tmp_path: Path) -> None:
    """At pace 0 the other tasks run at least once in each chunk of 4096 bytes."""
    path = tmp_path / "night.nmea"
    plain(path, b"$GPTXT,flood,0123456789,0123456789\n" * 3000)
    turns = 0
    turn_of_line: list[int] = []

    async def another_task() -> None:
        nonlocal turns
        while True:
            turns += 1
            await asyncio.sleep(0)

    hearing.on_line = lambda: turn_of_line.append(turns)
    another = asyncio.create_task(another_task())
    await hearing.start(LogSettings(name="log", path=path, pace=0))
    another.cancel()
    assert len(turn_of_line) == 3000
    longest = max(turn_of_line.count(turn) for turn in set(turn_of_line))
    assert longest <= 4096 // 35 + 1


@pytest.mark.asyncio
@pytest.mark.parametrize("error", [OSError(28, "No space left"), SourceError("ours"), EOFError()])
async def test_emit_raises(hearing: "Hearing", tmp_path: Path, error: Exception) -> None:
    """What emit raises comes out of run as it is, and is not taken for a fault of the file."""
    path = tmp_path / "night.nmea"
    gzipped(path, GGA[0].encode() + b"\n" + GGA[1].encode())
    hearing.error = error
    with pytest.raises(type(error)) as raised:
        await hearing.start(LogSettings(name="log", path=path))
    assert raised.value is error
    assert [health.open for health in hearing.healths] == [True]


@pytest.mark.asyncio
async def test_cancelled(hearing: "Hearing", tmp_path: Path) -> None:
    """A log can be cancelled while it waits for the next line."""
    hearing.held = True
    path = tmp_path / "night.nmea"
    plain(path, "\n".join(GGA).encode())
    async with hearing.running(LogSettings(name="log", path=path)):
        await hearing.until(lambda: len(hearing.sleeps_s) == 1)
    assert hearing.texts == [GGA[0]]
