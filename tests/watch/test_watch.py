"""The watch: what the skipper says and what the track shows, from let go to stowed."""

import math
from typing import TYPE_CHECKING, Any

import pytest
from attrs import evolve
from geographiclib.geodesic import Geodesic

from driftlead.alerts.alert import Priority
from driftlead.errors import RefusedError
from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.nmea.observations import DepthReport, WindReference, WindReport
from driftlead.tackle.drag_circle import DragCircle
from driftlead.testing.alerts import make_alert
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.brought_up import SetResult
from driftlead.watch.detector import AnchorInPlane, Arming, Memory
from driftlead.watch.evidence import Evidence, Knowledge
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement, Reason, Verdict
from driftlead.watch.settings import TackleSettings, WatchSettings
from driftlead.watch.state_change import StateChange
from driftlead.watch.state_table import WatchState
from driftlead.watch.watch import NEAR_M, Watch

if TYPE_CHECKING:
    from tests.watch.conftest import Aboard

Said = tuple[Verdict, Reason, float]
"""A verdict, its reason, and the log-odds."""

ORIGIN = Position(46.5, -31.2)
REACH_M = math.sqrt(30.0**2 - 6.2**2)
"""Of 30 m of rode in 5 m of water, the bow roller 1.2 m above it."""
LIES_M = REACH_M + 7.0
"""Where her antenna lies from the anchor, not quite at full reach; the antenna is 8 m aft."""


def everything(watch: Watch) -> tuple[Any, ...]:
    """What a refusal must leave as it was."""
    return (
        watch.state,
        watch.anchored,
        watch.origin,
        watch.point,
        watch.farthest,
        watch.memory,
        watch.due_s(),
        watch.anchor,
    )


@pytest.fixture
def riding(aboard: "Aboard") -> "Aboard":
    """The anchor at the origin, and she rides to it 36 m east of it, heading for it."""
    aboard.head(90.0)
    aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=ORIGIN))
    aboard.go(lambda t_s: (min(LIES_M, 0.5 * t_s), 0.0), 100.0)
    aboard.lie(700.0, LIES_M)
    assert aboard.state() is WatchState.RIDING
    return aboard


def drag(boat: "Aboard", rate_mps: float, distance_m: float) -> None:
    """Drag eastwards from where she lies."""
    boat.go(lambda t_s: (LIES_M + rate_mps * t_s, 0.0), distance_m / rate_mps)


def let_go_by_a_held_position(aboard: "Aboard") -> None:
    """On 30 m of rode, the receiver having said the same for a minute."""
    for _ in range(60):
        aboard.fix(0.0, 0.0, sog_mps=0.0)
    aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=None))


