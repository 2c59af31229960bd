"""Who is called of what happens, through the whole core: decided in time, recorded, taken up."""

import datetime as dt
from typing import TYPE_CHECKING

import pytest
from attrs import evolve

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.call import Call, CallReason
from driftlead.core.inputs import Acknowledge, LetGo, Silence, Transfer, Weigh
from driftlead.core.settings import CoreSettings
from driftlead.core.snapshot import snapshot_from_json, snapshot_to_json

if TYPE_CHECKING:
    from tests.core.conftest import Sea

EVERYBODY = "log+aft+fore+saloon"


@pytest.fixture
def sea(put_to_sea: "type[Sea]", crewed: CoreSettings) -> "Sea":
    """The sloop with a watch bill, at 20:00, the skipper's watch."""
    boat = put_to_sea(crewed)
    boat.lie(60.0, 0.0)
    return boat


def to_alarm(sea: "Sea") -> "Sea":
    """No data for three minutes: an alarm. What was told of the warning before is forgotten."""
    sea.command(LetGo(rode_m=30.0, depth_m=5.0, drop=sea.place(0.0)))
    sea.lie(10.0, 5.0)
    sea.wait(179.0)
    sea.events.clear()
    sea.wait(1.0)
    return sea


def test_an_alarm_goes_on_to_everybody_at_its_instants_though_asked_hours_later(
    sea: "Sea",
) -> None:
    """The steps of MSC.128(75) 4.1.2."""
    to_alarm(sea).wait(200.0)
    assert sea.calls == [
        "0 data_stale more_urgent log+aft 1",
        "15 data_stale escalated fore 2",
        "15 data_stale louder log+aft 2",
        "90 data_stale escalated saloon 3",
        "90 data_stale louder log+aft+fore 3",
    ]
    times = [event.mono_s for event in sea.events]
    assert times == sorted(times)


def test_each_call_follows_the_change_of_its_alert(sea: "Sea") -> None:
    to_alarm(sea)
    alert, call = sea.events
    assert isinstance(alert, Alert)
    assert isinstance(call, Call)
    assert call.alert == alert
    assert (call.mono_s, call.utc_s) == (alert.mono_s, alert.utc_s)


def test_the_next_step_is_what_is_next_due(sea: "Sea") -> None:
    to_alarm(sea)
    assert sea.core.next_due_s == sea.now_s + 15.0
    sea.wait(15.0)
    assert sea.core.next_due_s == sea.now_s + 75.0
    sea.command(Acknowledge())
    assert sea.core.next_due_s is None


def test_after_midnight_the_mate_is_called_first(
    put_to_sea: "type[Sea]", crewed: CoreSettings
) -> None:
    """By the receiver's UTC and the ship's zone: here two hours east of Greenwich."""
    east = evolve(crewed.alerts, bill=evolve(crewed.alerts.bill, utc_offset_s=7200.0))
    for settings, first in ((crewed, "aft"), (evolve(crewed, alerts=east), "fore")):
        boat = put_to_sea(settings, utc=dt.datetime(2026, 6, 1, 22, 30, tzinfo=dt.UTC))
        boat.lie(60.0, 0.0)
        to_alarm(boat)
        assert boat.calls[0].split()[3] == f"log+{first}"


def test_an_unanswered_warning_becomes_an_alarm_while_the_anchor_is_down(sea: "Sea") -> None:
    sea.fault("source_silent", "Unplugged.", "wind")
    sea.wait(1000.0)
    assert {alert.priority for alert in sea.alerts("source_silent")} == {Priority.WARNING}
    sea.lie(5.0, 0.0)
    sea.command(LetGo(rode_m=30.0, depth_m=5.0))
    sea.lie(299.0, 0.0)
    assert {alert.priority for alert in sea.alerts("source_silent")} == {Priority.WARNING}
    sea.lie(1.0, 0.0)
    last = sea.alerts("source_silent")[-1]
    assert (last.priority, last.overdue, last.state.sounds) == (Priority.ALARM, True, True)
    sea.fault("source_silent", None, "wind")
    sea.command(Acknowledge())
    assert sea.core.snapshot().alerts == ()


