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
            (CorrectMark(position=ANCHORAGE), "correct mark makes no sense"),
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


class TestFaults:
    """A failure of ours is an alert like any other."""

    @pytest.mark.parametrize("name", sorted(FAULT_NAMES))
    def test_it_has_the_priority_of_the_catalogue_and_clears_when_it_works_again(
        self, sea: "Sea", name: str
    ) -> None:
        (raised,) = sea.fault(name, "No such device.", "one")
        assert isinstance(raised, Alert)
        caution = name in ("cpu_hot", "clock_jumped")
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