class TestLetGo:
    """The anchor touches bottom."""

    def test_without_any_fix_it_is_refused_and_says_what_to_do(
        self, embark: "type[Aboard]"
    ) -> None:
        boat = embark()
        before = everything(boat.watch)
        with pytest.raises(RefusedError, match="no fix yet") as refused:
            boat.watch.let_go(0.0, rode_m=None, depth_m=None, drop=None)
        assert "--drop" in refused.value.remedy
        assert everything(boat.watch) == before

    def test_a_fix_of_ten_seconds_ago_will_do_and_an_older_one_will_not(
        self, aboard: "Aboard"
    ) -> None:
        before = everything(aboard.watch)
        with pytest.raises(RefusedError, match="11 s old"):
            aboard.watch.let_go(aboard.now_s + 10.6, rode_m=None, depth_m=None, drop=None)
        assert everything(aboard.watch) == before
        aboard.watch.let_go(aboard.now_s + 10.0, rode_m=None, depth_m=None, drop=None)
        assert aboard.state() is WatchState.LET_GO

    def test_of_a_slow_receiver_a_fix_up_to_three_of_its_intervals_old_will_do(
        self, embark: "type[Aboard]"
    ) -> None:
        boat = embark()
        boat.lie(3000.0, 0.0, every_s=30.0)
        with pytest.raises(RefusedError, match="91 s old"):
            boat.watch.let_go(boat.now_s + 91.0, rode_m=None, depth_m=None, drop=None)
        boat.watch.let_go(boat.now_s + 88.0, rode_m=None, depth_m=None, drop=None)

    def test_a_place_the_skipper_knows_needs_no_fix(self, embark: "type[Aboard]") -> None:
        boat = embark()
        (change, *_rest) = boat.watch.let_go(0.0, rode_m=30.0, depth_m=5.0, drop=ORIGIN)
        assert isinstance(change, StateChange)
        assert change.reason == "given"
        anchor = boat.watch.anchor
        assert anchor is not None
        assert (anchor.lat_deg, anchor.lon_deg) == (ORIGIN.lat_deg, ORIGIN.lon_deg)
        assert anchor.method is AnchorMethod.GIVEN
        assert anchor.sigma_m == 5.0

    def test_a_place_that_cannot_be_ours_is_refused(self, aboard: "Aboard") -> None:
        """A slip in the figures: 20 km off. The sign is the usual one."""
        before = everything(aboard.watch)
        there = Geodesic.WGS84.Direct(ORIGIN.lat_deg, ORIGIN.lon_deg, 200.0, 20_000.0)
        drop = Position(there["lat2"], there["lon2"])
        with pytest.raises(RefusedError, match=r"20\.0 km from the boat") as refused:
            aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=drop)
        assert "sign" in refused.value.remedy
        assert everything(aboard.watch) == before

    @pytest.mark.parametrize(("away_m", "near"), [(NEAR_M - 5.0, True), (NEAR_M + 5.0, False)])
    def test_a_kilometre_is_the_limit(self, aboard: "Aboard", away_m: float, near: bool) -> None:
        there = Geodesic.WGS84.Direct(ORIGIN.lat_deg, ORIGIN.lon_deg, 20.0, away_m)
        drop = Position(there["lat2"], there["lon2"])
        if near:
            aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=drop)
        else:
            with pytest.raises(RefusedError):
                aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=drop)

    def test_a_rode_that_does_not_reach_the_bottom_is_refused(self, aboard: "Aboard") -> None:
        """5 m of water and 1.2 m to the bow roller: 6.2 m are not enough, 6.3 are."""
        before = everything(aboard.watch)
        with pytest.raises(RefusedError, match="does not reach the bottom") as refused:
            aboard.watch.let_go(aboard.now_s, rode_m=6.2, depth_m=5.0, drop=None)
        assert "--depth" in refused.value.remedy
        assert everything(aboard.watch) == before
        aboard.watch.let_go(aboard.now_s, rode_m=6.3, depth_m=5.0, drop=None)

    def test_the_sounder_is_asked_where_no_depth_is_given(self, aboard: "Aboard") -> None:
        aboard.watch.instruments.hear_depth(aboard.now_s, DepthReport("SD", 39.0, 1.0))
        with pytest.raises(RefusedError, match=r"depth 40\.0 m"):
            aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=None, drop=None)
        aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=None)
        assert aboard.watch.anchored is not None
        assert aboard.watch.anchored.depth_m == 5.0

    @pytest.mark.parametrize("late", [False, True])
    def test_more_rode_than_there_is_aboard_is_refused(self, aboard: "Aboard", late: bool) -> None:
        """200 ft are 60.96 m (0.3048 m each, exactly); of 60 m aboard all may be out."""
        before = everything(aboard.watch)
        watch, now_s = aboard.watch, aboard.now_s

        def say(rode_m: float) -> None:
            if late:
                watch.set_late(now_s, rode_m=rode_m, depth_m=5.0)
            else:
                watch.let_go(now_s, rode_m=rode_m, depth_m=5.0, drop=None)

        for rode_m, shown in ((60.96, "61 m"), (500.0, "500 m")):
            message = f"{shown} is more than the 60 m of \\[tackle\\] rode_aboard"
            with pytest.raises(RefusedError, match=message) as refused:
                say(rode_m)
            assert refused.value.remedy == "Correct the one or the other."
        assert everything(aboard.watch) == before
        say(60.0)

    def test_where_it_is_not_known_what_is_aboard_any_rode_is_taken(
        self, embark: "type[Aboard]"
    ) -> None:
        boat = embark(WatchSettings())
        boat.watch.let_go(0.0, rode_m=500.0, depth_m=5.0, drop=ORIGIN)
        assert boat.state() is WatchState.LET_GO

    @pytest.mark.parametrize("rode_m", [-1.0, math.nan, math.inf])
    @pytest.mark.parametrize("depth_m", [None, 5.0])
    def test_a_length_that_is_none_is_refused(
        self, aboard: "Aboard", rode_m: float, depth_m: float | None
    ) -> None:
        before = everything(aboard.watch)
        with pytest.raises(RefusedError):
            aboard.watch.let_go(aboard.now_s, rode_m=rode_m, depth_m=depth_m, drop=None)
        with pytest.raises(RefusedError):
            aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=rode_m, drop=None)
        assert everything(aboard.watch) == before

    def test_said_twice_the_later_word_counts(self, aboard: "Aboard") -> None:
        """Said too early, and again 30 m farther on."""
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=5.0, drop=None))
        aboard.go(lambda t_s: (min(30.0, t_s), 0.0), 5.0)
        aboard.lie(2.0, 5.0)
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=None))
        assert aboard.anchor_en_m == pytest.approx((5.0, 0.0), abs=0.6)
        assert aboard.changes == ["let_go>let_go", "let_go>let_go"]

    def test_a_mark_made_while_the_fix_had_jumped_is_made_again_when_it_comes_right(
        self, aboard: "Aboard"
    ) -> None:
        """Neither where dead reckoning nor where the reflection had her, but where she is then."""
        for _ in range(20):
            aboard.fix(60.0, 0.0, sog_mps=0.0)
        assert aboard.watch.point is not None
        assert aboard.watch.point.fix_state is FixState.JUMPED
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=None))
        first = aboard.watch.anchor
        for _ in range(10):
            aboard.fix(60.0, 0.0, sog_mps=0.0)
        assert aboard.watch.anchor == first
        aboard.lie(20.0, 3.0)
        again = aboard.watch.anchor
        assert first is not None
        assert again is not None
        assert again.sigma_m < first.sigma_m
        assert aboard.anchor_en_m == pytest.approx((0.0, 0.0), abs=5.0)
        aboard.lie(900.0, 3.0)
        assert aboard.conditions("drag") == []

    def test_a_mark_made_by_a_held_position_is_made_again_if_that_was_elsewhere(
        self, aboard: "Aboard"
    ) -> None:
        """The receiver held a place she came by 90 m before she let go: no rode explains it."""
        let_go_by_a_held_position(aboard)
        aboard.go(lambda t_s: (90.0 + min(20.0, 0.2 * t_s), 0.0), 300.0)
        assert aboard.anchor_en_m[0] > 70.0
        aboard.go(lambda t_s: (110.0 + math.sin(t_s / 20.0), 0.0), 1800.0)
        assert aboard.conditions("drag") == []

    def test_a_mark_made_by_a_held_position_stands_where_she_may_lie_to_it(
        self, aboard: "Aboard"
    ) -> None:
        let_go_by_a_held_position(aboard)
        first = aboard.watch.anchor
        aboard.go(lambda t_s: (22.0 + math.sin(t_s / 20.0), 0.0), 300.0)
        assert aboard.watch.anchor == first

    def test_a_boat_that_came_from_far_marks_the_anchor_where_she_is(
        self, embark: "type[Aboard]"
    ) -> None:
        """30 km at 5 m/s. Also in the very moment in which the plane moves along with her."""
        boat = embark()
        boat.lie(30.0, 0.0)
        for step in range(1, 1201):
            boat.fix(25.0 * step, 0.0, after_s=5.0, sog_mps=5.0, cog_deg=90.0)
            assert boat.watch.position is not None
        there, origin = boat.watch.position, boat.watch.origin
        assert there is not None
        assert origin is not None
        off = Geodesic.WGS84.Inverse(origin.lat_deg, origin.lon_deg, there.lat_deg, there.lon_deg)
        assert off["s12"] < 6000.0
        assert boat.point_of(there) == pytest.approx((30_000.0, 0.0), abs=1.0)
        boat.watch.let_go(boat.now_s, rode_m=None, depth_m=None, drop=None)
        assert boat.watch.anchored is not None
        assert boat.point_of(boat.watch.anchored.drop) == pytest.approx((30_000.0, 0.0), abs=1.0)