class TestAnswers:
    """What people do about alerts."""

    def test_silence_is_for_half_a_minute_and_says_so(self, sea: "Sea") -> None:
        to_alarm(sea)
        reply = sea.command(Silence(by="mate", where="saloon"))
        assert reply.text == "Silenced for 30 s, not acknowledged: data stale."
        (alert,) = sea.core.snapshot().alerts
        assert (alert.state, alert.by, alert.where) == (AlertState.SILENCED, "mate", "saloon")
        assert sea.command(Silence()).text == "Nothing to silence: no alert sounds."
        assert sea.wait(29.9) == []
        sounds, called, *_ = sea.wait(0.1)
        assert isinstance(sounds, Alert)
        assert isinstance(called, Call)
        assert sounds.state.sounds
        assert called.reason is CallReason.SILENCE_RAN_OUT

    def test_handing_over_names_the_taker_and_comes_back_unanswered(self, sea: "Sea") -> None:
        to_alarm(sea)
        reply = sea.command(Transfer(to="hand", by="skipper"))
        assert reply.text == "Handed over to hand: data stale."
        assert sea.calls[-2:] == [
            "0 data_stale handed_over saloon 1",
            "0 data_stale changed log+aft 1",
        ]
        sea.wait(90.0)
        back = sea.alerts("data_stale")[-1]
        assert (back.state.sounds, back.handed_to) == (True, None)
        assert sea.calls[-3] == "90 data_stale taken_back log+aft+saloon 1"

    def test_nothing_to_hand_over_is_no_fault(self, sea: "Sea") -> None:
        reply = sea.command(Transfer(to="mate"))
        assert (reply.accepted, reply.text) == (
            True,
            "Nothing to hand over: no alert is waiting.",
        )
        stranger = sea.command(Transfer(to="cook"))
        assert not stranger.accepted
        assert stranger.remedy == "The crew are: skipper, mate, hand."

    def test_who_answered_from_where_is_in_the_alert(self, sea: "Sea") -> None:
        to_alarm(sea)
        sea.command(Acknowledge(by="skipper", where="cockpit"))
        (alert,) = sea.core.status(sea.now_s).alerts
        assert (alert.by, alert.where) == ("skipper", "cockpit")

    def test_weighing_tells_everybody_who_was_called_that_it_is_over(self, sea: "Sea") -> None:
        to_alarm(sea).wait(15.0)
        sea.command(Weigh())
        assert sea.calls[-1] == "15 data_stale changed log+aft+fore 2"


@pytest.mark.parametrize("cut_s", [0.0, 14.0, 15.0, 89.0, 90.0, 215.0])
def test_a_power_cut_at_any_step_goes_on_from_there(
    sea: "Sea", put_to_sea: "type[Sea]", cut_s: float
) -> None:
    """By way of the JSON on the disk: who was called is told once, then the next step comes."""
    to_alarm(sea).wait(cut_s)
    snapshot = snapshot_from_json(snapshot_to_json(sea.core.snapshot()))
    again = put_to_sea(sea.settings, now_s=7.0, utc=sea.utc, snapshot=snapshot)
    again.events += again.core.resumed()
    called = [call for call in sea.calls if "data_stale" in call]
    names = {name for call in called for name in call.split()[3].split("+")}
    assert again.calls[0].split()[2:4] == [
        "resumed",
        "+".join(n for n in EVERYBODY.split("+") if n in names),
    ]
    again.events.clear()
    again.wait(400.0)
    # Each later step comes after what was left of its time.
    left = [after_s - cut_s for after_s in (15.0, 90.0) if after_s > cut_s]
    steps = [
        e.mono_s - 7.0
        for e in again.events
        if isinstance(e, Call) and e.reason is CallReason.ESCALATED and e.alert.name == "data_stale"
    ]
    assert steps == left
    assert again.calls[-1].split()[3] == EVERYBODY


def test_a_thousand_faults_at_once_are_told_and_the_alarm_stands_first(sea: "Sea") -> None:
    """Each is one alert, however often it is told."""
    to_alarm(sea)
    for _ in range(3):
        for number in range(1000):
            sea.fault("source_silent", "Gone.", str(number))
    alerts = sea.core.status(sea.now_s).alerts
    assert len(alerts) == 1001
    assert alerts[0].name == "data_stale"
    assert len(sea.alerts("source_silent")) == 1000
    sea.events.clear()
    sea.wait(15.0)
    assert sea.calls[0] == "0 data_stale escalated fore 2"
