"""The whole daemon within the test's own process, on a clock the test turns."""

import asyncio
import datetime as dt
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, closing
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve

from driftlead.alerts.alls_well import AllsWell
from driftlead.config.load import build_config
from driftlead.config.model import Config
from driftlead.core.events_json import event_to_json, utc_text
from driftlead.core.snapshot import Snapshot, snapshot_from_json, snapshot_to_json
from driftlead.daemon import service as module
from driftlead.daemon.control_client import ask
from driftlead.daemon.sd_notify import SdNotify
from driftlead.daemon.service import REMARK, Service
from driftlead.errors import DaemonError
from driftlead.geodesy.position import Position
from driftlead.journal.journal import Journal
from driftlead.lines import StampedLine
from driftlead.notify.base import NotifierContext
from driftlead.notify.settings import NotifierSettings
from driftlead.records.anchoring import Anchoring, Drag
from driftlead.records.store import Records
from driftlead.replay.reader import LogReader
from driftlead.replay.runner import Runner
from driftlead.replay.settings import ReplaySettings
from driftlead.simulate.nmea_writer import gga, rmc
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


class HandSource:
    """A source whose lines the test sends by hand."""

    def __init__(self, settings: Any, **given: Any) -> None:
        self.name = settings.name
        self.emit: Callable[[StampedLine], None] = given["emit"]
        self.clock: Callable[[], float] = given["clock"]
        self.on_health: Callable[[SourceHealth], None] = given["on_health"]

    async def run(self) -> None:
        """Be open until cancelled."""
        self.on_health(SourceHealth(self.name, True, "Open."))
        await asyncio.Event().wait()

    def send(self, *texts: str) -> None:
        """Send lines now."""
        for text in texts:
            self.emit(StampedLine(self.clock(), self.name, text))


