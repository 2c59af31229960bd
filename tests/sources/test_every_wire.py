"""What holds for every source that reads a wire."""

import asyncio
from typing import TYPE_CHECKING

import pytest

from driftlead.errors import SourceError
from driftlead.lines import StampedLine

if TYPE_CHECKING:
    from tests.sources.conftest import Hearing, Wire

HDT = "$GPHDT,123.456,T*32"


@pytest.mark.asyncio
async def test_line(hearing: "Hearing", wire: "Wire") -> None:
    """A line bears the source's name and the microsecond it came in."""
    hearing.now_s = 12.3456789
    async with hearing.running(wire.settings):
        await hearing.until_health(is_open=True)
        await wire.send(f"{HDT}\r\n".encode())
        await hearing.until_lines(1)
    assert hearing.lines == [StampedLine(12.345679, "wired", HDT)]
    assert [health.open for health in hearing.healths] == [True]
    assert hearing.healths[0].source == "wired"


@pytest.mark.asyncio
async def test_every_byte(hearing: "Hearing", wire: "Wire") -> None:
    """Every byte but the line ends comes through, control characters of terminals included."""
    garbage = bytes(byte for byte in range(256) if byte not in b"\r\n")
    async with hearing.running(wire.settings):
        await hearing.until_health(is_open=True)
        await wire.send(garbage + b"\r\n" + HDT.encode() + b"\n")
        await hearing.until_lines(2)
    assert hearing.texts == [garbage.decode("latin-1"), HDT]


@pytest.mark.asyncio
async def test_flood(hearing: "Hearing", wire: "Wire") -> None:
    """Under a flood the other tasks run at least once in each chunk of 4096 bytes."""
    line = b"$GPTXT,flood,0123456789,0123456789\r\n"
    count = 1000
    turns = 0
    turn_of_line: list[int] = []

    async def another_task() -> None:
        nonlocal turns
        while True:
            turns += 1
            await asyncio.sleep(0)

    hearing.on_line = lambda: turn_of_line.append(turns)
    async with hearing.running(wire.settings):
        await hearing.until_health(is_open=True)
        another = asyncio.create_task(another_task())
        for sent in range(wire.burst, count + 1, wire.burst):
            await wire.send(line * wire.burst)
            await hearing.until_lines(sent)
        another.cancel()
    assert hearing.texts == [line.decode().rstrip()] * count
    longest = max(turn_of_line.count(turn) for turn in set(turn_of_line))
    assert longest <= 4096 // len(line) + 1


@pytest.mark.asyncio
@pytest.mark.parametrize("error", [OSError(28, "No space left"), SourceError("ours")])
async def test_emit_raises(hearing: "Hearing", wire: "Wire", error: Exception) -> None:
    """What emit raises comes out of run, even if it looks like a failure of the source."""
    hearing.error = error
    task = hearing.start(wire.settings)
    await hearing.until_health(is_open=True)
    await wire.send(f"{HDT}\r\n".encode())
    await asyncio.wait([task], timeout=5)
    assert task.exception() is error
    assert [health.open for health in hearing.healths] == [True]


@pytest.mark.asyncio
async def test_run_again(hearing: "Hearing", wire: "Wire") -> None:
    """A cancelled source has let go of its device or port, so that another can read it."""
    for expected in (1, 2):
        async with hearing.running(wire.settings):
            await hearing.until(lambda: len(hearing.healths) == expected)  # noqa: B023
            assert hearing.healths[-1].open, hearing.healths[-1].detail