class TestLayingBack:
    """From let go to riding, as the track shows it."""

    def test_she_falls_back_fetches_up_and_settles(self, aboard: "Aboard") -> None:
        aboard.head(90.0)
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=ORIGIN))
        aboard.go(lambda t_s: (min(LIES_M, 0.5 * t_s), 0.0), 100.0)
        aboard.lie(800.0, LIES_M)
        assert aboard.changes == [
            "let_go>let_go",
            "fell_back>laying_back",
            "fetched_up>brought_up",
            "settled>riding",
        ]
        assert aboard.conditions("drag") == []

    def test_she_has_fallen_back_six_metres_beyond_the_antenna(self, aboard: "Aboard") -> None:
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=ORIGIN))
        aboard.lie(120.0, 13.0)
        assert aboard.state() is WatchState.LET_GO
        aboard.lie(60.0, 15.0)
        assert aboard.state() is not WatchState.LET_GO

    def test_she_has_fetched_up_after_a_minute_in_which_she_went_no_farther(
        self, aboard: "Aboard"
    ) -> None:
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=40.0, depth_m=5.0, drop=ORIGIN))
        aboard.go(lambda t_s: (14.5 + 0.08 * t_s, 0.0), 200.0)  # slowly, but going
        assert aboard.state() is WatchState.LAYING_BACK
        aboard.lie(30.0, 30.5)
        assert aboard.state() is WatchState.LAYING_BACK
        aboard.lie(60.0, 30.5)
        assert aboard.state() is WatchState.BROUGHT_UP

    def test_she_is_watched_closely_for_ten_minutes(self, aboard: "Aboard") -> None:
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=40.0, depth_m=5.0, drop=ORIGIN))
        aboard.go(lambda t_s: (min(30.0, t_s), 0.0), 120.0)
        assert aboard.state() is WatchState.BROUGHT_UP
        aboard.lie(540.0, 30.0)
        assert aboard.state() is WatchState.BROUGHT_UP
        aboard.lie(60.0, 30.0)
        assert aboard.state() is WatchState.RIDING

    def test_positions_that_were_refused_show_nothing(self, aboard: "Aboard") -> None:
        """A wrong Doppler carries the track off while they are: she has not fallen back."""
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=ORIGIN))
        for _ in range(60):
            aboard.fix(80.0, 80.0, sog_mps=0.6, cog_deg=90.0)
        judgement = aboard.watch.judgement
        assert judgement is not None
        assert judgement.distance_m > 30.0
        assert aboard.state() is WatchState.LET_GO
        assert aboard.watch.farthest[0] < 5.0

    def test_a_drag_is_found_in_every_state_of_the_watch(self, aboard: "Aboard") -> None:
        """Let go on rock: she falls back past all her rode and goes on."""
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=ORIGIN))
        aboard.go(lambda t_s: (0.5 * t_s, 0.0), 240.0)
        assert aboard.changes[-1] == "drag_found>dragging"


class TestRodeUnknown:
    """How much rode is out was never said."""

    def test_it_is_a_caution_after_five_minutes(self, aboard: "Aboard") -> None:
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=5.0, drop=None))
        due_s = aboard.now_s + 300.0
        assert aboard.watch.due_s() == aboard.now_s + 30.0  # silence comes first
        aboard.lie(299.0, 0.0)
        assert aboard.watch.due_s() == due_s
        assert list(aboard.watch.advance(due_s - 0.001)) == []
        aboard.heard(aboard.watch.advance(due_s))
        (told,) = aboard.conditions("rode_unknown")
        assert told.priority is Priority.CAUTION
        assert "driftlead veer" in told.text
        assert aboard.watch.due_s() != due_s

    @pytest.mark.parametrize("how", ["veer", "let_go", "weigh"])
    def test_it_ends_when_it_is_said_or_matters_no_more(self, aboard: "Aboard", how: str) -> None:
        watch = aboard.watch
        aboard.heard(watch.let_go(aboard.now_s, rode_m=None, depth_m=5.0, drop=None))
        aboard.lie(310.0, 0.0)
        aboard.heard(watch.advance(aboard.now_s))
        if how == "veer":
            aboard.heard(watch.veer(aboard.now_s, rode_m=30.0, depth_m=None))
        elif how == "let_go":
            aboard.heard(watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=None))
        else:
            aboard.heard(watch.weigh())
        assert [each.priority for each in aboard.conditions("rode_unknown")] == ["caution", None]
        aboard.lie(310.0, 0.0)
        aboard.heard(watch.advance(aboard.now_s))
        assert len(aboard.conditions("rode_unknown")) == 2

    def test_a_rode_given_at_let_go_is_known(self, aboard: "Aboard") -> None:
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=None))
        aboard.lie(310.0, 0.0)
        aboard.heard(aboard.watch.advance(aboard.now_s))
        assert aboard.conditions("rode_unknown") == []

    def test_until_then_all_the_rode_aboard_draws_the_circle(self, aboard: "Aboard") -> None:
        """60 m of it: at 80 m the anchor is not where it was, whatever is out."""
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=5.0, drop=ORIGIN))
        aboard.go(lambda t_s: (min(60.0, t_s), 0.0), 200.0)
        aboard.lie(700.0, 60.0)
        assert aboard.state() is WatchState.RIDING
        assert aboard.conditions("drag") == []
        aboard.go(lambda t_s: (min(120.0, 60.0 + t_s), 0.0), 180.0)
        assert aboard.conditions("drag")[0].reason == "outside_whole_rode"

    def test_with_nothing_known_of_the_rode_no_drag_is_ever_told(
        self, embark: "type[Aboard]"
    ) -> None:
        """That is what the caution is for."""
        settings = evolve(embark().watch.settings, tackle=TackleSettings())
        boat = embark(settings)
        boat.lie(30.0, 0.0)
        boat.heard(boat.watch.let_go(boat.now_s, rode_m=None, depth_m=5.0, drop=None))
        boat.go(lambda t_s: (0.5 * t_s, 0.0), 1000.0)
        assert boat.conditions("drag") == []
        judgement = boat.watch.judgement
        assert judgement is not None
        assert judgement.reason == "rode_unknown"
        with pytest.raises(RefusedError, match="length of rode") as refused:
            embark(settings).watch.set_late(0.0, rode_m=None, depth_m=None)
        assert "--rode" in refused.value.remedy


