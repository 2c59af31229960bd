"""What the skipper says: done, or refused without effect and with a remedy."""

import math
from typing import TYPE_CHECKING

import pytest
from geographiclib.geodesic import Geodesic

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.catalogue import FAULT_NAMES
from driftlead.core.core import Core
from driftlead.core.inputs import (
    Acknowledge,
    Command,
    CorrectMark,
    LetGo,
    Silence,
    Slip,
    Transfer,
    Veer,
    Weigh,
)
from driftlead.core.settings import CoreSettings
from driftlead.geodesy.position import Position
from driftlead.simulate import nmea_writer
from driftlead.watch.state_table import WatchEvent, WatchState, is_legal

if TYPE_CHECKING:
    from tests.core.conftest import Sea

ANCHORAGE = Position(46.5, -31.2)
COMMANDS: dict[str, tuple[Command, WatchEvent | None]] = {
    "let go": (LetGo(rode_m=30.0, depth_m=5.0, drop=ANCHORAGE), WatchEvent.LET_GO),
    "let go late": (LetGo(rode_m=30.0, depth_m=5.0, late=True), WatchEvent.SET_LATE),
    "veer": (Veer(rode_m=35.0), WatchEvent.VEER),
    "correct mark": (CorrectMark(position=Position(46.5001, -31.2)), WatchEvent.CORRECT_MARK),
    "weigh": (Weigh(), WatchEvent.WEIGH),
    "slip": (Slip(), WatchEvent.SLIP),
    "acknowledge": (Acknowledge(), None),
    "silence": (Silence(), None),
}


