"""A display takes an alarm over, from its sentence to the sounders and back, through all of it."""

import asyncio
from pathlib import Path

import pytest

from driftlead.alerts.alert import Alert, AlertState
from driftlead.config.load import build_config
from driftlead.core.inputs import LetGo
from driftlead.daemon import service as module
from driftlead.daemon.sd_notify import SdNotify
from driftlead.daemon.service import Service
from driftlead.geodesy.position import Position
from driftlead.nmea.checksum import checksum
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.notify.nmea_out import NmeaNotifier, NmeaOptions
from driftlead.notify.nmea_out_wire import OnLine
from driftlead.notify.settings import NotifierSettings
from driftlead.testing import FakeTime, RecordingNotifier

PATIENCE_S = 10.0


class Wire:
    """Keeps what is sent, and can be talked to."""

    where = "the wire"

    def __init__(self) -> None:
        self.sent: list[str] = []
        self.on_line: OnLine | None = None

    def make(self, _options: NmeaOptions, on_line: OnLine | None) -> "Wire":
        """Be the wire."""
        self.on_line = on_line
        return self

    async def send(self, sentences: tuple[str, ...]) -> None:
        """Take them."""
        self.sent += sentences

    def close(self) -> None:
        """Do nothing."""

    def hear(self, body: str) -> None:
        """Bring a sentence of the display."""
        assert self.on_line is not None
        self.on_line(f"${body}*{checksum(body):02X}")

    def states(self, number: int) -> list[str]:
        """The states in which the display was told of an alert, each once."""
        fields = [sentence.split(",") for sentence in self.sent if sentence[3:6] == "ALF"]
        found = [each[7] for each in fields if each[9] == str(number)]
        return [state for at, state in enumerate(found) if at == 0 or found[at - 1] != state]


class Systemd(SdNotify):
    """Says when the daemon watches."""

    def __init__(self) -> None:
        super().__init__(None)
        self.is_ready = asyncio.Event()

    def _send(self, text: str) -> None:
        if text == "READY=1":
            self.is_ready.set()


class Silent:
    """A source that is open and says nothing."""

    def __init__(self, settings: object, **_given: object) -> None:
        self.name = getattr(settings, "name", "")

    async def run(self) -> None:
        """Say nothing."""
        await asyncio.Event().wait()


@pytest.mark.asyncio
async def test_a_display_has_the_alarm_while_it_beats_and_then_all_hear_it(folder: Path) -> None:
    """No data for three minutes is an alarm; the bunk is quiet only while the display lives."""
    time, wire, bunk, systemd = FakeTime(), Wire(), RecordingNotifier(), Systemd()

    def make(settings: NotifierSettings, context: NotifierContext) -> Notifier:
        if settings.name == "bunk":
            return bunk
        options = NmeaOptions(host="127.0.0.1", answers=True, takeover=True)
        return NmeaNotifier(options, context, make_wire=wire.make)

    service = Service(
        build_config(
            {
                "source": [{"name": "gps", "kind": "udp"}],
                "notifier": [{"kind": "nmea", "name": "bridge"}, {"kind": "x", "name": "bunk"}],
                "journal": {"path": "journal.db"},
                "recording": {"directory": "nights"},
                "control": {"socket": "control.sock"},
            },
            folder / "driftlead.toml",
        ),
        monotonic=time.clock,
        sleep=time.sleep,
        systemd=systemd,
        make_notifier=make,
        make_source=Silent,
    )
    task = asyncio.create_task(service.run())

    async def pass_s(seconds: int) -> None:
        for _ in range(seconds):
            await time.until_sleeping(module.HOUSEKEEP_EVERY_S)
            await time.advance(1.0)

    def alarms() -> list[Alert]:
        return [alert for alert in bunk.alerts if alert.name == "data_stale"]

    async with asyncio.timeout(PATIENCE_S):
        await systemd.is_ready.wait()
    service._link.command(LetGo(drop=Position(46.5, -31.2), rode_m=30.0))
    await pass_s(181)
    assert alarms()[-1].priority.value == "alarm"
    assert alarms()[-1].state.sounds
    wire.hear("RAHBT,10,A,0")
    wire.hear("RAACN,,,10002,1,O,C")
    for number in range(1, 4):
        await pass_s(10)
        assert alarms()[-1].state is AlertState.RESPONSIBILITY_TRANSFERRED
        wire.hear(f"RAHBT,10,A,{number}")
    await pass_s(14)
    assert alarms()[-1].state is AlertState.RESPONSIBILITY_TRANSFERRED
    await pass_s(2)
    assert alarms()[-1].state.sounds
    assert wire.states(10_002) == ["V", "O", "V"]
    assert [a.instance for a in bunk.alerts if a.name == "notifier_failed"] == ["bridge"]
    wire.hear("RAACN,,,10002,1,A,C")
    await pass_s(2)
    assert alarms()[-1].state is AlertState.ACTIVE_ACKNOWLEDGED
    assert alarms()[-1].where == "bridge"
    assert wire.states(10_002) == ["V", "O", "V", "A"]
    assert bunk.alerts[-1].name == "notifier_failed"
    assert not bunk.alerts[-1].state.is_unanswered
    service.request_stop()
    async with asyncio.timeout(PATIENCE_S):
        while not task.done():
            await time.advance(1.0)
            await asyncio.wait({task}, timeout=0.01)
    await task
