"""The core as a whole: what goes in, in order, and what comes out."""

import datetime as dt
import random
from collections.abc import Iterable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState
from driftlead.core.core import Core
from driftlead.core.inputs import Acknowledge, Command, Fault, LetGo, Veer, Weigh
from driftlead.core.reply import Event
from driftlead.core.settings import CoreSettings
from driftlead.core.snapshot import snapshot_from_json, snapshot_to_json
from driftlead.core.state_event import StateEvent
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.simulate.nmea_writer import gga, rmc
from driftlead.watch.settings import BoatSettings, WatchSettings

ORIGIN = Position(46.5, -31.2)
PLANE = LocalPlane(ORIGIN)
START = dt.datetime(2026, 6, 14, 22, 0, 0, tzinfo=dt.UTC)
CoreInput = StampedLine | tuple[float, Command]


def fix(
    time_s: float,
    east_m: float = 0.0,
    north_m: float = 0.0,
    *,
    sog_mps: float = 0.0,
    cog_deg: float | None = None,
    source: str = "gps",
    start: dt.datetime = START,
    valid: bool = True,
) -> list[StampedLine]:
    """RMC and GGA of one second, as a receiver at this place would send them."""
    lat_deg, lon_deg = PLANE.to_lat_lon(east_m, north_m)
    utc = start + dt.timedelta(seconds=time_s)
    texts = (
        rmc(
            utc=utc,
            lat_deg=lat_deg,
            lon_deg=lon_deg,
            sog_mps=sog_mps,
            cog_deg=cog_deg,
            valid=valid,
            decimals=5,
        ),
        gga(
            utc=utc,
            lat_deg=lat_deg,
            lon_deg=lon_deg,
            satellites=10,
            hdop=0.9,
            valid=valid,
            decimals=5,
        ),
    )
    return [StampedLine(time_s, source, text) for text in texts]


def lying(begin_s: int, end_s: int, north_m: float = 0.0) -> list[StampedLine]:
    """At one place, but for the decimetres a receiver wanders."""
    lines = []
    for second in range(begin_s, end_s):
        lines += fix(second, 0.1 * (second % 3), north_m)
    return lines


def going(begin_s: int, end_s: int, from_m: float, mps: float) -> list[StampedLine]:
    """Northward."""
    lines = []
    for second in range(begin_s, end_s):
        lines += fix(second, 0.0, from_m + mps * (second - begin_s), sog_mps=abs(mps), cog_deg=0.0)
    return lines


def new_core() -> Core:
    """Antenna at the bow roller, so that distances are plain."""
    boat = BoatSettings(bow_height_m=1.0, antenna_aft_m=0.0)
    return Core(CoreSettings(watch=WatchSettings(boat=boat)), mono_s=0.0)


def run(core: Core, inputs: Iterable[CoreInput]) -> list[Event]:
    """Every event; a command that is refused fails the test."""
    events: list[Event] = []
    for each in inputs:
        if isinstance(each, StampedLine):
            events += core.feed(each)
        else:
            reply = core.command(*each)
            assert reply.accepted, reply
            events += reply.events
    return events


def states(events: Iterable[Event]) -> list[str]:
    """The states entered."""
    return [event.state for event in events if isinstance(event, StateEvent)]


def alerts(events: Iterable[Event], name: str) -> list[str]:
    """The states an alert went through."""
    return [e.state.value for e in events if isinstance(e, Alert) and e.name == name]


def evening() -> list[CoreInput]:
    """Let go, fall back 30 m, lie there: riding after some eleven minutes."""
    return [
        *lying(0, 20),
        (19.5, LetGo(depth_m=6.0)),
        *going(20, 50, 0.0, 1.0),
        (49.5, Veer(rode_m=32.0)),
        *lying(50, 800, 30.0),
    ]


def drag(begin_s: int, *, mps: float = 0.2, length_s: int = 400) -> list[StampedLine]:
    """The boat goes off northward from where she lies."""
    return going(begin_s, begin_s + length_s, 30.0, mps)