class TestCommands:
    """What the skipper says is done, or refused without effect."""

    @pytest.mark.parametrize("state", WatchState)
    @pytest.mark.parametrize("said", COMMANDS)
    def test_every_command_in_every_state(self, sea: "Sea", state: WatchState, said: str) -> None:
        """Refused: in words, with a remedy, no events, and the snapshot is what it was."""
        sea.bring_to(state)
        assert sea.state() == state
        before = sea.core.snapshot()
        command, event = COMMANDS[said]
        reply = sea.command(command)
        assert reply.accepted is (event is None or is_legal(state, event))
        assert reply.text
        if not reply.accepted:
            assert reply.text.startswith("Refused: ")
            assert reply.remedy
            assert reply.events == ()
            assert sea.core.snapshot() == before

    @pytest.mark.parametrize(
        ("command", "says"),
        [
            (LetGo(), "no fix"),
            (LetGo(late=True), "length of rode"),
            (LetGo(late=True, rode_m=30.0), "no fix"),
            (Veer(rode_m=30.0), "no sense"),
            (CorrectMark(position=ANCHORAGE), "correct-mark makes no sense"),
            (Weigh(), "no sense"),
            (Slip(), "no sense"),
            (Acknowledge(name="drag"), "No alert called 'drag'"),
            (Silence(name="drag"), "No alert called 'drag'"),
            (Transfer(to="mate"), "no watch bill"),
        ],
    )
    def test_before_any_fix_a_command_is_refused_with_a_remedy(
        self, command: Command, says: str
    ) -> None:
        core = Core(CoreSettings(), mono_s=0.0)
        before = core.snapshot()
        reply = core.command(1.0, command)
        assert not reply.accepted
        assert says in reply.text
        assert reply.remedy
        assert core.snapshot() == before

    def test_a_drop_point_twenty_kilometres_away_is_refused(self, sea: "Sea") -> None:
        there = Geodesic.WGS84.Direct(ANCHORAGE.lat_deg, ANCHORAGE.lon_deg, 45.0, 20_000.0)
        before = sea.core.snapshot()
        reply = sea.command(LetGo(rode_m=30.0, drop=Position(there["lat2"], there["lon2"])))
        assert not reply.accepted
        assert "20.0 km" in reply.text
        assert sea.core.snapshot() == before

    def test_a_rode_shorter_than_the_water_is_deep_is_refused(self, sea: "Sea") -> None:
        sea.say(
            nmea_writer.dpt(below_transducer_m=39.5, transducer_below_water_m=0.5), source="depth"
        )
        before = sea.core.snapshot()
        reply = sea.command(LetGo(rode_m=30.0))
        assert not reply.accepted
        assert "depth 40.0 m" in reply.text
        assert sea.core.snapshot() == before

    def test_a_watch_set_late_works_the_place_out_and_is_not_told_it(self, sea: "Sea") -> None:
        reply = sea.command(LetGo(rode_m=30.0, late=True, drop=ANCHORAGE))
        assert not reply.accepted
        assert "--late" in reply.remedy
        assert sea.state() == "stowed"

    def test_a_length_no_rode_has_is_refused_and_does_not_raise(self, sea: "Sea") -> None:
        for rode_m in (-5.0, math.nan, math.inf):
            assert not sea.core.command(sea.now_s, LetGo(rode_m=rode_m)).accepted
        assert sea.state() == "stowed"

    def test_what_was_done_is_said_with_its_figures(self, sea: "Sea") -> None:
        let_go = sea.command(LetGo(depth_m=5.0))
        assert "good to 6 m" in let_go.text
        assert "driftlead veer" in let_go.text
        veered = sea.command(Veer(rode_m=30.0))
        assert "30 m" in veered.text
        assert "40 m at most" in veered.text  # sqrt(32.4^2 - 6.2^2) + 8
        assert "ended" in sea.command(Weigh()).text

    def test_an_acknowledgement_names_what_it_answered(self, sea: "Sea") -> None:
        sea.ride().drag()
        assert sea.command(Acknowledge(name="drag")).text == "Acknowledged: drag."
        again = sea.command(Acknowledge())
        assert again.accepted
        assert "Nothing to acknowledge" in again.text
        unknown = sea.command(Acknowledge(name="fix_lost"))
        assert not unknown.accepted
        assert unknown.remedy == "Alerts that are up: drag."

    @pytest.mark.parametrize("name", ["notifier failed", " notifier  failed ", "notifier_failed"])
    def test_an_alert_is_called_by_its_name_as_it_is_shown(self, sea: "Sea", name: str) -> None:
        sea.fault("notifier_failed", "No such device.", "horn")
        assert sea.command(Silence(name=name)).text.startswith("Silenced for 30 s")
        assert sea.command(Acknowledge(name=name)).text == "Acknowledged: notifier failed."
        assert not sea.command(Acknowledge(name="notifier failing")).accepted

    @pytest.mark.parametrize(
        ("said_m", "told"),
        [(0.5, True), (5.2, True), (5.4, False), (21.1, False), (21.3, True), (None, False)],
    )
    @pytest.mark.parametrize("late", [False, True])
    def test_a_depth_that_the_sounder_belies_is_told_and_taken(
        self, sea: "Sea", late: bool, said_m: float | None, told: bool
    ) -> None:
        """The sounder shows 10.6 m: half and twice of it are 5.3 and 21.2 m."""
        sea.say(
            nmea_writer.dpt(below_transducer_m=10.1, transducer_below_water_m=0.5), source="depth"
        )
        first = sea.command(LetGo(rode_m=50.0, depth_m=said_m, late=late))
        then = sea.command(Veer(rode_m=50.0, depth_m=said_m))
        for reply in (first, then):
            assert reply.accepted
            assert ("the sounder shows 11 m" in reply.text) is told

    def test_in_shallow_water_a_sounder_may_err_by_as_much_as_it_is_deep(self, sea: "Sea") -> None:
        """1.2 m said and 4.1 m shown are 2.9 m apart; 4.3 m shown are 3.1 m."""
        for sounded_m, told in ((4.1, False), (4.3, True)):
            sea.say(
                nmea_writer.dpt(below_transducer_m=sounded_m, transducer_below_water_m=0.0),
                source="depth",
            )
            reply = sea.command(LetGo(rode_m=30.0, depth_m=1.2))
            assert ("But mind" in reply.text) is told

    def test_a_sounder_that_fell_silent_belies_nothing(self, sea: "Sea") -> None:
        sea.say(
            nmea_writer.dpt(below_transducer_m=10.1, transducer_below_water_m=0.5), source="depth"
        )
        sea.lie(70.0, 0.0)
        assert "But mind" not in sea.command(LetGo(rode_m=30.0, depth_m=0.5)).text


class TestFaults:
    """A failure of ours is an alert like any other."""

    @pytest.mark.parametrize("name", sorted(FAULT_NAMES))
    def test_it_has_the_priority_of_the_catalogue_and_clears_when_it_works_again(
        self, sea: "Sea", name: str
    ) -> None:
        (raised,) = sea.fault(name, "No such device.", "one")
        assert isinstance(raised, Alert)
        caution = name in ("cpu_hot", "clock_jumped", "file_unreadable")
        assert raised.priority is (Priority.CAUTION if caution else Priority.WARNING)
        assert raised.state.sounds is not caution
        assert (raised.instance, raised.text) == ("one", "No such device.")
        assert sea.fault(name, "No such device.", "one") == []
        assert sea.fault(name, None, "another") == []
        (cleared,) = sea.fault(name, None, "one")
        assert isinstance(cleared, Alert)
        over, waits = AlertState.NORMAL, AlertState.RECTIFIED_UNACKNOWLEDGED
        assert cleared.state is (over if caution else waits)
        sea.command(Acknowledge())
        assert sea.core.snapshot().alerts == ()

    def test_limits_that_ran_out_before_it_come_first(self, sea: "Sea") -> None:
        sea.command(LetGo(rode_m=30.0, depth_m=5.0))
        sea.now_s += 50.0
        events = sea.fault("journal_failed", "disk full")
        names = [event.name for event in events if isinstance(event, Alert)]
        assert names == ["data_stale", "journal_failed"]
