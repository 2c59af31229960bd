"""The JSON that leaves the core: events (a versioned contract), commands, snapshots, settings."""

import contextlib
import datetime as dt
import json
from typing import Any

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call, CallReason
from driftlead.core.events_json import event_to_json, utc_text
from driftlead.core.inputs import (
    Acknowledge,
    Command,
    CorrectMark,
    Fault,
    LetGo,
    Silence,
    Slip,
    Transfer,
    Veer,
    Weigh,
)
from driftlead.core.inputs_json import (
    command_from_json,
    command_to_json,
    fault_from_json,
    fault_to_json,
)
from driftlead.core.settings import CoreSettings
from driftlead.core.settings_json import settings_from_json, settings_to_json
from driftlead.core.snapshot import Snapshot, snapshot_from_json, snapshot_to_json
from driftlead.core.state_event import StateEvent
from driftlead.errors import JournalError, RecordingError, UserInputError
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.watch.anchored import Anchored
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.settings import BoatSettings, WatchSettings
from driftlead.watch.slip_position import SlipPosition
from driftlead.watch.state_table import WatchState

ANCHOR = AnchorEstimate(46.50132191, -31.20097604, 5.8123, AnchorMethod.MOVED)
ALERT = Alert(
    name="drag",
    number=1,
    priority=Priority.ALARM,
    state=AlertState.ACTIVE_UNACKNOWLEDGED,
    reason="outside_drag_circle",
    text="The anchor is dragging.",
    mono_s=18_987.0,
    utc_s=1_781_493_627.0,
    raised_utc_s=1_781_493_627.0,
    moved_m=12.84,
    bearing_deg=54.46,
    rate_mps=0.0821,
    confidence=0.99612,
    anchor=ANCHOR,
)


def test_an_alert_is_written_as_docs_events_shows() -> None:
    """To the letter: people's scripts read this."""
    assert event_to_json(ALERT) == (
        '{"v":1,"t":"2026-06-15T03:20:27.000Z","kind":"alert","name":"drag","instance":"",'
        '"number":1,"priority":"alarm","state":"active_unacknowledged",'
        '"reason":"outside_drag_circle","text":"The anchor is dragging.","moved_m":12.8,'
        '"bearing_deg":54.5,"rate_mps":0.082,"confidence":0.996,'
        '"anchor":{"lat":46.5013219,"lon":-31.200976,"sigma_m":5.8,"method":"moved"},'
        '"by":null,"where":null,"handed_to":null}'
    )


def test_a_state_is_written_as_docs_events_shows() -> None:
    event = StateEvent(
        name="let_go", state="let_go", reason="marked", mono_s=1.0, utc_s=1_781_474_639.9254
    )
    assert event_to_json(event) == (
        '{"v":1,"t":"2026-06-14T22:03:59.925Z","kind":"state","name":"let_go","priority":null,'
        '"state":"let_go","reason":"marked","moved_m":null,"bearing_deg":null,"anchor":null}'
    )


def test_only_a_slip_says_where_the_bow_was_and_what_is_left_down() -> None:
    bow = AnchorEstimate(46.50151234, -31.20060001, 2.449, AnchorMethod.MARKED)
    slip = SlipPosition(anchor=ANCHOR, bow=bow, rode_m=38.0, depth_m=6.24)
    event = StateEvent(
        name="slipped",
        state="slipped",
        reason="commanded",
        mono_s=1.0,
        utc_s=1_781_493_900.0,
        anchor=ANCHOR,
        slip=slip,
    )
    assert event_to_json(event) == (
        '{"v":1,"t":"2026-06-15T03:25:00.000Z","kind":"state","name":"slipped","priority":null,'
        '"state":"slipped","reason":"commanded","moved_m":null,"bearing_deg":null,'
        '"anchor":{"lat":46.5013219,"lon":-31.200976,"sigma_m":5.8,"method":"moved"},'
        '"bow":{"lat":46.5015123,"lon":-31.2006,"sigma_m":2.4,"method":"marked"},'
        '"rode_m":38.0,"depth_m":6.2}'
    )
    unknown = evolve(event, slip=SlipPosition(anchor=ANCHOR))
    assert event_to_json(unknown).endswith(',"bow":null,"rode_m":null,"depth_m":null}')


def test_a_call_is_written_as_docs_events_shows() -> None:
    call = Call(
        alert=ALERT,
        outlets=("log", "aft"),
        reason=CallReason.FIRST,
        step=0,
        loudness=0,
        mono_s=18_987.0,
        utc_s=1_781_493_627.0,
    )
    assert event_to_json(call) == (
        '{"v":1,"t":"2026-06-15T03:20:27.000Z","kind":"call","name":"drag","instance":"",'
        '"number":1,"priority":"alarm","state":"active_unacknowledged","reason":"first",'
        '"outlets":["log","aft"],"step":0,"loudness":0}'
    )


def test_that_all_is_well_is_written_as_docs_events_shows() -> None:
    tick = AllsWell(state="riding", sees=True, mono_s=1.0, utc_s=1_781_474_700.0)
    assert event_to_json(tick) == (
        '{"v":1,"t":"2026-06-14T22:05:00.000Z","kind":"alls_well","state":"riding",'
        '"reason":"fix_judged"}'
    )
    assert '"reason":"loss_declared"' in event_to_json(evolve(tick, sees=False))


def test_a_bearing_never_rounds_up_to_a_full_circle() -> None:
    assert json.loads(event_to_json(evolve(ALERT, bearing_deg=359.97)))["bearing_deg"] == 0.0


