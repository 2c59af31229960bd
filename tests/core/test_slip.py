"""The cable is slipped: the watch ends, and what is needed to find the anchor again is told."""

import json
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from geographiclib.geodesic import Geodesic

from driftlead.alerts.alert import Alert, AlertState
from driftlead.core.core import Core
from driftlead.core.inputs import Acknowledge, LetGo, Slip, Weigh
from driftlead.core.state_event import StateEvent
from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.geodesy.position import Position
from driftlead.units import format_position
from driftlead.watch.slip_position import SlipPosition
from driftlead.watch.state_table import WatchState

if TYPE_CHECKING:
    from tests.core.conftest import Sea

ANCHORAGE = Position(46.5, -31.2)


def slipped(sea: "Sea") -> SlipPosition:
    """What the one event of the slip says."""
    (event,) = [e for e in sea.events if isinstance(e, StateEvent) and e.name == "slipped"]
    assert event.state == "slipped"
    assert event.utc_s == pytest.approx(sea.utc.timestamp(), abs=1.0)
    assert event.slip is not None
    assert event.anchor == event.slip.anchor
    return event.slip


def apart_m(one: AnchorEstimate, lat_deg: float, lon_deg: float) -> float:
    """By another library's geodesic."""
    inverse = Geodesic.WGS84.Inverse(one.lat_deg, one.lon_deg, lat_deg, lon_deg)
    return float(inverse["s12"])


class TestSlip:
    """The anchor is left on purpose."""

    def test_it_tells_where_anchor_and_bow_are_and_what_is_left_down(self, sea: "Sea") -> None:
        """She lies east of her anchor and heads west, to it; her antenna is 8 m abaft the bow."""
        sea.ride()
        sea.head(270.0)
        reply = sea.command(Slip())
        assert reply.accepted
        assert sea.state() == "slipped"
        slip = slipped(sea)
        assert apart_m(slip.anchor, ANCHORAGE.lat_deg, ANCHORAGE.lon_deg) < 6.0
        antenna = Geodesic.WGS84.Direct(ANCHORAGE.lat_deg, ANCHORAGE.lon_deg, 90.0, sea.lies_m)
        bow = Geodesic.WGS84.Direct(antenna["lat2"], antenna["lon2"], 270.0, 8.0)
        assert slip.bow is not None
        assert apart_m(slip.bow, bow["lat2"], bow["lon2"]) < 1.0
        assert 0.0 < slip.bow.sigma_m < 6.0
        assert (slip.rode_m, slip.depth_m) == (30.0, 5.0)

    def test_the_answer_has_the_positions_alone_on_a_line_to_be_written_down(
        self, sea: "Sea"
    ) -> None:
        sea.ride()
        sea.head(270.0)
        lines = sea.command(Slip()).text.splitlines()
        slip = slipped(sea)
        assert slip.bow is not None
        places = [
            format_position(Position(each.lat_deg, each.lon_deg))
            for each in (slip.anchor, slip.bow)
        ]
        assert "WRITE THIS DOWN" in lines[0]
        assert lines[1:6] == [
            "",
            f"    ANCHOR  {places[0]}",
            f"    BUOY    {places[1]}",
            f"    TIME    {sea.utc:%Y-%m-%d %H:%M:%S} UTC",
            "",
        ]
        rest = " ".join(lines[6:])
        assert f"good to {slip.anchor.sigma_m:.1f} m" in rest
        assert "30 m of rode is left down in 5.0 m of water" in rest

    def test_after_a_drag_the_anchor_is_where_it_has_come_to(self, sea: "Sea") -> None:
        """60 m farther east, not where it was let go."""
        sea.ride().drag()
        assert sea.state() == "dragging"
        sea.command(Slip())
        slip = slipped(sea)
        there = Geodesic.WGS84.Direct(ANCHORAGE.lat_deg, ANCHORAGE.lon_deg, 90.0, 60.0)
        assert apart_m(slip.anchor, there["lat2"], there["lon2"]) < 15.0
        assert slip.anchor.method == "moved"

    def test_no_alert_outlives_it(self, sea: "Sea") -> None:
        """Whoever slips knows of the drag."""
        sea.ride().drag()
        sea.fault("dragged_here_before", "She dragged here before.")
        sea.command(Slip())
        last = {e.key: e.state for e in sea.events if isinstance(e, Alert)}
        assert set(last.values()) == {AlertState.NORMAL}
        assert sea.core.status(sea.now_s).alerts == ()

    def test_without_a_fix_it_is_not_refused(self, sea: "Sea") -> None:
        """Then only the bow's place is missing."""
        sea.ride()
        for _ in range(60):
            sea.no_fix()
        reply = sea.command(Slip())
        assert reply.accepted
        assert slipped(sea).bow is None
        assert "BUOY" not in reply.text
        assert "no fix to say where the bow was" in reply.text

    def test_what_is_not_known_is_not_made_up(self, sea: "Sea") -> None:
        """No rode was ever given, no depth sounded."""
        sea.lie(30.0, 0.0)
        sea.command(LetGo())
        reply = sea.command(Slip())
        slip = slipped(sea)
        assert (slip.rode_m, slip.depth_m) == (None, None)
        assert "Rode is left down." in reply.text

    def test_it_outlives_a_restart_and_the_next_anchor_may_go_down(self, sea: "Sea") -> None:
        sea.ride()
        sea.command(Slip())
        again = Core(sea.settings, mono_s=0.0, snapshot=sea.core.snapshot())
        assert again.watch.state is WatchState.SLIPPED
        assert again.resumed() == ()
        sea.lie(2000.0, 300.0)
        assert sea.state() == "slipped"
        assert sea.command(LetGo(rode_m=30.0, depth_m=5.0)).accepted

    def test_told_again_it_is_the_same_byte_for_byte(
        self, sea: "Sea", json_lines: Callable[..., list[str]]
    ) -> None:
        sea.ride().drag()
        sea.command(Slip())
        core, events = sea.rebuilt()
        assert json_lines(events) == json_lines(sea.events)
        assert any(json.loads(line)["name"] == "slipped" for line in json_lines(events)[-10:])
        assert core.snapshot() == sea.core.snapshot()


