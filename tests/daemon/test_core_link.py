"""The one way to the core: what is stamped, recorded, handed on and saved, and in which order."""

import asyncio
import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert
from driftlead.core.inputs import Acknowledge, Command, Fault, LetGo, Veer, Weigh
from driftlead.core.inputs_json import command_from_json, command_to_json
from driftlead.core.reply import Event
from driftlead.core.settings import CoreSettings
from driftlead.core.snapshot import Snapshot
from driftlead.daemon.core_link import CoreLink
from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.simulate.nmea_writer import rmc
from driftlead.watch.anchored import Anchored
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.state_table import WatchState

PLACE = Position(46.5, -31.2)
RIDING = Snapshot(
    state=WatchState.RIDING,
    anchored=Anchored(
        drop=PLACE, place=AnchorInPlane(0.0, 0.0, 3.0), method=AnchorMethod.MARKED, rode_m=30.0
    ),
    origin=PLACE,
)

BROKEN = Fault(name="notifier_failed", instance="siren", text="It is broken.")
MENDED = Fault(name="notifier_failed", instance="siren", text=None)


class Rig:
    """A link with everything around it written down."""

    def __init__(self) -> None:
        self.now_s = 100.0
        self.recorded: list[tuple[float, str, Any]] = []
        self.told: list[Event] = []
        self.saves: list[tuple[str, list[str]]] = []
        self.due_s: float | None = None
        self.broken: list[Exception] = []
        self.link = CoreLink(
            CoreSettings(),
            clock=lambda: self.now_s,
            recorder=self,
            tell=self.told.append,
            save=self._save,
            on_due=self._due,
            on_broken=self.broken.append,
        )

    def start(self, mono_s: float, *, header: Mapping[str, Any]) -> None:
        """Record the beginning."""
        self.recorded.append((mono_s, "start", header))

    def line(self, line: StampedLine) -> None:
        """Record a line."""
        self.recorded.append((line.mono_s, "line", line.text))

    def input(self, mono_s: float, kind: str, data: Mapping[str, Any]) -> None:
        """Record anything else."""
        self.recorded.append((mono_s, kind, data))

    def kinds(self) -> list[str]:
        """What was recorded, in order."""
        return [kind for _, kind, _ in self.recorded]

    def _save(self, snapshot: str, events: Sequence[str]) -> "asyncio.Future[None]":
        self.saves.append((snapshot, list(events)))
        return asyncio.get_running_loop().create_future()

    def _due(self, due_s: float | None) -> None:
        self.due_s = due_s


@pytest.mark.asyncio
async def test_a_run_begins_with_what_a_replay_must_know() -> None:
    """Settings and the watch it took up, at the very stamp the core began with."""
    rig = Rig()
    rig.link.begin(Snapshot(state=WatchState.STOWED, last_number=3))
    ((mono_s, kind, header),) = rig.recorded
    assert (mono_s, kind) == (100.0, "start")
    assert header["snapshot"]["last_number"] == 3
    assert header["settings"]["watch"]["limits"]["stale_warning_s"] == 30.0
    assert len(rig.saves) == 1


@pytest.mark.asyncio
async def test_a_line_stamped_before_the_last_input_is_moved_up_to_it() -> None:
    """The recording never goes backwards, so a replay meets every input in the same order."""
    rig = Rig()
    rig.link.begin(None)
    rig.now_s = 101.0
    rig.link.fault(BROKEN)
    rig.link.line(StampedLine(100.5, "gps", "junk"))
    assert [mono_s for mono_s, _, _ in rig.recorded] == [100.0, 101.0, 101.0]


@pytest.mark.asyncio
async def test_every_input_is_recorded_also_a_command_that_is_refused() -> None:
    """A replay then refuses it again."""
    rig = Rig()
    rig.link.begin(None)
    reply, saved = rig.link.command(LetGo())
    assert not reply.accepted
    assert saved is None
    assert rig.kinds() == ["start", "command"]
    assert len(rig.saves) == 1


@pytest.mark.asyncio
async def test_a_command_that_changes_something_gives_its_save_to_wait_for() -> None:
    """The answer is only given when that is done."""
    rig = Rig()
    rig.link.begin(None)
    rig.link.fault(BROKEN)
    reply, saved = rig.link.command(Acknowledge())
    assert reply.accepted
    assert saved is not None
    names = [event.name for event in rig.told if isinstance(event, Alert)]
    assert names == ["notifier_failed", "notifier_failed"]
    assert ["notifier_failed" in "".join(events) for _, events in rig.saves] == [False, True, True]


