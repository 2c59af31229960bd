"""Looking at the computer again and again."""

import asyncio
import threading

import pytest

from driftlead.core.inputs import Fault
from driftlead.daemon.health import LOOK_EVERY_S, Health
from driftlead.testing import FakeTime


class Told:
    """A probe that says what it is told to."""

    instance = "main"

    def __init__(self, name: str) -> None:
        self.name = name
        self.says: str | None = None
        self.error: Exception | None = None
        self.hold: threading.Event | None = None

    def look(self) -> str | None:
        """Say it."""
        if self.hold is not None:
            self.hold.wait(20.0)
        if self.error is not None:
            raise self.error
        return self.says


class Rig:
    """A health, and the faults it tells."""

    def __init__(self, *probes: Told) -> None:
        self.time = FakeTime()
        self.faults: list[Fault] = []
        self._heard = asyncio.Event()
        health = Health(probes, on_fault=self._hear, sleep=self.time.sleep)
        self.running = asyncio.create_task(health.run())

    def _hear(self, fault: Fault) -> None:
        self.faults.append(fault)
        self._heard.set()

    async def next(self, name: str) -> Fault:
        """Wait for the next fault of this name."""
        async with asyncio.timeout(20.0):
            while True:
                for fault in self.faults:
                    if fault.name == name:
                        self.faults.remove(fault)
                        return fault
                self._heard.clear()
                await self._heard.wait()

    async def pause(self) -> None:
        """Let the time between two looks pass."""
        await self.time.until_sleeping(LOOK_EVERY_S)
        await self.time.advance(LOOK_EVERY_S)

    async def stop(self) -> None:
        """Stop it."""
        self.running.cancel()
        await asyncio.wait({self.running})


@pytest.mark.asyncio
async def test_what_is_wrong_is_a_fault_until_it_is_not() -> None:
    """The first look is at once, the next ones slowly."""
    probe = Told("cpu_hot")
    rig = Rig(probe)
    assert await rig.next("cpu_hot") == Fault(name="cpu_hot", instance="main", text=None)
    probe.says = "It is hot."
    await rig.pause()
    assert (await rig.next("cpu_hot")).text == "It is hot."
    probe.says = None
    await rig.pause()
    assert (await rig.next("cpu_hot")).text is None
    await rig.stop()


@pytest.mark.asyncio
async def test_a_probe_that_breaks_is_logged_once_and_goes_on(
    caplog: pytest.LogCaptureFixture,
) -> None:
    """The daemon does not end by it, nor do the other probes."""
    probe, other = Told("cpu_hot"), Told("disk_low")
    probe.error = ZeroDivisionError()
    rig = Rig(probe, other)
    for _ in range(3):
        await rig.next("disk_low")
        await rig.pause()
    assert caplog.text.count("Looking at cpu_hot failed") == 1
    probe.error, probe.says = None, "It is hot."
    await rig.pause()
    assert (await rig.next("cpu_hot")).text == "It is hot."
    await rig.stop()


@pytest.mark.asyncio
async def test_a_disk_that_hangs_holds_up_neither_the_loop_nor_the_other_probes() -> None:
    """It is looked at in a thread of its own."""
    stuck, other = Told("disk_low"), Told("cpu_hot")
    stuck.hold = threading.Event()
    rig = Rig(stuck, other)
    for _ in range(3):
        await rig.next("cpu_hot")
        await rig.pause()
    assert all(fault.name != "disk_low" for fault in rig.faults)
    stuck.hold.set()
    await rig.next("disk_low")
    await rig.stop()


@pytest.mark.asyncio
async def test_without_probes_there_is_nothing_to_do() -> None:
    """It ends at once."""
    async with asyncio.timeout(20.0):
        await Rig().running
