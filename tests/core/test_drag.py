"""From the lines of a receiver to the alarm, and what becomes of it."""

import math
from typing import TYPE_CHECKING

import pytest

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.core.inputs import Acknowledge, Veer, Weigh
from driftlead.core.state_event import StateEvent

if TYPE_CHECKING:
    from tests.core.conftest import Sea


class TestDrag:
    """From the lines to the alarm."""

    def test_the_crew_is_told_once_until_somebody_answers(self, sea: "Sea") -> None:
        sea.ride().drag()
        assert [a.state for a in sea.alerts("drag")] == [AlertState.ACTIVE_UNACKNOWLEDGED]
        (alert,) = sea.alerts("drag")
        assert alert.priority is Priority.ALARM
        assert alert.utc_s == pytest.approx(sea.began_utc.timestamp() + alert.mono_s - sea.began_s)

    def test_held_again_unanswered_it_sounds_on_until_it_is_answered(self, sea: "Sea") -> None:
        sea.ride().drag().lie(920.0, sea.lies_m + 60.0)
        assert sea.states[-1] == "held_again>riding"
        assert [a.state for a in sea.alerts("drag")] == [AlertState.ACTIVE_UNACKNOWLEDGED]
        reply = sea.command(Acknowledge())
        (answered,) = reply.events
        assert isinstance(answered, Alert)
        assert answered.state is AlertState.NORMAL

    def test_answered_and_held_the_next_drag_sounds_again(self, sea: "Sea") -> None:
        sea.ride().drag()
        sea.command(Acknowledge())
        sea.lie(920.0, sea.lies_m + 60.0)
        assert sea.alerts("drag")[-1].state is AlertState.NORMAL
        sea.go(lambda t_s: (sea.lies_m + 60.0 + 0.3 * t_s, 0.0), 300.0)
        last = sea.alerts("drag")[-1]
        assert (last.state, last.number) == (AlertState.ACTIVE_UNACKNOWLEDGED, 2)

    def test_answered_and_veered_dragging_on_sounds_again(self, sea: "Sea") -> None:
        sea.ride().drag()
        sea.command(Acknowledge())
        sea.command(Veer(rode_m=45.0))
        assert sea.states[-1] == "veer>laying_back"
        assert sea.alerts("drag")[-1].state is AlertState.NORMAL
        sea.go(lambda t_s: (sea.lies_m + 60.0 + 0.3 * t_s, 0.0), 300.0)
        assert sea.states[-1] == "drag_found>dragging"
        last = sea.alerts("drag")[-1]
        assert (last.state, last.number) == (AlertState.ACTIVE_UNACKNOWLEDGED, 2)

    def test_weighing_answers_ends_the_watch_and_clears(self, sea: "Sea") -> None:
        sea.ride().drag()
        events = sea.command(Weigh()).events
        assert [(e.name, e.state) for e in events if isinstance(e, Alert | StateEvent)] == [
            ("drag", AlertState.ACTIVE_ACKNOWLEDGED),
            ("drag", AlertState.NORMAL),
            ("weigh", "aweigh"),
        ]
        assert sea.core.snapshot().alerts == ()
        assert not sea.core.on_watch
        assert sea.core.next_due_s is None
        assert sea.wait(10_000.0) == []

    def test_weighing_answers_nothing_when_there_is_nothing_to_weigh(self, sea: "Sea") -> None:
        sea.fault("journal_failed", "disk full")
        before = sea.core.snapshot()
        assert not sea.command(Weigh()).accepted
        assert sea.core.snapshot() == before


class TestOneAlertAtATime:
    """If practicable there is one alert for one situation (MSC.302(87), 5.2)."""

    def test_a_quiet_night_tells_nothing_but_its_states(self, sea: "Sea") -> None:
        sea.ride().lie(3600.0, sea.lies_m, every_s=2.0)
        assert all(isinstance(event, StateEvent) for event in sea.events)
        assert sea.states == [
            "let_go>let_go",
            "fell_back>laying_back",
            "fetched_up>brought_up",
            "settled>riding",
        ]