def test_an_evening_goes_through_its_states_in_order() -> None:
    events = run(new_core(), evening())
    assert states(events) == ["let_go", "laying_back", "laying_back", "brought_up", "riding"]
    assert not any(isinstance(event, Alert) for event in events)


def test_a_drag_is_told_with_metres_direction_and_rate() -> None:
    core = new_core()
    run(core, evening())
    events = run(core, drag(800))
    (alarm,) = [event for event in events if isinstance(event, Alert)]
    assert states(events) == ["dragging"]
    assert (alarm.name, alarm.priority.value, alarm.state.value) == (
        "drag",
        "alarm",
        "active_unacknowledged",
    )
    truly_moved_m = 0.2 * (alarm.mono_s - 800.0)
    assert alarm.moved_m is not None
    assert alarm.moved_m == pytest.approx(truly_moved_m, abs=6.0 + 0.2 * truly_moved_m)
    assert alarm.bearing_deg is not None
    assert min(alarm.bearing_deg, 360.0 - alarm.bearing_deg) < 20.0
    assert alarm.rate_mps is not None
    assert 0.05 < alarm.rate_mps < 0.4
    assert alarm.confidence is not None
    assert 0.9 < alarm.confidence <= 1.0
    assert alarm.utc_s == START.timestamp() + alarm.mono_s


def test_she_holds_again_but_the_alarm_waits_for_an_answer() -> None:
    core = new_core()
    run(core, [*evening(), *drag(800)])
    events = run(core, lying(1200, 2300, 110.0))
    assert states(events) == ["riding"]
    assert alerts(events, "drag") == []
    reply = core.command(2300.0, Acknowledge())
    assert alerts(reply.events, "drag") == ["normal"]
    # The circle is drawn about where the anchor is now: lying here is no drag.
    assert not alerts(run(core, lying(2301, 2600, 110.0)), "drag")


def test_a_second_drag_after_the_answer_sounds_again() -> None:
    core = new_core()
    run(core, [*evening(), *drag(800), (1199.5, Acknowledge()), *lying(1200, 2300, 110.0)])
    assert alerts(run(core, going(2300, 2900, 110.0, 0.2)), "drag") == ["active_unacknowledged"]


def test_veering_while_dragging_gives_her_a_new_chance() -> None:
    core = new_core()
    run(core, [*evening(), *drag(800), (1199.5, Acknowledge())])
    reply = core.command(1200.0, Veer(rode_m=60.0))
    assert states(reply.events) == ["laying_back"]
    assert alerts(reply.events, "drag") == ["normal"]


def test_weighing_ends_the_watch_and_every_alert_of_it() -> None:
    core = new_core()
    run(core, [*evening(), *drag(800)])
    reply = core.command(1200.0, Weigh())
    assert states(reply.events) == ["aweigh"]
    assert core.status(1200.0).alerts == ()
    assert core.next_due_s is None
    assert not core.advance(90_000.0)


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (Veer(rode_m=30.0), "let-go"),
        (Weigh(), "none to weigh"),
        (LetGo(), "fix"),
        (LetGo(late=True, rode_m=30.0), "fix"),
        (LetGo(late=True), "--rode"),
        (Acknowledge(name="drag"), "none"),
    ],
)
def test_a_command_that_makes_no_sense_is_refused_without_effect(
    command: Command, words: str
) -> None:
    core = new_core()
    before = snapshot_to_json(core.snapshot())
    reply = core.command(1.0, command)
    assert not reply.accepted
    assert words in f"{reply.text} {reply.remedy}"
    assert reply.events == ()
    assert snapshot_to_json(core.snapshot()) == before