@pytest.mark.asyncio
async def test_a_fault_that_is_no_news_is_no_input() -> None:
    """Neither said twice nor mended before it broke."""
    rig = Rig()
    rig.link.begin(None)
    for fault in (MENDED, BROKEN, BROKEN, MENDED, MENDED):
        rig.link.fault(fault)
    assert rig.kinds() == ["start", "fault", "fault"]
    assert rig.link.fault_text("notifier_failed", "siren") is None


@pytest.mark.asyncio
async def test_time_alone_is_recorded_only_when_it_decides_something() -> None:
    """A tick a second would fill the disk; one that matters must be there."""
    rig = Rig()
    rig.link.begin(RIDING)
    assert rig.due_s == 130.0
    for rig.now_s in (110.0, 120.0, 129.0):
        rig.link.tick()
    assert rig.kinds() == ["start"]
    rig.now_s = 130.5
    rig.link.tick()
    assert rig.kinds() == ["start", "tick"]
    last = rig.told[-1]
    assert isinstance(last, Alert)
    assert (last.name, last.mono_s) == ("data_stale", 130.0)
    assert rig.due_s == 280.0


@pytest.mark.asyncio
async def test_a_core_that_breaks_is_told_and_the_error_goes_on() -> None:
    """Its state cannot be trusted any more."""
    rig = Rig()
    rig.link.begin(None)
    error = ZeroDivisionError()

    def breaks(*_: Any) -> None:
        raise error

    core = rig.link.core
    for method in ("feed", "command", "fault", "advance"):
        setattr(core, method, breaks)
    for work in (
        lambda: rig.link.line(StampedLine(101.0, "gps", "")),
        lambda: rig.link.command(Acknowledge()),
        lambda: rig.link.fault(BROKEN),
        rig.link.tick,
    ):
        with pytest.raises(ZeroDivisionError):
            work()
    assert rig.broken == [error] * 4


@pytest.mark.asyncio
async def test_a_changed_snapshot_is_saved_without_an_event_and_an_equal_one_is_not() -> None:
    """Every write wears the card."""
    rig = Rig()
    rig.link.begin(None)
    rig.link.keep_snapshot()
    assert len(rig.saves) == 1
    rig.link.core.watch.state = WatchState.AWEIGH
    rig.link.keep_snapshot()
    rig.link.keep_snapshot()
    assert len(rig.saves) == 2
    assert rig.saves[-1][1] == []


@pytest.mark.asyncio
async def test_after_the_end_nothing_is_taken() -> None:
    """What comes in while everything is closed is not in the recording either."""
    rig = Rig()
    rig.link.begin(None)
    rig.link.end()
    rig.link.line(StampedLine(101.0, "gps", ""))
    rig.link.fault(BROKEN)
    rig.link.tick()
    rig.link.keep_snapshot()
    assert rig.kinds() == ["start"]
    assert rig.due_s is None
    assert not rig.link.is_running


lengths = st.none() | st.floats(0.001, 1000.0)
places = st.builds(
    Position, st.floats(46.49, 46.51) | st.floats(-90, 90), st.floats(-31.21, -31.19)
)
commands = st.one_of(
    st.builds(LetGo, rode_m=lengths, depth_m=lengths, drop=st.none() | places, late=st.booleans()),
    st.builds(Veer, rode_m=st.floats(0.001, 1000.0), depth_m=lengths),
    st.builds(Acknowledge, name=st.sampled_from([None, "drag", "nonesuch"])),
    st.just(Weigh()),
)


@given(st.lists(commands, max_size=12))
@settings(max_examples=200, deadline=None)
def test_no_command_whatever_its_figures_breaks_the_core(given_: list[Command]) -> None:
    """The daemon would stop; each is carried out or refused with words."""

    async def give() -> None:
        rig = Rig()
        rig.link.begin(None)
        utc = dt.datetime(2026, 7, 1, 20, 0, 0, tzinfo=dt.UTC)
        for command in given_:
            for _ in range(2):
                rig.now_s += 1.0
                utc += dt.timedelta(seconds=1)
                text = rmc(utc=utc, lat_deg=46.5, lon_deg=-31.2, sog_mps=0.1, cog_deg=0.0)
                rig.link.line(StampedLine(rig.now_s, "gps", text))
            reply, _ = rig.link.command(command_from_json(command_to_json(command)))
            assert reply.text
        assert rig.broken == []

    asyncio.run(give())