class TestVeer:
    """So much rode is out."""

    def test_a_longer_rode_widens_the_circle(self, riding: "Aboard") -> None:
        riding.heard(riding.watch.veer(riding.now_s, rode_m=60.0, depth_m=None))
        riding.go(lambda t_s: (min(60.0, LIES_M + 0.3 * t_s), 0.0), 300.0)
        assert riding.conditions("drag") == []
        assert riding.state() is WatchState.RIDING

    def test_a_shorter_rode_narrows_it(self, riding: "Aboard") -> None:
        """And beyond it by more than any error she drags, or the figure is wrong."""
        wide = riding.watch.judgement
        riding.heard(riding.watch.veer(riding.now_s, rode_m=15.0, depth_m=None))
        riding.lie(60.0, LIES_M)
        narrow = riding.watch.judgement
        assert wide is not None
        assert narrow is not None
        assert wide.radius_m is not None
        assert narrow.radius_m is not None
        assert narrow.radius_m < wide.radius_m - 12.0
        riding.go(lambda t_s: (LIES_M + 0.5 * t_s, 0.0), 80.0)
        assert riding.state() is WatchState.DRAGGING

    def test_the_depth_is_the_one_given_or_the_sounders_or_the_last(self, riding: "Aboard") -> None:
        watch = riding.watch
        for given_m, sounded_m, wanted_m in ((7.0, None, 7.0), (None, None, 7.0), (None, 4.0, 4.0)):
            if sounded_m is not None:
                watch.instruments.hear_depth(riding.now_s, DepthReport("SD", sounded_m, None))
            riding.heard(watch.veer(riding.now_s, rode_m=40.0, depth_m=given_m))
            assert watch.anchored is not None
            assert watch.anchored.depth_m == wanted_m

    def test_a_rode_that_does_not_reach_is_refused_without_effect(self, riding: "Aboard") -> None:
        before = everything(riding.watch)
        with pytest.raises(RefusedError, match="does not reach"):
            riding.watch.veer(riding.now_s, rode_m=6.0, depth_m=None)
        assert everything(riding.watch) == before

    @pytest.mark.parametrize("slack", [0.0, 0.5])
    def test_more_than_there_is_aboard_is_refused_without_effect(
        self, embark: "type[Aboard]", slack: float
    ) -> None:
        """However much a rode may give."""
        boat = embark(WatchSettings(tackle=TackleSettings(rode_aboard_m=60.0, rode_slack=slack)))
        boat.heard(boat.watch.let_go(0.0, rode_m=30.0, depth_m=5.0, drop=ORIGIN))
        before = everything(boat.watch)
        with pytest.raises(RefusedError, match=r"80 m is more than the 60 m"):
            boat.watch.veer(1.0, rode_m=80.0, depth_m=None)
        assert everything(boat.watch) == before
        boat.heard(boat.watch.veer(1.0, rode_m=60.0, depth_m=None))

    def test_the_drop_point_stays(self, riding: "Aboard") -> None:
        riding.heard(riding.watch.veer(riding.now_s, rode_m=60.0, depth_m=None))
        assert riding.watch.anchored is not None
        assert riding.watch.anchored.drop == ORIGIN
        assert riding.anchor_en_m == pytest.approx((0.0, 0.0), abs=0.01)


