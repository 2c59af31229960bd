"""The daemon's heartbeat and the health of its computer, within the test's own process."""

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from driftlead.alerts.alert import Priority
from driftlead.config.load import build_config
from driftlead.core.inputs import Acknowledge, LetGo
from driftlead.daemon import service as module
from driftlead.daemon.health import LOOK_EVERY_S
from driftlead.daemon.sd_notify import SdNotify
from driftlead.daemon.service import Service
from driftlead.geodesy.position import Position
from driftlead.notify.base import NotifierContext
from driftlead.notify.settings import NotifierSettings
from driftlead.sources.base import SourceHealth
from driftlead.testing import FakeTime, RecordingNotifier

PATIENCE_S = 10.0


class Systemd(SdNotify):
    """Writes down what it is told."""

    def __init__(self) -> None:
        super().__init__(None)
        self.said: list[str] = []
        self.is_ready = asyncio.Event()

    def _send(self, text: str) -> None:
        self.said.append(text)
        if text == "READY=1":
            self.is_ready.set()


class Hearer(RecordingNotifier):
    """Writes down the beats too."""

    def __init__(self) -> None:
        super().__init__()
        self.beats: list[bool] = []

    def beat(self, *, on_watch: bool) -> None:
        """Hear one."""
        self.beats.append(on_watch)


class HotComputer:
    """A probe."""

    name, instance = "cpu_hot", ""

    def __init__(self) -> None:
        self.says: str | None = None
        self.looks = 0

    def look(self) -> str | None:
        """Say what it is told to."""
        self.looks += 1
        return self.says


class Open:
    """A source that is open and silent."""

    def __init__(self, settings: Any, **given: Any) -> None:
        self.name = settings.name
        given["on_health"](SourceHealth(settings.name, True, "Open."))

    async def run(self) -> None:
        """Say nothing."""
        await asyncio.Event().wait()


class Rig:
    """A daemon with one notifier and one probe."""

    def __init__(self, folder: Path) -> None:
        self.time = FakeTime()
        self.systemd = Systemd()
        self.notifier = Hearer()
        self.probe = HotComputer()
        config = build_config(
            {
                "source": [{"name": "gps", "kind": "udp"}],
                "notifier": [{"kind": "pretended"}],
                "journal": {"path": "journal.db"},
                "recording": {"directory": "nights"},
                "control": {"socket": "control.sock"},
            },
            folder / "driftlead.toml",
        )
        self.service = Service(
            config,
            monotonic=self.time.clock,
            sleep=self.time.sleep,
            systemd=self.systemd,
            make_notifier=self._make_notifier,
            make_source=Open,
            probes=[self.probe],
        )

    def _make_notifier(self, _settings: NotifierSettings, _: NotifierContext) -> Hearer:
        return self.notifier

    async def pass_s(self, seconds: int) -> None:
        """Let seconds pass, one after another."""
        for _ in range(seconds):
            await self.time.until_sleeping(module.HOUSEKEEP_EVERY_S)
            await self.time.advance(1.0)

    def fed(self) -> int:
        """How often the watchdog was fed."""
        return self.systemd.said.count("WATCHDOG=1")


@asynccontextmanager
async def running(folder: Path) -> AsyncIterator[Rig]:
    """Run a daemon meanwhile."""
    rig = Rig(folder)
    task = asyncio.create_task(rig.service.run())
    async with asyncio.timeout(PATIENCE_S):
        await rig.systemd.is_ready.wait()
    yield rig
    rig.service.request_stop()
    async with asyncio.timeout(PATIENCE_S):
        while not task.done():
            await rig.time.advance(1.0)
            await asyncio.wait({task}, timeout=0.01)
    await task


@pytest.mark.asyncio
async def test_the_heart_beats_exactly_when_the_watchdog_is_fed(folder: Path) -> None:
    """And says whether an anchor is down."""
    async with running(folder) as rig:
        await rig.pass_s(5)
        assert rig.notifier.beats == [False] * 5
        rig.service._link.command(LetGo(drop=Position(46.5, -31.2), rode_m=30.0))
        await rig.pass_s(3)
        assert rig.notifier.beats[5:] == [True] * 3
        assert rig.fed() == 8


@pytest.mark.asyncio
async def test_a_core_that_no_longer_decides_has_no_heartbeat(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The horn that fails loud hears it before systemd does."""
    async with running(folder) as rig:
        await rig.pass_s(2)
        rig.service._link.command(LetGo(drop=Position(46.5, -31.2), rode_m=30.0))
        monkeypatch.setattr(rig.service._link.core, "advance", lambda _: ())
        await rig.pass_s(60)
        beats = len(rig.notifier.beats)
        await rig.pass_s(60)
        assert len(rig.notifier.beats) == beats == rig.fed()


@pytest.mark.asyncio
async def test_a_computer_that_is_unwell_is_an_alert_until_it_is_well(folder: Path) -> None:
    """As everything that is wrong with us; the watch goes on."""
    async with running(folder) as rig:
        for says, state in (("It is hot.", "active_acknowledged"), (None, "normal")):
            rig.probe.says = says
            await rig.time.until_sleeping(LOOK_EVERY_S)
            await rig.time.advance(LOOK_EVERY_S)
            await rig.time.until_sleeping(LOOK_EVERY_S)
            await rig.time.advance(1.0)
            alert = rig.notifier.alerts[-1]
            assert (alert.name, alert.state.value) == ("cpu_hot", state)
            assert alert.priority is Priority.CAUTION
        assert rig.probe.looks >= 3


@pytest.mark.asyncio
async def test_systemctl_shows_how_she_lies(folder: Path) -> None:
    """One line: the state, the fix, and what is up."""
    async with running(folder) as rig:
        await rig.pass_s(2)
        assert "STATUS=stowed; no fix yet; no alerts" in rig.systemd.said
        rig.probe.says = "It is hot."
        await rig.time.advance(LOOK_EVERY_S)
        await rig.time.until_sleeping(LOOK_EVERY_S)
        await rig.time.advance(2.0)
        assert rig.systemd.said[-1] in (
            "WATCHDOG=1",
            "STATUS=stowed; no fix yet; caution cpu_hot",
        )
        assert "STATUS=stowed; no fix yet; caution cpu_hot" in rig.systemd.said


@pytest.mark.asyncio
async def test_how_far_the_calling_has_got_is_saved_every_few_seconds(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As long as an alert waits for its answer; otherwise once a minute is enough."""
    async with running(folder) as rig:
        rig.service._link.command(LetGo(drop=Position(46.5, -31.2), rode_m=30.0))
        saved: list[int] = []
        link, keep = rig.service._link, rig.service._link.keep_snapshot

        def keep_and_count() -> None:
            saved.append(rig.service._housekeepings)
            keep()

        monkeypatch.setattr(link, "keep_snapshot", keep_and_count)
        await rig.pass_s(29)
        assert saved == []
        await rig.pass_s(2)  # no data for half a minute is a warning
        assert [alert.name for alert in link.core.status(rig.time.clock()).alerts] == ["data_stale"]
        await rig.pass_s(20)
        assert saved == [35, 40, 45, 50]
        link.command(Acknowledge())
        await rig.pass_s(9)
        assert saved == [35, 40, 45, 50, 60]