class Rig:
    """A daemon and what is around it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.time = FakeTime()
        self.systemd = Systemd()
        self.notifier = RecordingNotifier()
        self.notifiers: dict[str, RecordingNotifier] = {}
        self.sources: dict[str, HandSource] = {}
        self.config = self._config()
        self.utc = dt.datetime(2026, 7, 1, 20, 0, 0, tzinfo=dt.UTC)
        self.service: Service
        self.running: asyncio.Task[None]

    def _config(self) -> Config:
        raw = {
            "source": [
                {"name": "gps", "kind": "udp", "port": 1},
                {"name": "wireless", "kind": "udp", "port": 2},
            ],
            "notifier": [{"kind": "pretended"}],
            "button": [{"pin": 17, "command": "acknowledge"}],
            "journal": {"path": "journal.db"},
            "recording": {"directory": "nights"},
            "control": {"socket": "control.sock"},
        }
        return build_config(raw, self.folder / "driftlead.toml")

    def make_source(self, settings: Any, **given: Any) -> HandSource:
        """Build a source."""
        self.sources[settings.name] = HandSource(settings, **given)
        return self.sources[settings.name]

    def make_notifier(self, settings: NotifierSettings, _: NotifierContext) -> RecordingNotifier:
        """Build the notifier of this name, or the one there is."""
        return self.notifiers.get(settings.name, self.notifier)

    def with_crew(self, **notifiers: RecordingNotifier) -> None:
        """Let each notifier be at the bunk of one of the crew called as it is."""
        self.notifiers = notifiers
        raw = {
            "source": [{"name": "gps", "kind": "udp", "port": 1}],
            "notifier": [{"kind": "pretended", "name": name} for name in notifiers],
            "crew": [{"name": name, "notifiers": [name]} for name in notifiers],
            "alls_well": {"every": "60s"},
            "journal": {"path": "journal.db"},
            "recording": {"directory": "nights"},
            "control": {"socket": "control.sock"},
        }
        self.config = build_config(raw, self.folder / "driftlead.toml")

    async def start(self) -> None:
        """Run it until it is ready."""
        self.service = Service(
            self.config,
            monotonic=self.time.clock,
            sleep=self.time.sleep,
            systemd=self.systemd,
            make_notifier=self.make_notifier,
            make_source=self.make_source,
        )
        self.running = asyncio.create_task(self.service.run())
        ready = asyncio.create_task(self.systemd.is_ready.wait())
        async with asyncio.timeout(PATIENCE_S):
            await asyncio.wait({self.running, ready}, return_when=asyncio.FIRST_COMPLETED)
        if self.running.done():
            ready.cancel()
            await self.running
        await self.time.until_sleeping(module.HOUSEKEEP_EVERY_S)

    async def stop(self) -> None:
        """Stop it cleanly."""
        self.service.request_stop()
        await self.ended()

    async def ended(self) -> None:
        """Wait for its end, letting time pass for what waits in closing."""
        async with asyncio.timeout(PATIENCE_S):
            while not self.running.done():
                await self.time.advance(1.0)
                await asyncio.wait({self.running}, timeout=0.01)
        await self.running

    async def sail(
        self, source: str, north_m: float, *, seconds: int = 1, sog_mps: float = 0.0
    ) -> None:
        """Say a place for some seconds, in the time of the test."""
        for _ in range(seconds):
            self.utc += dt.timedelta(seconds=1)
            lat = 46.5 + (north_m + 0.2 * (self.utc.second % 3)) / 111_170.0
            self.sources[source].send(
                rmc(utc=self.utc, lat_deg=lat, lon_deg=-31.2, sog_mps=sog_mps, cog_deg=0.0),
                gga(utc=self.utc, lat_deg=lat, lon_deg=-31.2, satellites=11, hdop=0.9),
            )
            await self.time.advance(1.0)

    async def ask(self, **request: Any) -> Any:
        """Ask over the control socket, from another thread."""
        return await asyncio.to_thread(ask, self.config.control.socket, request)

    async def status(self) -> Any:
        """Ask for the status."""
        return (await self.ask(status=True))["status"]

    def told(self) -> list[tuple[str, str]]:
        """What the notifier has heard: names and states."""
        return [(alert.name, alert.state.value) for alert in self.notifier.alerts]

    def alive(self) -> int:
        """How often the watchdog was fed."""
        return self.systemd.said.count("WATCHDOG=1")


class Lasting(RecordingNotifier):
    """One whose messages last, and which shows that all is well."""

    lasts = True

    def __init__(self) -> None:
        super().__init__()
        self.ticks: list[AllsWell] = []

    async def alls_well(self, tick: AllsWell) -> None:
        """Keep the tick."""
        self.ticks.append(tick)


@asynccontextmanager
async def running(folder: Path, **crew: RecordingNotifier) -> AsyncIterator[Rig]:
    """Run a daemon meanwhile, perhaps with a crew."""
    rig = Rig(folder)
    if crew:
        rig.with_crew(**crew)
    await rig.start()
    yield rig
    if not rig.running.done():
        await rig.stop()


@pytest.mark.asyncio
async def test_silence_is_told_and_the_watchdog_is_fed_all_along(folder: Path) -> None:
    """A dead receiver is an alert on the crew, not a reason to restart the program."""
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        assert (await rig.ask(command="let-go"))["ok"]
        fed = rig.alive()
        await rig.time.advance(300.0)
        stale = [told for told in rig.told() if told[0] == "data_stale"]
        # The warning, the same again after two minutes without an answer, then the alarm.
        assert stale == [("data_stale", "active_unacknowledged")] * 3
        assert rig.alive() == fed + 300


@pytest.mark.asyncio
async def test_a_core_that_no_longer_decides_starves_the_watchdog(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Fixes come in and nothing is judged: systemd must start it anew."""
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        assert (await rig.ask(command="let-go"))["ok"]
        core = rig.service._link.core
        for decides in ("feed", "advance"):
            monkeypatch.setattr(core, decides, lambda _: ())
        await rig.sail("gps", 0.0, seconds=60)
        fed = rig.alive()
        await rig.sail("gps", 0.0, seconds=60)
        assert rig.alive() == fed


@pytest.mark.asyncio
async def test_a_second_source_takes_over(folder: Path) -> None:
    """The most trusted one falls silent; the watch goes on by the next without an alert."""
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        await rig.ask(command="let-go", rode_m=30.0)
        assert (await rig.status())["receiver"].startswith("gps/")
        await rig.sail("wireless", 0.0, seconds=40)
        status = await rig.status()
        assert status["receiver"].startswith("wireless/")
        assert status["fix_age_s"] < 3.0
        assert [alert["instance"] for alert in status["alerts"]] == ["button-17"]