class TestDrag:
    """The anchor comes home."""

    def test_it_is_told_with_its_figures(self, riding: "Aboard") -> None:
        drag(riding, 0.3, 60.0)
        (told,) = riding.conditions("drag")
        assert told.priority is Priority.ALARM
        assert told.reason == "anchor_moved"
        assert told.bearing_deg == pytest.approx(90.0, abs=20.0)
        assert told.rate_mps is not None
        assert told.rate_mps > 0.0
        assert told.confidence is not None
        assert told.confidence > 0.9
        assert told.moved_m is not None
        assert 4.0 < told.moved_m < 60.0
        assert told.anchor is not None
        assert told.anchor.method is AnchorMethod.MOVED
        east_m, _ = riding.point_of(Position(told.anchor.lat_deg, told.anchor.lon_deg))
        assert east_m == pytest.approx(told.moved_m, abs=3.0 * told.anchor.sigma_m)
        (change,) = [each for each in riding.outcomes if getattr(each, "event", "") == "drag_found"]
        assert isinstance(change, StateChange)
        assert change.moved_m == told.moved_m

    def test_the_anchor_is_carried_along_while_she_drags(self, riding: "Aboard") -> None:
        drag(riding, 0.3, 150.0)
        assert riding.watch.moved_m == pytest.approx(150.0, rel=0.1)
        anchor = riding.watch.anchor
        assert anchor is not None
        assert anchor.method is AnchorMethod.MOVED
        assert riding.anchor_en_m == pytest.approx((150.0, 0.0), abs=3.0 * anchor.sigma_m)

    def test_a_jump_while_she_drags_does_not_carry_the_anchor(self, riding: "Aboard") -> None:
        drag(riding, 0.3, 80.0)
        moved_m = riding.watch.moved_m
        for _ in range(60):
            riding.fix(500.0, 500.0, sog_mps=0.8, cog_deg=90.0)
        assert riding.watch.moved_m == pytest.approx(moved_m, abs=15.0)
        assert riding.anchor_en_m == pytest.approx((moved_m, 0.0), abs=20.0)

    def test_the_bearing_is_that_of_the_farthest_point(self, riding: "Aboard") -> None:
        """She yaws back a little after: not where she is, but where she has been."""
        drag(riding, 0.3, 100.0)
        assert riding.watch.farthest[1] == pytest.approx(90.0, abs=1.0)
        riding.go(lambda t_s: (LIES_M + 95.0, -0.3 * t_s), 60.0)
        assert riding.watch.farthest[1] == pytest.approx(90.0, abs=2.0)

    def test_she_holds_again_after_a_quarter_of_an_hour_in_which_she_went_no_farther(
        self, riding: "Aboard"
    ) -> None:
        drag(riding, 0.3, 100.0)
        riding.lie(880.0, LIES_M + 100.0)
        assert riding.state() is WatchState.DRAGGING
        riding.lie(40.0, LIES_M + 100.0)
        assert riding.changes[-1] == "held_again>riding"
        assert [each.priority for each in riding.conditions("drag")] == [Priority.ALARM, None]
        assert riding.anchor_en_m[0] == pytest.approx(100.0, abs=10.0)

    def test_she_does_not_hold_while_she_creeps(self, riding: "Aboard") -> None:
        """0.008 m/s is 7 m in a quarter of an hour."""
        drag(riding, 0.3, 100.0)
        riding.go(lambda t_s: (LIES_M + 100.0 + 0.008 * t_s, 0.0), 3000.0, every_s=5.0)
        assert riding.state() is WatchState.DRAGGING

    def test_she_does_not_hold_because_nothing_was_seen_of_her(self, riding: "Aboard") -> None:
        """A quarter of an hour of jumps is no quarter of an hour of lying still."""
        drag(riding, 0.3, 100.0)
        for count in range(1000):
            place_m = 300.0 + 90.0 * (count // 40 % 3)
            riding.fix(place_m, place_m, sog_mps=0.0)
        assert riding.state() is WatchState.DRAGGING

    def test_where_she_holds_again_is_watched_anew(self, riding: "Aboard") -> None:
        """The anchor is 99 m from the drop point then: a circle round it, and a new drag."""
        drag(riding, 0.3, 100.0)
        riding.lie(920.0, LIES_M + 100.0)
        riding.lie(600.0, LIES_M + 100.0)
        assert riding.state() is WatchState.RIDING
        riding.go(lambda t_s: (LIES_M + 100.0 + 0.3 * t_s, 0.0), 200.0)
        assert [each.priority for each in riding.conditions("drag")] == ["alarm", None, "alarm"]
        assert riding.watch.moved_m == pytest.approx(60.0, abs=12.0)

    def test_veering_while_she_drags_watches_the_anchor_where_it_has_come_to(
        self, riding: "Aboard"
    ) -> None:
        drag(riding, 0.3, 100.0)
        riding.heard(riding.watch.veer(riding.now_s, rode_m=50.0, depth_m=None))
        assert riding.changes[-1] == "veer>laying_back"
        assert riding.conditions("drag")[-1].priority is None
        assert riding.anchor_en_m[0] == pytest.approx(100.0, abs=10.0)
        assert riding.watch.anchored is not None
        assert riding.watch.anchored.method is AnchorMethod.MOVED
        # On 20 m more rode she falls back by as much, and holds.
        riding.go(lambda t_s: (LIES_M + 100.0 + min(20.0, 0.3 * t_s), 0.0), 900.0)
        assert riding.state() is WatchState.RIDING

    def test_the_drop_point_never_moves(self, riding: "Aboard") -> None:
        drag(riding, 0.3, 100.0)
        riding.lie(920.0, LIES_M + 100.0)
        assert riding.watch.anchored is not None
        assert riding.watch.anchored.drop == ORIGIN

    def test_a_drag_that_is_weighed_away_from_is_over(self, riding: "Aboard") -> None:
        drag(riding, 0.3, 60.0)
        riding.heard(riding.watch.weigh())
        assert riding.conditions("drag")[-1].priority is None
        assert riding.watch.moved_m == 0.0


class TestHowItWasSet:
    """What was seen of the anchor as she lay back is said of that anchor in that place only."""

    @pytest.fixture
    def came_home(self, aboard: "Aboard") -> "Aboard":
        """She lies back, and the anchor does not bite."""
        aboard.head(90.0)
        aboard.heard(aboard.watch.let_go(aboard.now_s, rode_m=30.0, depth_m=5.0, drop=ORIGIN))
        aboard.go(lambda t_s: (0.5 * t_s, 0.0), 240.0)
        assert aboard.state() is WatchState.DRAGGING
        assert aboard.watch.set_result is SetResult.CAME_HOME
        return aboard

    def test_veering_after_it_came_home_sets_it_anew(self, came_home: "Aboard") -> None:
        came_home.heard(came_home.watch.veer(came_home.now_s, rode_m=50.0, depth_m=None))
        assert came_home.watch.set_result is None

    def test_correcting_the_mark_after_it_came_home_forgets_it(self, came_home: "Aboard") -> None:
        came_home.heard(came_home.watch.correct_mark(ORIGIN))
        assert came_home.watch.set_result is None

    def test_holding_again_forgets_it_too(self, came_home: "Aboard") -> None:
        came_home.lie(920.0, 120.0)
        assert came_home.changes[-1] == "held_again>riding"
        assert came_home.watch.set_result is None

    def test_an_anchor_that_had_bitten_has_not_once_it_drags(self, riding: "Aboard") -> None:
        assert riding.watch.set_result is SetResult.BITTEN
        drag(riding, 0.3, 60.0)
        assert riding.watch.set_result is None

    def test_correcting_the_mark_while_riding_forgets_what_the_old_one_showed(
        self, riding: "Aboard"
    ) -> None:
        riding.heard(riding.watch.correct_mark(ORIGIN))
        assert riding.watch.set_result is None


class TestWeigh:
    """The anchor comes up, on purpose."""

    def test_the_watch_ends(self, riding: "Aboard") -> None:
        riding.heard(riding.watch.weigh())
        watch = riding.watch
        assert watch.state is WatchState.AWEIGH
        assert (watch.anchor, watch.anchored, watch.judgement) == (None, None, None)
        assert watch.due_s() is None
        riding.go(lambda t_s: (LIES_M + 0.5 * t_s, 0.0), 400.0)
        assert riding.conditions("drag") == []

    def test_it_is_stowed_after_a_quarter_of_an_hour(self, riding: "Aboard") -> None:
        riding.heard(riding.watch.weigh())
        riding.lie(890.0, LIES_M)
        assert riding.state() is WatchState.AWEIGH
        riding.lie(20.0, LIES_M)
        assert riding.state() is WatchState.STOWED
        last = riding.outcomes[-1]
        assert isinstance(last, StateChange)
        assert last.reason == "time"

    def test_it_is_stowed_after_a_minute_under_way(self, riding: "Aboard") -> None:
        riding.heard(riding.watch.weigh())
        riding.go(lambda t_s: (LIES_M + 2.0 * t_s, 0.0), 58.0)
        assert riding.state() is WatchState.AWEIGH
        riding.go(lambda t_s: (LIES_M + 116.0 + 2.0 * t_s, 0.0), 5.0)
        last = riding.outcomes[-1]
        assert isinstance(last, StateChange)
        assert (last.state, last.reason) == (WatchState.STOWED, "under_way")

    def test_way_made_on_another_day_does_not_count(self, riding: "Aboard") -> None:
        riding.heard(riding.watch.weigh())
        riding.go(lambda t_s: (LIES_M + 2.0 * t_s, 0.0), 70.0)
        assert riding.state() is WatchState.STOWED
        riding.heard(riding.watch.let_go(riding.now_s, rode_m=30.0, depth_m=5.0, drop=None))
        riding.heard(riding.watch.weigh())
        riding.fix(LIES_M + 142.0, 0.0, sog_mps=2.0, cog_deg=90.0)
        assert riding.state() is WatchState.AWEIGH

    def test_drifting_about_with_the_anchor_up_is_not_under_way(self, riding: "Aboard") -> None:
        riding.heard(riding.watch.weigh())
        riding.go(lambda t_s: (LIES_M + 0.8 * t_s, 0.0), 600.0)
        assert riding.state() is WatchState.AWEIGH


class TestResume:
    """After a restart she is watched as before."""

    @staticmethod
    def restarted(boat: "Aboard", embark: "type[Aboard]", *, after_s: float) -> "Aboard":
        again = embark(boat.watch.settings, now_s=boat.now_s + after_s)
        farthest_m, farthest_bearing_deg = boat.watch.farthest
        again.watch.resume(
            again.now_s,
            state=boat.watch.state,
            anchored=boat.watch.anchored,
            origin=boat.watch.origin,
            farthest_m=farthest_m,
            farthest_bearing_deg=farthest_bearing_deg,
            moved_m=boat.watch.moved_m,
            memory=boat.watch.memory,
        )
        return again

    def test_the_anchor_is_where_it_was(self, riding: "Aboard", embark: "type[Aboard]") -> None:
        again = self.restarted(riding, embark, after_s=60.0)
        assert again.watch.anchor == riding.watch.anchor
        assert again.state() is WatchState.RIDING
        again.lie(600.0, LIES_M)
        assert again.changes == []

    def test_a_drag_while_the_program_was_away_is_found(
        self, riding: "Aboard", embark: "type[Aboard]"
    ) -> None:
        again = self.restarted(riding, embark, after_s=600.0)
        again.lie(40.0, LIES_M + 100.0)
        assert again.changes == ["drag_found>dragging"]
        again.lie(300.0, LIES_M + 100.0)
        assert 50.0 < again.watch.moved_m < 200.0

    def test_a_drag_that_was_on_goes_on(self, riding: "Aboard", embark: "type[Aboard]") -> None:
        drag(riding, 0.3, 100.0)
        again = self.restarted(riding, embark, after_s=10.0)
        assert again.watch.moved_m == riding.watch.moved_m
        again.lie(20.0, LIES_M + 90.0, 20.0)
        # Not as far out as she was, so neither distance nor bearing are news.
        assert again.watch.farthest == riding.watch.farthest
        again.lie(900.0, LIES_M + 90.0, 20.0)
        assert again.changes == ["held_again>riding"]

    def test_silence_counts_from_the_restart(
        self, riding: "Aboard", embark: "type[Aboard]"
    ) -> None:
        again = self.restarted(riding, embark, after_s=600.0)
        assert again.watch.due_s() == again.now_s + 30.0

    def test_a_rode_still_unknown_is_asked_for_again(
        self, aboard: "Aboard", embark: "type[Aboard]"
    ) -> None:
        aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=5.0, drop=None)
        again = self.restarted(aboard, embark, after_s=10.0)
        again.lie(299.0, 0.0)
        assert again.watch.due_s() == again.now_s + 1.0

    def inferred(self, aboard: "Aboard") -> "Aboard":
        """Set late, and ten minutes of heading: the anchor is some 33 m south."""
        aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0)
        for _ in range(600):
            aboard.head(180.0)
            aboard.lie(1.0, 0.0)
        return aboard

    def test_an_inferred_anchor_is_worked_out_further_from_what_was_known(
        self, aboard: "Aboard", embark: "type[Aboard]"
    ) -> None:
        before = self.inferred(aboard).watch.anchor
        assert before is not None
        again = self.restarted(aboard, embark, after_s=60.0)
        again.lie(60.0, 0.0)  # and no heading yet
        after = again.watch.anchor
        assert after is not None
        assert after.sigma_m < 1.3 * before.sigma_m
        assert again.anchor_en_m[1] == pytest.approx(aboard.anchor_en_m[1], abs=8.0)

    def test_a_drag_from_an_inferred_anchor_while_the_program_was_away_is_found(
        self, aboard: "Aboard", embark: "type[Aboard]"
    ) -> None:
        """Worked out anew around where she lies now, the anchor would be found there."""
        before = self.inferred(aboard).watch.anchor
        again = self.restarted(aboard, embark, after_s=600.0)
        again.lie(40.0, 0.0, 100.0)
        assert again.changes == ["drag_found>dragging"]
        assert again.watch.anchored is not None
        assert before is not None
        # The place it was dragged from is the one it was known by.
        there = again.watch.anchored.place
        where = again.watch.origin
        assert where is not None
        east_m, north_m = again.point_of(where)
        known = again.point_of(Position(before.lat_deg, before.lon_deg))
        assert (there.east_m + east_m, there.north_m + north_m) == pytest.approx(known, abs=8.0)

    def test_a_watch_weighed_before_the_first_fix_infers_nothing(
        self, aboard: "Aboard", embark: "type[Aboard]"
    ) -> None:
        again = self.restarted(self.inferred(aboard), embark, after_s=60.0)
        again.watch.weigh()
        again.watch.let_go(again.now_s, rode_m=30.0, depth_m=5.0, drop=ORIGIN)
        again.lie(60.0, 20.0)
        assert again.anchor_en_m == pytest.approx((0.0, 0.0), abs=0.01)