class TestRemark:
    """That she dragged here before is a quiet caution of this one anchoring."""

    TEXT = "She dragged here before: 40 m."

    def states(self, sea: "Sea") -> list[str]:
        """Of the caution, one after another."""
        return [e.state.value for e in sea.alerts("dragged_here_before")]

    def test_it_is_a_caution_that_needs_no_answer(self, sea: "Sea") -> None:
        sea.bring_to(WatchState.LET_GO)
        (alert,) = sea.fault("dragged_here_before", self.TEXT)
        assert isinstance(alert, Alert)
        assert (alert.priority.value, alert.state.value) == ("caution", "active_acknowledged")
        assert (alert.reason, alert.text) == ("remembered", self.TEXT)

    @pytest.mark.parametrize("name", [None, "dragged_here_before"])
    def test_it_is_over_when_somebody_says_to_have_read_it(
        self, sea: "Sea", name: str | None
    ) -> None:
        sea.bring_to(WatchState.LET_GO)
        sea.fault("dragged_here_before", self.TEXT)
        reply = sea.command(Acknowledge(name=name))
        assert "dragged here before" in reply.text
        assert self.states(sea) == ["active_acknowledged", "normal"]

    def test_an_answer_to_another_alert_is_none_to_it(self, sea: "Sea") -> None:
        sea.ride().drag()
        sea.fault("dragged_here_before", self.TEXT)
        sea.command(Acknowledge(name="drag"))
        assert self.states(sea) == ["active_acknowledged"]

    def test_it_ends_with_the_watch(self, sea: "Sea") -> None:
        sea.ride()
        sea.fault("dragged_here_before", self.TEXT)
        sea.command(Weigh())
        assert self.states(sea) == ["active_acknowledged", "normal"]

    def test_it_outlives_a_restart_for_it_is_no_fault(self, sea: "Sea") -> None:
        sea.ride()
        sea.fault("dragged_here_before", self.TEXT)
        again = Core(sea.settings, mono_s=0.0, snapshot=sea.core.snapshot())
        assert [each.name for each in again.status(0.0).alerts] == ["dragged_here_before"]

    def test_found_out_after_the_watch_it_is_of_no_use(self, sea: "Sea") -> None:
        sea.bring_to(WatchState.AWEIGH)
        assert sea.fault("dragged_here_before", self.TEXT) == []
        assert sea.core.status(sea.now_s).alerts == ()