def test_before_the_receiver_tells_the_time_there_is_none() -> None:
    assert json.loads(event_to_json(evolve(ALERT, utc_s=None)))["t"] is None


@given(st.integers(315_964_800_000, 4_102_444_800_000))
def test_times_are_those_of_the_standard_library(milliseconds: int) -> None:
    """From the first day of GPS to the end of the century."""
    moment = dt.datetime.fromtimestamp(0, dt.UTC) + dt.timedelta(milliseconds=milliseconds)
    wanted = moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    assert utc_text(moment.timestamp()) == wanted


COMMANDS: list[tuple[Command, dict[str, Any]]] = [
    (LetGo(), {"command": "let-go"}),
    (LetGo(rode_m=30.0, late=True), {"command": "let-go", "rode_m": 30.0, "late": True}),
    (
        LetGo(drop=Position(46.5, -31.2), depth_m=6.0),
        {"command": "let-go", "depth_m": 6.0, "drop": {"lat_deg": 46.5, "lon_deg": -31.2}},
    ),
    (Veer(rode_m=38.0), {"command": "veer", "rode_m": 38.0}),
    (
        CorrectMark(position=Position(46.5, -31.2)),
        {"command": "correct-mark", "position": {"lat_deg": 46.5, "lon_deg": -31.2}},
    ),
    (Acknowledge(), {"command": "acknowledge"}),
    (Acknowledge(name="drag"), {"command": "acknowledge", "name": "drag"}),
    (
        Acknowledge(by="mate", where="cockpit"),
        {"command": "acknowledge", "by": "mate", "where": "cockpit"},
    ),
    (Silence(), {"command": "silence"}),
    (Silence(name="drag", by="mate"), {"command": "silence", "name": "drag", "by": "mate"}),
    (Transfer(to="skipper"), {"command": "transfer", "to": "skipper"}),
    (Weigh(), {"command": "weigh"}),
    (Slip(), {"command": "slip"}),
]


@pytest.mark.parametrize(("command", "data"), COMMANDS)
def test_each_command_has_one_form_in_json(command: Command, data: dict[str, Any]) -> None:
    assert command_to_json(command) == data
    assert command_from_json(json.loads(json.dumps(data))) == command


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"command": "hoist"},
        {"command": ["veer"]},
        {"command": "veer"},
        {"command": "veer", "rode_m": "long"},
        {"command": "veer", "rode_m": -3.0},
        {"command": "veer", "rode_m": 0.0},
        {"command": "veer", "rode_m": 1e9},
        {"command": "veer", "rode_m": float("nan")},
        {"command": "veer", "rode_m": 30.0, "rope": True},
        {"command": "let-go", "late": "false"},
        {"command": "let-go", "drop": {"lat_deg": 95.0, "lon_deg": 0.0}},
        {"command": "let-go", "drop": "here"},
    ],
)
def test_a_command_that_cannot_be_meant_is_refused(data: dict[str, Any]) -> None:
    with pytest.raises(UserInputError) as refusal:
        command_from_json(data)
    assert refusal.value.remedy


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.sampled_from(["veer", "x", ""]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["command", "rode_m", "depth_m", "drop", "late", "lat_deg", "name"]),
            inner,
            max_size=4,
        )
    ),
    max_leaves=8,
)


@settings(deadline=None)
@given(st.dictionaries(st.sampled_from(["command", "rode_m", "drop", "late", "name"]), JSON))
def test_any_json_is_a_command_or_a_clear_refusal(data: dict[str, Any]) -> None:
    with contextlib.suppress(UserInputError):
        assert isinstance(command_from_json(data), Command)


def test_a_fault_goes_through_json() -> None:
    for fault in (Fault(name="journal_failed", text="full"), Fault(name="x", instance="y")):
        assert fault_from_json(json.loads(json.dumps(fault_to_json(fault)))) == fault


SNAPSHOT = Snapshot(
    state=WatchState.DRAGGING,
    anchored=Anchored(
        drop=Position(46.5, -31.2),
        place=AnchorInPlane(1.0, -2.0, 3.0),
        method=AnchorMethod.MARKED,
        rode_m=38.0,
        depth_m=6.9,
    ),
    origin=Position(46.5, -31.2),
    farthest_m=61.25,
    farthest_bearing_deg=54.0,
    alerts=(ALERT,),
    last_number=1,
)


def test_a_snapshot_comes_back_as_it_was() -> None:
    assert snapshot_from_json(snapshot_to_json(SNAPSHOT)) == SNAPSHOT
    assert snapshot_from_json(snapshot_to_json(Snapshot())) == Snapshot()


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", '{"version":1,"state":"at sea"}', "null"])
def test_a_damaged_snapshot_is_told_with_what_to_do(text: str) -> None:
    with pytest.raises(JournalError) as error:
        snapshot_from_json(text)
    assert "let-go" in error.value.remedy


def test_a_snapshot_of_a_newer_program_is_not_guessed_at() -> None:
    data = json.loads(snapshot_to_json(SNAPSHOT))
    data["version"] = 99
    with pytest.raises(JournalError, match="version 99"):
        snapshot_from_json(json.dumps(data))


def test_settings_go_through_json_and_strangers_are_refused() -> None:
    boat = BoatSettings(bow_height_m=1.2, antenna_aft_m=8.0)
    given_settings = CoreSettings(
        watch=WatchSettings(boat=boat),
        source_order=("gps", "wind"),
        earliest_date=dt.date(2026, 1, 1),
    )
    data = json.loads(json.dumps(settings_to_json(given_settings)))
    assert settings_from_json(data) == given_settings
    with pytest.raises(RecordingError):
        settings_from_json({**data, "sails": 3})