class Scripted:
    """A Detector that says what it is told to, a step with each point."""

    def __init__(self) -> None:
        self.verdict, self.reason, self.log_odds = QUIET
        self.place = AnchorInPlane(0.0, 0.0, 3.0)
        self.memory: Memory | None = None
        self.evidence: Evidence | None = None
        self.armed: list[Arming] = []

    def arm(self, arming: Arming) -> None:
        """Note it."""
        self.armed.append(arming)

    def refit(self, circle: DragCircle | None, *, whole_rode: bool) -> None:
        """Nothing of it."""

    def breathe(self, circle: DragCircle) -> None:
        """The same rode in another depth."""

    def judge(self, point: TrackPoint, _instruments: Instruments, /) -> Judgement:
        """Say it."""
        self.evidence = Evidence(
            time_s=point.time_s,
            knowledge=Knowledge.MARKED,
            log_odds=self.log_odds,
            moved_m=7.0,
            moved_sigma_m=3.0,
            bearing_deg=80.0,
            rate_mps=0.02,
            distance_m=30.0,
            beyond_m=-9.0,
            borne_out=True,
        )
        return Judgement(
            self.verdict, self.reason, 30.0, 90.0, 45.0, 7.0, 80.0, 0.02, self.log_odds
        )


QUIET = (Verdict.HOLDING, Reason.AS_THE_RODE_ALLOWS, -9.0)
CHANGED = (Verdict.UNSURE, Reason.SWING_CHANGED, 2.0)
MOVED = (Verdict.DRAGGING, Reason.ANCHOR_MOVED, 20.0)


@pytest.fixture
def scripted(riding: "Aboard") -> Scripted:
    """What the detector of the boat that is riding says, from now on."""
    detector = Scripted()
    riding.watch._detector = detector
    return detector


def say(boat: "Aboard", detector: Scripted, what: Said, lasts_s: float) -> None:
    """The detector says so for so long, a fix in ten seconds."""
    detector.verdict, detector.reason, detector.log_odds = what
    boat.lie(lasts_s, LIES_M, every_s=10.0)


