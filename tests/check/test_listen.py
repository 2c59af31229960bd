"""Listening to the sources without a watch."""

import asyncio
from pathlib import Path
from typing import Any

import pytest

from driftlead.check.listen import listen
from driftlead.config.load import build_config
from driftlead.errors import SourceError
from driftlead.lines import StampedLine
from driftlead.simulate.nmea_writer import hdt
from driftlead.sources.base import SourceHealth
from driftlead.testing import FakeTime

CONFIG = build_config(
    {
        "source": [{"name": name, "kind": "udp"} for name in ("talks", "fails", "sleeps")],
        "journal": {"path": "journal.db"},
        "recording": {"directory": "nights"},
    },
    Path("driftlead.toml"),
)


class Source:
    """Does as its name says."""

    def __init__(self, settings: Any, *, emit: Any, on_health: Any, **_: Any) -> None:
        self.name = settings.name
        self.emit = emit
        self.on_health = on_health

    async def run(self) -> None:
        """Talk, fail or sleep."""
        self.on_health(SourceHealth(self.name, True, "Open."))
        if self.name == "talks":
            self.emit(StampedLine(0.0, self.name, hdt(heading_deg=1.0)))
        if self.name == "fails":
            raise SourceError("It is damaged.", remedy="Copy it.")
        await asyncio.Event().wait()


@pytest.mark.asyncio
async def test_every_source_is_heard_for_the_time_given_and_then_let_go() -> None:
    """One that fails keeps nobody from hearing the others."""
    time = FakeTime()
    work = listen(CONFIG, for_s=8.0, clock=time.clock, sleep=time.sleep, build=Source)
    listening = asyncio.create_task(work)
    await time.until_sleeping(8.0)
    await time.advance(8.0)
    async with asyncio.timeout(5.0):
        hearings = await listening
    assert [(hearing.name, hearing.lines) for hearing in hearings] == [
        ("talks", 1),
        ("fails", 0),
        ("sleeps", 0),
    ]
    assert hearings[0].has_heading
    assert not hearings[1].health.open
    assert asyncio.all_tasks() == {asyncio.current_task()}
