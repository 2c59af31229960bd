"""The mark is corrected while the anchor is down: the watch goes on around the new place."""

from typing import TYPE_CHECKING

import pytest
from geographiclib.geodesic import Geodesic

from driftlead.alerts.alert import AlertState
from driftlead.core.inputs import Acknowledge, CorrectMark, LetGo, Veer, Weigh
from driftlead.core.settings import CoreSettings
from driftlead.core.state_event import StateEvent
from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.watch.state_table import WatchState

if TYPE_CHECKING:
    from tests.core.conftest import Sea

DOWN = [state for state in WatchState if state.on_watch]


class TestCorrectMark:
    """Where the anchor really is, said at any time."""

    @pytest.mark.parametrize("state", DOWN)
    def test_in_every_state_with_an_anchor_down_it_is_there_and_given(
        self, sea: "Sea", state: WatchState
    ) -> None:
        sea.bring_to(state)
        rode_m = sea.core.status(sea.now_s).rode_m
        there = sea.place(3.0, 8.0)
        assert sea.command(CorrectMark(position=there)).accepted
        status = sea.core.status(sea.now_s)
        anchor = status.anchor
        assert anchor is not None
        assert (anchor.lat_deg, anchor.lon_deg) == pytest.approx((there.lat_deg, there.lon_deg))
        assert (anchor.method, anchor.sigma_m) == (AnchorMethod.GIVEN, 5.0)
        assert status.rode_m == rode_m
        (event,) = [e for e in sea.events if isinstance(e, StateEvent) and "mark" in e.name]
        assert (event.name, event.reason) == ("mark_corrected", "position_given")
        assert event.anchor == anchor
        wanted = WatchState.RIDING if state is WatchState.DRAGGING else state
        assert event.state == wanted.value

    @pytest.mark.parametrize("state", [each for each in WatchState if not each.on_watch])
    def test_without_an_anchor_down_it_is_refused(self, sea: "Sea", state: WatchState) -> None:
        if state is WatchState.AWEIGH:
            sea.bring_to(state)
        reply = sea.command(CorrectMark(position=sea.place(0.0)))
        assert not reply.accepted
        assert "let-go" in reply.remedy

    @pytest.mark.parametrize("fix", [True, False])
    def test_a_place_twenty_kilometres_away_is_refused(
        self, sea: "Sea", put_to_sea: "type[Sea]", fix: bool
    ) -> None:
        """By the fix, or right after a restart by where the anchor was."""
        sea.ride()
        boat = sea if fix else put_to_sea(sea.settings, snapshot=sea.core.snapshot())
        there = Geodesic.WGS84.Direct(46.5, -31.2, 45.0, 20_000.0)
        before = boat.core.snapshot()
        reply = boat.command(CorrectMark(position=Position(there["lat2"], there["lon2"])))
        assert not reply.accepted
        assert "The place given is 20.0 km from the boat" in reply.text
        assert boat.core.snapshot() == before

    def test_a_drag_alarm_of_a_wrong_mark_is_over_once_it_is_acknowledged(self, sea: "Sea") -> None:
        """The anchor was 60 m farther east than marked: she lies as her rode allows."""
        sea.ride().drag()
        assert sea.state() == "dragging"
        sea.command(CorrectMark(position=sea.place(60.0)))
        assert sea.state() == "riding"
        (standing,) = [alert for alert in sea.core.snapshot().alerts if alert.name == "drag"]
        assert standing.state is AlertState.ACTIVE_UNACKNOWLEDGED
        sea.command(Acknowledge())
        assert sea.alerts("drag")[-1].state is AlertState.NORMAL
        raised = len(sea.alerts("drag"))
        sea.lie(1200.0, sea.lies_m + 60.0)
        assert sea.state() == "riding"
        assert len(sea.alerts("drag")) == raised
        status = sea.core.status(sea.now_s)
        assert status.verdict == "holding"
        assert status.distance_m == pytest.approx(sea.lies_m, abs=1.0)

    def test_one_acknowledged_already_is_over_at_once(self, sea: "Sea") -> None:
        sea.ride().drag()
        sea.command(Acknowledge())
        sea.command(CorrectMark(position=sea.place(60.0)))
        assert sea.alerts("drag")[-1].state is AlertState.NORMAL

    def test_from_the_new_place_a_drag_is_found(self, sea: "Sea") -> None:
        sea.ride()
        sea.command(CorrectMark(position=sea.place(2.0)))
        sea.lie(400.0, sea.lies_m)
        sea.drag()
        assert sea.state() == "dragging"

    def test_a_mark_that_she_lies_too_far_from_is_taken_with_a_hint(self, sea: "Sea") -> None:
        """30 m of rode in 5 m reach sqrt(32.4^2 - 6.2^2) + 8 = 39.8 m; she lies 36.4 m east."""
        sea.ride()
        near = sea.command(CorrectMark(position=sea.place(0.0, 5.0)))
        assert near.text == (
            "The mark is corrected: 5.0 m towards 000\N{DEGREE SIGN} (N) from where it was, "
            "good to 5 m."
        )
        far = sea.command(CorrectMark(position=sea.place(-40.0)))
        assert far.accepted
        assert "look at the place again" in far.text
        assert "her rode reaches 40 m" in far.text

    def test_a_place_that_was_worked_out_is_uncertain_no_more(self, sea: "Sea") -> None:
        sea.command(LetGo(rode_m=30.0, depth_m=5.0, late=True))
        assert sea.alerts("anchor_uncertain")
        sea.command(CorrectMark(position=sea.place(-28.0)))
        assert sea.alerts("anchor_uncertain")[-1].state is AlertState.NORMAL

    def test_the_rode_still_unknown_is_still_told(self, sea: "Sea") -> None:
        sea.command(LetGo(depth_m=5.0))
        sea.command(CorrectMark(position=sea.place(2.0)))
        sea.wait(301.0)
        assert sea.alerts("rode_unknown")

    def test_it_is_replayed_identically(
        self, put_to_sea: "type[Sea]", crewed: CoreSettings
    ) -> None:
        sea = put_to_sea(crewed)
        sea.lie(60.0, 0.0)
        sea.ride().drag()
        sea.command(CorrectMark(position=sea.place(55.0)))
        sea.command(Veer(rode_m=40.0))
        sea.lie(300.0, sea.lies_m + 60.0)
        sea.command(CorrectMark(position=sea.place(58.0)))
        sea.command(Weigh())
        core, events = sea.rebuilt()
        assert events == sea.events
        assert core.snapshot() == sea.core.snapshot()

    def test_a_restart_after_it_stands_around_the_new_place(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        sea.ride()
        sea.command(CorrectMark(position=sea.place(2.0, 3.0)))
        again = put_to_sea(sea.settings, snapshot=sea.core.snapshot())
        again.lie(60.0, sea.lies_m)
        anchor = again.core.status(again.now_s).anchor
        assert anchor is not None
        assert again.en_m(anchor.lat_deg, anchor.lon_deg) == pytest.approx((2.0, 3.0), abs=0.01)
        assert again.state() == "riding"