class TestSwingChanged:
    """More likely moved than not, but not surely enough to wake anybody."""

    def test_it_is_a_caution_when_it_has_been_so_for_a_minute(
        self, riding: "Aboard", scripted: Scripted
    ) -> None:
        say(riding, scripted, QUIET, 60.0)
        say(riding, scripted, CHANGED, 60.0)
        assert riding.conditions("swing_changed") == []
        say(riding, scripted, CHANGED, 10.0)
        (told,) = riding.conditions("swing_changed")
        assert told.priority is Priority.CAUTION
        assert told.reason == "swing_changed"
        assert (told.moved_m, told.bearing_deg) == (7.0, 80.0)
        assert told.confidence == pytest.approx(0.88, abs=0.01)
        assert told.anchor == riding.watch.anchor
        say(riding, scripted, CHANGED, 600.0)
        assert len(riding.conditions("swing_changed")) == 1
        assert riding.state() is WatchState.RIDING

    def test_it_is_over_when_she_has_lain_as_ever_for_a_minute(
        self, riding: "Aboard", scripted: Scripted
    ) -> None:
        say(riding, scripted, CHANGED, 100.0)
        say(riding, scripted, QUIET, 60.0)
        assert [each.priority for each in riding.conditions("swing_changed")] == ["caution"]
        say(riding, scripted, QUIET, 10.0)
        assert [each.priority for each in riding.conditions("swing_changed")] == ["caution", None]

    def test_coming_and_going_it_is_neither_told_nor_over(
        self, riding: "Aboard", scripted: Scripted
    ) -> None:
        for _ in range(10):
            say(riding, scripted, CHANGED, 50.0)
            say(riding, scripted, QUIET, 20.0)
        assert riding.conditions("swing_changed") == []
        say(riding, scripted, CHANGED, 100.0)
        for _ in range(10):
            say(riding, scripted, QUIET, 50.0)
            say(riding, scripted, CHANGED, 20.0)
        assert [each.priority for each in riding.conditions("swing_changed")] == ["caution"]

    @pytest.mark.parametrize("how", ["drag", "weigh"])
    def test_a_drag_or_the_end_of_the_watch_says_more(
        self, riding: "Aboard", scripted: Scripted, how: str
    ) -> None:
        say(riding, scripted, CHANGED, 100.0)
        if how == "drag":
            say(riding, scripted, MOVED, 10.0)
            assert riding.state() is WatchState.DRAGGING
        else:
            riding.heard(riding.watch.weigh())
        assert [each.priority for each in riding.conditions("swing_changed")] == ["caution", None]

    def test_while_she_drags_it_is_not_told(self, riding: "Aboard", scripted: Scripted) -> None:
        say(riding, scripted, MOVED, 10.0)
        say(riding, scripted, CHANGED, 200.0)
        assert riding.conditions("swing_changed") == []

    def test_one_that_was_up_before_a_restart_is_over_after_it(
        self, riding: "Aboard", scripted: Scripted, embark: "type[Aboard]"
    ) -> None:
        up = make_alert(name="swing_changed", priority=Priority.CAUTION)
        again = embark(riding.watch.settings, now_s=riding.now_s)
        again.watch.resume(
            again.now_s,
            state=WatchState.RIDING,
            anchored=riding.watch.anchored,
            origin=riding.watch.origin,
            farthest_m=0.0,
            farthest_bearing_deg=0.0,
            moved_m=0.0,
            memory=None,
            alerts=[up],
        )
        again.watch._detector = scripted
        scripted.verdict, scripted.reason, scripted.log_odds = QUIET
        again.lie(80.0, LIES_M, every_s=10.0)
        told = [each for each in again.outcomes if getattr(each, "name", "") == "swing_changed"]
        assert [getattr(each, "priority", "") for each in told] == [None]