class TestTruth:
    """The alarm beside what is true."""

    @pytest.mark.parametrize("toward_deg", [20.0, 135.0, 355.0])
    @pytest.mark.parametrize("rate_mps", [0.1, 0.3, 0.6, 1.0])
    def test_metres_bearing_and_rate_are_near_the_truth(
        self, sea: "Sea", rate_mps: float, toward_deg: float
    ) -> None:
        """She yaws by 15 degrees to either side all the time, and drags to leeward."""
        sea.command(sea.down)
        leeward = math.radians(toward_deg)

        def lies(t_s: float, anchor_m: float) -> tuple[float, float]:
            angle = leeward + 0.26 * math.sin(2.0 * math.pi * t_s / 80.0)
            along = (anchor_m * math.sin(leeward), anchor_m * math.cos(leeward))
            return (
                along[0] + sea.lies_m * math.sin(angle),
                along[1] + sea.lies_m * math.cos(angle),
            )

        out = lies(0.0, 0.0)
        sea.go(lambda t_s: (out[0] * min(1.0, t_s / 60.0), out[1] * min(1.0, t_s / 60.0)), 60.0)
        sea.go(lambda t_s: lies(t_s, 0.0), 880.0)
        assert sea.state() == "riding"
        assert sea.alerts("drag") == []
        began_s = sea.now_s
        sea.go(lambda t_s: lies(t_s, rate_mps * t_s), 80.0 / rate_mps)
        alarm = sea.alerts("drag")[0]
        truly_m = rate_mps * (alarm.mono_s - began_s)
        assert alarm.moved_m is not None
        assert alarm.moved_m == pytest.approx(truly_m, abs=6.0 + 0.2 * truly_m)
        assert truly_m < 22.0 + 40.0 * rate_mps
        assert alarm.bearing_deg is not None
        off_deg = (alarm.bearing_deg - toward_deg + 180.0) % 360.0 - 180.0
        assert abs(off_deg) < 16.0
        assert alarm.rate_mps is not None
        assert 0.25 * rate_mps < alarm.rate_mps < 2.0 * rate_mps
        assert alarm.confidence is not None
        assert alarm.confidence > 0.9
        assert alarm.anchor is not None
        east_m, north_m = sea.en_m(alarm.anchor.lat_deg, alarm.anchor.lon_deg)
        off_m = math.hypot(
            east_m - truly_m * math.sin(leeward), north_m - truly_m * math.cos(leeward)
        )
        assert off_m < 3.0 * alarm.anchor.sigma_m

    @pytest.mark.parametrize("size_m", [8.0, 15.0, 40.0, 150.0, 300.0])
    @pytest.mark.parametrize("lasts_s", [10.0, 45.0, 90.0])
    def test_a_reflection_is_no_drag(self, sea: "Sea", size_m: float, lasts_s: float) -> None:
        """Positions step to leeward, away from the anchor, while her speed stays noise."""
        sea.ride()
        for _ in range(3):
            sea.lie(lasts_s, sea.lies_m + size_m)
            sea.lie(60.0, sea.lies_m)
        assert sea.alerts("drag") == []
        assert sea.state() == "riding"

    def test_a_speed_that_is_wrong_is_no_drag(self, sea: "Sea") -> None:
        """The receiver says a knot to leeward for five minutes, and its positions stay."""
        sea.ride()
        for t_s in range(300):
            wander_m = 0.3 * math.sin(t_s / 23.0)
            sea.fix(sea.lies_m + wander_m, 0.0, sog_mps=0.5, cog_deg=90.0)
        assert sea.alerts("drag") == []

    def test_a_wild_first_fix_after_a_long_silence_is_no_drag(self, sea: "Sea") -> None:
        """Silent for ten minutes, then 200 m off for one fix."""
        sea.ride().wait(600.0)
        sea.fix(sea.lies_m + 200.0)
        sea.lie(200.0, sea.lies_m)
        assert sea.alerts("drag") == []

    def test_a_receiver_that_shows_no_speed_is_found_out_all_the_same(self, sea: "Sea") -> None:
        """It says 0.0 whatever she does: positions are refused in turns, and still it is seen."""
        sea.ride()
        for t_s in range(400):
            sea.fix(sea.lies_m + 0.5 * t_s, 0.0, sog_mps=0.0)
            if sea.alerts("drag"):
                break
        assert sea.alerts("drag")
        assert t_s < 300
