"""Keeping the sources running, and knowing how they are."""

import asyncio
from typing import Any

import pytest

from driftlead.core.inputs import Fault
from driftlead.daemon.source_keeper import AGAIN_S, SourceKeeper
from driftlead.errors import SourceError
from driftlead.sources.base import SourceHealth
from driftlead.sources.settings import UdpSettings
from driftlead.testing import FakeTime


class Script:
    """Sources that do as written: an exception is raised, a health told, None ends."""

    def __init__(self, steps: dict[str, list[Any]]) -> None:
        self.steps = steps
        self.faults: list[tuple[str, str | None]] = []
        self.time = FakeTime()

    def keeper(self) -> SourceKeeper:
        """Keep one source for each script."""
        return SourceKeeper(
            [UdpSettings(name=name) for name in self.steps],
            emit=lambda _: None,
            clock=self.time.clock,
            on_fault=self._fault,
            sleep=self.time.sleep,
            build=self.build,
        )

    def _fault(self, fault: Fault) -> None:
        assert fault.name == "source_silent"
        self.faults.append((fault.instance, fault.text))

    def build(self, settings: UdpSettings, *, on_health: Any, **_: Any) -> Any:
        """Build one."""
        script = self

        class Source:
            name = settings.name

            async def run(self) -> None:
                steps = script.steps[settings.name]
                while steps:
                    step = steps.pop(0)
                    if isinstance(step, Exception):
                        raise step
                    if step is None:
                        return
                    on_health(SourceHealth(settings.name, step[0], step[1]))
                await asyncio.Event().wait()

        return Source()


@pytest.mark.asyncio
async def test_every_change_of_health_is_told_and_known() -> None:
    """Open is no fault, closed is one with the source's own words."""
    script = Script({"gps": [(True, "Reading."), (False, "Unplugged."), (True, "Reading.")]})
    keeper = script.keeper()
    assert [health.open for health in keeper.health.values()] == [False]
    keeper.start()
    await script.time.advance(1.0)
    assert script.faults == [("gps", None), ("gps", "Unplugged."), ("gps", None)]
    assert keeper.health["gps"].open
    await keeper.stop()


@pytest.mark.asyncio
async def test_a_source_that_breaks_is_started_again_and_harms_no_other() -> None:
    """A fault of ours in one wire must not cost the others."""
    script = Script(
        {"gps": [ZeroDivisionError("oops"), (True, "Reading.")], "wind": [(True, "Listening.")]}
    )
    keeper = script.keeper()
    keeper.start()
    await script.time.until_sleeping(AGAIN_S)
    assert keeper.health["wind"].open
    assert "oops" in keeper.health["gps"].detail
    await script.time.advance(AGAIN_S)
    assert keeper.health["gps"].open
    await keeper.stop()


@pytest.mark.asyncio
async def test_a_log_that_ends_or_cannot_be_read_is_left_alone() -> None:
    """Only logs do that; when all have ended there is nothing to wait for."""
    script = Script(
        {"a": [(True, "Playing."), None], "b": [SourceError("It is damaged.", remedy="Copy it.")]}
    )
    keeper = script.keeper()
    keeper.start()
    async with asyncio.timeout(5.0):
        await keeper.wait()
    assert script.faults[-1] == ("b", "It is damaged. Copy it.")
    await keeper.stop()