class TestSetLate:
    """The anchor has been down for a while, and where it is has to be worked out."""

    def test_it_is_inferred_and_its_error_told_and_shrinking(self, aboard: "Aboard") -> None:
        """She lies north of her anchor, heading south."""
        aboard.head(180.0)
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        assert aboard.changes == ["set_late>riding"]
        first = aboard.watch.anchor
        assert first is not None
        assert first.method is AnchorMethod.INFERRED
        for _ in range(300):
            aboard.head(180.0)
            aboard.lie(4.0, 0.0, every_s=4.0)
        last = aboard.watch.anchor
        assert last is not None
        assert last.sigma_m < 0.8 * first.sigma_m
        east_m, north_m = aboard.anchor_en_m
        assert abs(east_m) < 3.0 * last.sigma_m
        assert -45.0 < north_m < -15.0
        assert aboard.state() is WatchState.RIDING

    def test_the_anchor_is_where_the_detector_has_it_until_she_drags(
        self, riding: "Aboard", scripted: Scripted
    ) -> None:
        """Then the place it was dragged from stands, and what has moved is told beside it."""
        riding.heard(riding.watch.weigh())
        riding.lie(5.0, 0.0)
        riding.heard(riding.watch.set_late(riding.now_s, rode_m=30.0, depth_m=5.0))
        here = riding.watch.origin
        assert here is not None
        for north_m in (-20.0, -25.0):
            scripted.place = AnchorInPlane(1.0, north_m, 6.0)
            say(riding, scripted, QUIET, 10.0)
            anchored = riding.watch.anchored
            assert anchored is not None
            assert anchored.place == scripted.place
        say(riding, scripted, MOVED, 10.0)
        scripted.place = AnchorInPlane(1.0, 60.0, 6.0)
        say(riding, scripted, MOVED, 30.0)
        assert riding.watch.anchored == anchored
        carried = riding.watch.anchor
        assert carried is not None
        assert carried.method is AnchorMethod.MOVED
        assert carried.lat_deg > here.lat_deg

    def test_a_marked_anchor_stays_where_it_was_marked(
        self, riding: "Aboard", scripted: Scripted
    ) -> None:
        before = riding.watch.anchored
        scripted.place = AnchorInPlane(9.0, 9.0, 1.0)
        say(riding, scripted, QUIET, 100.0)
        assert riding.watch.anchored == before

    def test_it_is_a_caution_until_the_place_is_known_well_enough(
        self, riding: "Aboard", scripted: Scripted
    ) -> None:
        """To a quarter of the drag circle: of 30 m of rode and 8 m to the antenna, some 10 m."""
        riding.heard(riding.watch.weigh())
        riding.lie(5.0, LIES_M)
        scripted.place = AnchorInPlane(0.0, 0.0, 14.0)
        riding.heard(riding.watch.set_late(riding.now_s, rode_m=30.0, depth_m=5.0))
        told = riding.conditions("anchor_uncertain")
        assert [each.priority for each in told] == ["caution"]
        assert "14 m only" in told[0].text
        for sigma_m, priority in ((11.5, "caution"), (8.0, None)):
            scripted.place = AnchorInPlane(0.0, 0.0, sigma_m)
            say(riding, scripted, QUIET, 10.0)
            assert riding.conditions("anchor_uncertain")[-1].priority == priority

    def test_the_watch_ending_ends_the_caution(self, aboard: "Aboard") -> None:
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        aboard.lie(900.0, 0.0)
        assert {each.priority for each in aboard.conditions("anchor_uncertain")} == {"caution"}
        aboard.heard(aboard.watch.weigh())
        assert aboard.conditions("anchor_uncertain")[-1].priority is None

    def test_where_there_is_no_heading_the_wind_says_where_the_anchor_is(
        self, aboard: "Aboard"
    ) -> None:
        for _ in range(120):
            wind = WindReport("WI", 8.0, 270.0, WindReference.TRUE_NORTH)
            aboard.watch.instruments.hear_wind(aboard.now_s, wind)
            if aboard.state() is WatchState.STOWED:
                aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0)
            aboard.lie(4.0, 0.0, every_s=4.0)
        east_m, north_m = aboard.anchor_en_m
        assert -45.0 < east_m < -12.0
        assert abs(north_m) < 5.0

    def test_all_the_rode_aboard_counts_where_none_is_told(self, aboard: "Aboard") -> None:
        """60 m of it: the anchor may be 68 m from the antenna."""
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=None, depth_m=None))
        aboard.lie(60.0, 0.0)
        anchor = aboard.watch.anchor
        assert anchor is not None
        assert anchor.sigma_m > 25.0

    @pytest.mark.parametrize("rate_mps", [0.2, 1.0])
    @pytest.mark.parametrize("after_s", [300, 900])
    def test_a_drag_is_found_while_the_place_is_still_being_worked_out(
        self, aboard: "Aboard", after_s: int, rate_mps: float
    ) -> None:
        aboard.head(180.0)
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        for _ in range(after_s // 4):
            aboard.head(180.0)
            aboard.lie(4.0, 0.0, every_s=4.0)
        gone_m = 0.0
        while aboard.state() is not WatchState.DRAGGING and gone_m < 150.0:
            gone_m += 2.0 * rate_mps
            aboard.head(180.0)
            aboard.fix(0.0, gone_m, after_s=2.0, sog_mps=rate_mps, cog_deg=0.0)
        assert gone_m < 75.0 + 45.0 * rate_mps

    def test_refused_positions_tell_nothing_about_the_anchor(self, aboard: "Aboard") -> None:
        """While they are refused Doppler alone carries the track, here with a wrong speed."""
        aboard.head(180.0)
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        for _ in range(150):
            aboard.head(180.0)
            aboard.lie(4.0, 0.0, every_s=4.0)
        before = aboard.anchor_en_m
        for _ in range(100):
            aboard.head(180.0)
            aboard.fix(200.0, 0.0, sog_mps=0.8, cog_deg=90.0)
        assert aboard.anchor_en_m == pytest.approx(before, abs=1.0)
        assert aboard.state() is WatchState.RIDING


class TestArming:
    """What the detector is told of the anchor."""

    def arming(self, boat: "Aboard", *, late: bool = False, **how: Any) -> Arming:
        """Of a let go by ``how``."""
        detector = Scripted()
        boat.watch._detector = detector
        if late:
            boat.watch.set_late(boat.now_s, rode_m=30.0, depth_m=5.0)
        else:
            boat.watch.let_go(boat.now_s, **({"rode_m": 30.0, "depth_m": 5.0, "drop": None} | how))
        return detector.armed[-1]

    def test_a_mark_by_the_receiver_errs_with_it(self, aboard: "Aboard") -> None:
        arming = self.arming(aboard)
        assert (arming.by_fix, arming.late, arming.whole_rode) == (True, False, False)
        assert arming.circle is not None
        assert arming.circle.reach_m == pytest.approx(REACH_M)

    def test_a_place_the_skipper_gives_does_not(self, aboard: "Aboard") -> None:
        assert not self.arming(aboard, drop=ORIGIN).by_fix

    def test_a_late_set_is_told_where_the_antenna_is(self, aboard: "Aboard") -> None:
        arming = self.arming(aboard, late=True)
        assert arming.late
        assert math.hypot(arming.anchor.east_m, arming.anchor.north_m) < 1.0

    def test_the_whole_rode_serves_where_none_was_told(self, aboard: "Aboard") -> None:
        arming = self.arming(aboard, rode_m=None)
        assert arming.whole_rode
        assert arming.circle is not None
        assert arming.circle.reach_m == pytest.approx(math.sqrt(60.0**2 - 6.2**2))

    @pytest.mark.parametrize("memory", [None, Memory(((1.0, 2.0),))])
    def test_taken_up_again_it_is_told_what_it_had_learned(
        self, aboard: "Aboard", embark: "type[Aboard]", memory: Memory | None
    ) -> None:
        """Without that, a late set's anchor is where it was last thought to be.

        Looked for around the boat it would be found there, and a drag meanwhile never.
        """
        self.arming(aboard, late=True)
        again = embark(aboard.watch.settings, now_s=aboard.now_s)
        detector = Scripted()
        again.watch._detector = detector
        again.watch.resume(
            again.now_s,
            state=WatchState.RIDING,
            anchored=aboard.watch.anchored,
            origin=aboard.watch.origin,
            farthest_m=0.0,
            farthest_bearing_deg=0.0,
            moved_m=0.0,
            memory=memory,
        )
        (arming,) = detector.armed
        assert arming.memory == memory
        assert arming.late is (memory is not None)
        assert aboard.watch.anchored is not None
        assert arming.anchor == aboard.watch.anchored.place


class TestReceivers:
    """What the receiver says besides positions."""

    def test_another_receiver_begins_its_own_track(self, riding: "Aboard") -> None:
        """A second antenna 3 m away is no jump."""
        riding.watch.restart_track()
        riding.fix(LIES_M + 3.0, 8.0)
        assert riding.watch.point is not None
        assert riding.watch.point.fix_state.value == "reacquired"

    def test_blindness_is_told_and_so_is_the_drag(self, riding: "Aboard") -> None:
        riding.go(lambda t_s: (LIES_M + 0.3 * t_s, 0.0), 300.0, hdop=9.0)
        assert riding.conditions("fix_poor")[0].reason == "high_hdop"
        assert riding.state() is WatchState.DRAGGING

    def test_no_fix_is_told_in_time(self, riding: "Aboard") -> None:
        since_s = riding.now_s
        for _ in range(65):
            riding.now_s += 1.0
            riding.heard(riding.watch.hear_no_fix(riding.now_s))
        assert riding.watch.due_s() == since_s + 60.0
        riding.heard(riding.watch.advance(since_s + 60.0))
        assert riding.conditions("fix_lost")[0].priority is Priority.WARNING