@pytest.mark.asyncio
async def test_how_far_she_drags_is_on_the_disk_within_a_minute(folder: Path) -> None:
    """It changes without an event, and a restart must not forget it."""
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        await rig.ask(command="let-go", rode_m=20.0)
        for north_m in range(100):
            await rig.sail("gps", float(north_m), sog_mps=1.0)
        assert (await rig.status())["state"] == "dragging"
        for north_m in range(100, 170):
            await rig.sail("gps", float(north_m), sog_mps=1.0)
        text = await rig.service._journal._writer.load_snapshot()
        assert text is not None
        assert snapshot_from_json(text).farthest_m > 105.0


@pytest.mark.asyncio
async def test_a_core_that_breaks_ends_the_daemon_without_an_end_mark(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Better started anew from the journal than going on with a state nobody can trust."""
    async with running(folder) as rig:

        def breaks(_: Any) -> None:
            raise ZeroDivisionError

        monkeypatch.setattr(rig.service._link.core, "feed", breaks)
        with pytest.raises(ZeroDivisionError):
            rig.sources["gps"].send("$")
        with pytest.raises(ZeroDivisionError):
            await rig.ended()
    (part,) = (folder / "nights").iterdir()
    assert "!end" not in part.read_text()
    assert rig.notifier.closed


@pytest.mark.asyncio
async def test_a_disk_that_hangs_does_not_hold_up_the_answer(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The command is done; the answer says that the disk has not taken it."""
    monkeypatch.setattr(module, "SAVE_LIMIT_S", 0.05)
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        rig.service._link._save = lambda *_: asyncio.get_running_loop().create_future()
        answer = await rig.ask(command="let-go")
        assert (answer["ok"], answer["done"]) == (False, True)
        assert "NOT ON THE DISK" in answer["text"]
        assert answer["remedy"]


@pytest.mark.asyncio
async def test_a_button_without_its_pin_is_an_alert(folder: Path) -> None:
    """This machine has no pins; the watch goes on without the button."""
    async with running(folder) as rig:
        await rig.time.advance(1.0)
        (alert,) = [alert for alert in rig.notifier.alerts if alert.instance == "button-17"]
        assert alert.name == "notifier_failed"
        assert "acknowledge button" in alert.text


@pytest.mark.asyncio
async def test_the_parts_of_the_watch_that_is_on_are_protected_over_a_restart(
    folder: Path,
) -> None:
    """Pruning never takes what the present watch has recorded, whichever run recorded it."""
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        await rig.ask(command="let-go", rode_m=30.0)
        await rig.sail("gps", 0.0, seconds=3)
    async with running(folder) as again:
        await again.time.advance(2.0)
        assert again.service._recording._protect_from == 1
        await again.sail("gps", 0.0, seconds=3)
        await again.ask(command="weigh")
        await again.time.advance(2.0)
        assert again.service._recording._protect_from is None


@pytest.mark.asyncio
async def test_a_part_is_begun_when_the_last_is_full_and_the_watch_stands_in_it(
    folder: Path,
) -> None:
    """Each part can be replayed from its own first line."""
    rig = Rig(folder)
    rig.config = evolve(rig.config, recording=evolve(rig.config.recording, part_s=60.0))
    await rig.start()
    await rig.sail("gps", 0.0, seconds=10)
    await rig.ask(command="let-go", rode_m=30.0)
    await rig.sail("gps", 0.0, seconds=120)
    await rig.stop()
    names = sorted(path.name for path in (folder / "nights").iterdir())
    assert len(names) == 3
    last = (folder / "nights" / "night-000003.log").read_text()
    header = last.splitlines()[1]
    assert '"part":3,"run":1' in header
    assert '"state":"let_go"' in header


@pytest.mark.asyncio
async def test_an_alarm_is_carried_from_bunk_to_bunk_until_somebody_answers(folder: Path) -> None:
    """A warning to one; as an alarm to a second after 15 s; handed over; quiet for all."""
    skipper, mate = RecordingNotifier(), RecordingNotifier()
    async with running(folder, skipper=skipper, mate=mate) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        assert (await rig.ask(command="let-go"))["ok"]
        await rig.time.advance(100.0)
        assert [alert.priority.value for alert in skipper.alerts] == ["warning"]
        assert mate.alerts == []
        await rig.time.advance(85.0)
        assert [alert.priority.value for alert in skipper.alerts[-1:]] == ["alarm"]
        assert mate.alerts == []
        await rig.time.advance(15.0)
        assert [alert.priority.value for alert in mate.alerts] == ["alarm"]
        silenced = await rig.ask(command="silence", by="mate")
        assert silenced["text"] == "Silenced for 30 s, not acknowledged: data stale."
        kinds = [event["kind"] for event in silenced["events"]]
        assert kinds == ["alert", "call"]
        refused = await rig.ask(command="transfer", to="cook")
        assert (refused["ok"], refused["remedy"]) == (False, "The crew are: skipper, mate.")
        await rig.ask(command="transfer", to="skipper", by="mate")
        await rig.time.advance(1.0)
        assert skipper.alerts[-1].state.value == "active_unacknowledged"
        assert mate.alerts[-1].state.value == "responsibility_transferred"
        await rig.ask(command="acknowledge", by="skipper", where="cockpit")
        await rig.time.advance(1.0)
        for notifier in (skipper, mate):
            assert notifier.alerts[-1].state.value == "active_acknowledged"
        (alert,) = (await rig.status())["alerts"]
        assert (alert["by"], alert["where"]) == ("skipper", "cockpit")


@pytest.mark.asyncio
async def test_after_a_restart_only_what_cannot_last_is_told_again(folder: Path) -> None:
    """The sounder sounds again; the telephone has its message already."""
    first: dict[str, RecordingNotifier] = {"sounder": RecordingNotifier(), "telephone": Lasting()}
    async with running(folder, **first) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        await rig.ask(command="let-go")
        await rig.time.advance(200.0)
        assert [len(notifier.alerts) > 0 for notifier in first.values()] == [True, True]
    again: dict[str, RecordingNotifier] = {"sounder": RecordingNotifier(), "telephone": Lasting()}
    async with running(folder, **again) as rig:
        await rig.time.advance(1.0)
        names = [[alert.name for alert in notifier.alerts] for notifier in again.values()]
        assert names == [["data_stale"], []]
        # The calling goes on where it was: everybody 90 s after the alarm, then again.
        await rig.time.advance(300.0)
        assert again["telephone"].alerts[-1].name == "data_stale"


@pytest.mark.asyncio
async def test_that_all_is_well_is_shown_while_it_is(folder: Path) -> None:
    """Every minute of the watch, to whatever can show it."""
    lamp = Lasting()
    async with running(folder, lamp=lamp) as rig:
        await rig.sail("gps", 0.0, seconds=100)
        assert lamp.ticks == []
        await rig.ask(command="let-go")
        await rig.sail("gps", 0.0, seconds=125)
        assert [tick.sees for tick in lamp.ticks] == [True, True]


@pytest.mark.asyncio
async def test_what_cannot_start_leaves_the_journal_alone(folder: Path) -> None:
    """A socket that cannot be made is told at once, before anything is opened."""
    rig = Rig(folder)
    rig.config = evolve(rig.config, control=evolve(rig.config.control, socket=folder / ("x" * 200)))
    with pytest.raises(DaemonError):
        await rig.start()
    assert not (folder / "journal.db").exists()


@pytest.mark.asyncio
async def test_everything_is_closed_at_the_end(folder: Path) -> None:
    """And systemd knows that it was meant."""
    async with running(folder) as rig:
        pass
    assert rig.systemd.said[-1] == "STOPPING=1"
    assert rig.notifier.closed
    assert not rig.config.control.socket.exists()
    journal = Journal.open(rig.config.journal.path)
    assert journal.load_snapshot() is not None
    journal.close()
    left = asyncio.all_tasks() - {asyncio.current_task()}
    assert not left


def dragged_here(folder: Path) -> None:
    """Let it be remembered that she dragged where she lies."""
    with Records.open(folder / "records.db") as records:
        records.save(
            Anchoring(
                began_utc_s=1_780_000_000.0,
                ended_utc_s=1_780_030_000.0,
                drop=Position(46.5, -31.2),
                method="marked",
                drags=(Drag(found_utc_s=1_780_010_000.0, moved_m=40.0, bearing_deg=90.0),),
            )
        )


@pytest.mark.asyncio
async def test_at_let_go_she_is_reminded_that_she_dragged_here(folder: Path) -> None:
    """In the answer, and as a caution that nobody is woken by and that ends with the watch."""
    dragged_here(folder)
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        answer = await rig.ask(command="let-go", rode_m=30.0)
        assert answer["ok"]
        first, second = answer["text"].splitlines()
        assert first.startswith("Let go: ")
        assert second.startswith("She dragged here before: anchoring 1, ")
        (alert,) = [each for each in (await rig.status())["alerts"] if each["name"] == REMARK]
        assert (alert["priority"], alert["text"]) == ("caution", second)
        await rig.ask(command="weigh")
        assert REMARK not in [each["name"] for each in (await rig.status())["alerts"]]
        await rig.sail("gps", 0.0, seconds=2)
        again = await rig.ask(command="let-go", rode_m=30.0)
        assert "She dragged here before" in again["text"]
    assert (REMARK, "active_unacknowledged") not in rig.told()


@pytest.mark.asyncio
async def test_the_recording_has_the_reminder_so_that_a_replay_says_the_same(folder: Path) -> None:
    dragged_here(folder)
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        await rig.ask(command="let-go", rode_m=30.0)
        await rig.sail("gps", 0.0, seconds=3)
        await rig.ask(command="weigh")
    with closing(Journal.open(folder / "journal.db")) as journal:
        told = [each.text for each in journal.events()]
    replayed: list[str] = []
    runner = Runner(ReplaySettings(), on_event=lambda event: replayed.append(event_to_json(event)))
    for batch in LogReader.of(tuple((folder / "nights").iterdir())).batches():
        runner.take(batch)
    assert any(REMARK in line for line in told)
    assert replayed == told


@pytest.mark.asyncio
@pytest.mark.parametrize("trouble", ["missing", "corrupt", "hangs"])
async def test_a_let_go_never_fails_nor_waits_for_the_records(
    folder: Path, trouble: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The anchor is marked, whatever the records are like; slow ones are not waited for."""
    monkeypatch.setattr(module, "REMARK_LIMIT_S", 0.05)
    if trouble == "corrupt":
        (folder / "records.db").write_bytes(b"nothing of the kind " * 500)
    async with running(folder) as rig:
        hanging: asyncio.Future[str | None] = asyncio.get_running_loop().create_future()
        if trouble == "hangs":
            remembering = rig.service._remembering
            monkeypatch.setattr(remembering, "dragged_here", lambda *_, **__: hanging)
        await rig.sail("gps", 0.0, seconds=10)
        answer = await rig.ask(command="let-go", rode_m=30.0)
        assert answer["ok"]
        assert "\n" not in answer["text"]
        assert (await rig.status())["on_watch"]
        # What comes too late for the answer comes as a caution.
        if trouble == "hangs":
            hanging.set_result("She dragged here before.")
            await rig.time.advance(1.0)
            assert REMARK in [each["name"] for each in (await rig.status())["alerts"]]


@pytest.mark.asyncio
async def test_what_is_found_out_after_she_has_weighed_is_not_told(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "REMARK_LIMIT_S", 0.05)
    async with running(folder) as rig:
        slow: asyncio.Future[str | None] = asyncio.get_running_loop().create_future()
        monkeypatch.setattr(rig.service._remembering, "dragged_here", lambda *_, **__: slow)
        await rig.sail("gps", 0.0, seconds=10)
        await rig.ask(command="let-go", rode_m=30.0)
        await rig.ask(command="weigh")
        slow.set_result("She dragged here before.")
        await rig.sail("gps", 0.0, seconds=2)
        assert rig.service._link.fault_text(REMARK, "") is None


@pytest.mark.asyncio
async def test_old_events_go_from_the_journal_once_the_records_have_them(folder: Path) -> None:
    """Not before, and not those of the present watch."""
    old = [
        '{"v":1,"t":"2024-06-01T20:00:00.000Z","kind":"state","name":"let_go","state":"let_go",'
        '"anchor":{"lat":46.5,"lon":-31.2,"sigma_m":3.0,"method":"marked"}}',
        '{"v":1,"t":"2024-06-02T06:00:00.000Z","kind":"state","name":"weigh","state":"aweigh"}',
    ]
    with closing(Journal.open(folder / "journal.db")) as journal:
        journal.save(snapshot_to_json(Snapshot()), old)
    async with running(folder) as rig:
        await rig.sail("gps", 0.0, seconds=10)
        await rig.ask(command="let-go", rode_m=30.0)
        await rig.service._prune()
        events = await rig.service._journal._writer.events()
        assert all("2024" not in each.text for each in events)
        assert any('"name":"let_go"' in each.text for each in events)
    with Records.open(folder / "records.db") as records:
        began = [utc_text(each.anchoring.began_utc_s) for each in records.all()]
    assert began[0] == "2024-06-01T20:00:00.000Z"
    assert len(began) == 2