def test_impossible_figures_are_refused() -> None:
    core = new_core()
    run(core, lying(0, 20))
    for command, words in (
        (LetGo(rode_m=5.0, depth_m=6.0), "does not reach the bottom"),
        (LetGo(drop=Position(46.7, -31.2)), "km from the boat"),
        (LetGo(drop=ORIGIN, late=True, rode_m=30.0), "late"),
    ):
        reply = core.command(20.0, command)
        assert not reply.accepted
        assert words in f"{reply.text} {reply.remedy}"
    assert core.status(20.0).state == "stowed"


def test_an_old_fix_marks_no_anchor() -> None:
    core = new_core()
    run(core, lying(0, 20))
    reply = core.command(60.0, LetGo())
    assert not reply.accepted
    assert "s old" in reply.text


def test_silence_is_a_warning_then_an_alarm_at_its_own_instants() -> None:
    core = new_core()
    run(core, evening())
    events = core.advance(2000.0)
    told = [(e.mono_s, e.priority.value) for e in events if isinstance(e, Alert)]
    assert told == [(799.0 + 30.0, "warning"), (799.0 + 180.0, "alarm")]
    assert alerts(run(core, lying(2000, 2002, 30.0)), "data_stale") == ["rectified_unacknowledged"]


def test_a_receiver_without_a_fix_is_told_apart_from_a_silent_one() -> None:
    core = new_core()
    run(core, evening())
    events: list[Event] = []
    for second in range(800, 1200):
        for line in fix(second, valid=False):
            events += core.feed(line)
    assert alerts(events, "data_stale") == []
    lost = [e for e in events if isinstance(e, Alert) and e.name == "fix_lost"]
    assert [(round(e.mono_s), e.priority.value) for e in lost] == [
        (859, "warning"),
        (1099, "alarm"),
    ]


def test_nothing_is_said_of_a_silent_receiver_while_no_watch_is_kept() -> None:
    core = new_core()
    run(core, lying(0, 20))
    assert not core.advance(100_000.0)


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 2**32 - 1))
def test_asking_more_often_decides_nothing_else(seed: int) -> None:
    """Between any two inputs ``advance`` may be asked any number of times."""
    dice = random.Random(seed)
    inputs = [
        each
        for each in [*evening()[:200], *drag(300, mps=0.5, length_s=120)]
        if dice.random() > 0.02
    ]
    quiet, asked = new_core(), new_core()
    once: list[Event] = []
    often: list[Event] = []
    for each in inputs:
        at_s = each.mono_s if isinstance(each, StampedLine) else each[0]
        for _ in range(dice.randrange(3)):
            last_s = asked.status(at_s).utc_s
            assert last_s is None or last_s > 0
            often += asked.advance(max(0.0, at_s - dice.random()))
        for core, told in ((quiet, once), (asked, often)):
            if isinstance(each, StampedLine):
                told.extend(core.feed(each))
            else:
                told.extend(core.command(*each).events)
    assert often == once


def test_the_same_inputs_give_the_same_events() -> None:
    inputs = [*evening(), *drag(800)]
    assert run(new_core(), inputs) == run(new_core(), inputs)


def test_a_watch_taken_up_again_stands_where_it_stood() -> None:
    core = new_core()
    run(core, [*evening(), *drag(800)])
    snapshot = snapshot_from_json(snapshot_to_json(core.snapshot()))
    boat = BoatSettings(bow_height_m=1.0, antenna_aft_m=0.0)
    again = Core(CoreSettings(watch=WatchSettings(boat=boat)), mono_s=5.0, snapshot=snapshot)
    events = again.resumed()
    # The unanswered alarm sounds again, and the restart itself is told.
    assert alerts(events, "drag") == ["active_unacknowledged"]
    assert alerts(events, "watch_resumed") == ["active_acknowledged"]
    assert again.status(5.0).state == "dragging"
    assert again.status(5.0).rode_m == 32.0
    later = run(again, [*fix(10.0, 0.0, 110.0), *fix(11.0, 0.0, 110.0)])
    assert alerts(later, "watch_resumed") == []
    read = again.command(12.0, Acknowledge()).events
    assert alerts(read, "watch_resumed") == ["normal"]


def test_faults_of_ours_are_alerts_until_mended() -> None:
    core = new_core()
    events = core.fault(1.0, Fault(name="notifier_failed", instance="horn", text="It is mute."))
    (alert,) = [event for event in events if isinstance(event, Alert)]
    assert (alert.instance, alert.priority.value, alert.text) == ("horn", "warning", "It is mute.")
    assert alert.state is AlertState.ACTIVE_UNACKNOWLEDGED
    core.command(2.0, Acknowledge())
    ended = core.fault(3.0, Fault(name="notifier_failed", instance="horn"))
    assert alerts(ended, "notifier_failed") == ["normal"]


def test_a_date_from_before_the_rollover_is_put_right_and_told() -> None:
    """GPS week rollover: 1024 weeks of 7 days (IS-GPS-200)."""
    core = Core(CoreSettings(earliest_date=dt.date(2026, 1, 1)), mono_s=0.0)
    old = START - dt.timedelta(weeks=1024)
    events: list[Event] = []
    for second in range(5):
        for line in fix(second, start=old):
            events += core.feed(line)
    assert core.utc_s(4.0) == START.timestamp() + 4.0
    assert alerts(events, "receiver_date") == ["active_acknowledged"]


def test_the_second_source_takes_over_when_the_first_falls_silent() -> None:
    core = Core(CoreSettings(source_order=("gps", "spare")), mono_s=0.0)
    for second in range(60):
        sources = ("gps", "spare") if second < 20 or second >= 50 else ("spare",)
        for source in sources:
            for line in fix(second, source=source):
                core.feed(line)
        receiver = core.status(second).receiver
        if second in (10, 19):
            assert receiver == "gps/satellite"
        if second == 49:
            assert receiver == "spare/satellite"


def test_wild_text_is_counted_and_harms_nothing() -> None:
    core = new_core()
    run(core, lying(0, 20))
    for text in ("\x00\xff" * 60, "x" * 200, "$GPRMC,", "$GPRMC*00", "", "$$$$", "!AIVDM,x"):
        assert not core.feed(StampedLine(20.0, "gps", text))
    (source,) = core.status(20.0).sources
    assert sum(source.rejected.values()) + sum(source.unsupported.values()) == 7
    assert core.command(20.5, LetGo()).accepted


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.one_of(
            st.tuples(st.integers(-60, 60), st.integers(-60, 60)),
            st.sampled_from(
                [
                    LetGo(),
                    LetGo(rode_m=30.0, depth_m=6.0),
                    LetGo(rode_m=30.0, late=True),
                    LetGo(drop=ORIGIN),
                    Veer(rode_m=35.0),
                    Veer(rode_m=2.0, depth_m=5.0),
                    Acknowledge(),
                    Acknowledge(name="drag"),
                    Weigh(),
                ]
            ),
            st.just("wait"),
        ),
        max_size=40,
    )
)
def test_no_order_of_commands_and_fixes_does_worse_than_a_refusal(deeds: list[object]) -> None:
    """And at every moment the watch can be put down and taken up again."""
    core, now_s = new_core(), 0.0
    for deed in deeds:
        now_s += 1.0
        if deed == "wait":
            now_s += 400.0
            core.advance(now_s)
        elif isinstance(deed, tuple):
            for line in fix(now_s, float(deed[0]), float(deed[1])):
                core.feed(line)
        else:
            before = core.snapshot()
            reply = core.command(now_s, deed)  # type: ignore[arg-type]
            if not reply.accepted:
                assert reply.remedy
                assert core.snapshot().state is before.state
        snapshot = core.snapshot()
        assert snapshot_from_json(snapshot_to_json(snapshot)) == snapshot
        again = Core(CoreSettings(), mono_s=0.0, snapshot=snapshot)
        assert again.status(0.0).state == core.status(now_s).state
        assert again.snapshot().anchored == snapshot.anchored
