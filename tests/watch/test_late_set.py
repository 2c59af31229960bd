"""Where the anchor lies when the watch is set late: inferred, and honest about it.

Tracks here are simple and synthetic, with the anchor at the origin of the plane.
"""

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest
from attrs import frozen
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.nmea.observations import WindReference, WindReport
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.late_set import LateSet
from driftlead.watch.state_table import WatchState

if TYPE_CHECKING:
    from tests.watch.conftest import Aboard

REACH_M = 45.0


@frozen
class Lie:
    """How she lies: where the antenna is from the anchor, and her head."""

    bearing_deg: float
    distance_m: float
    head_off_deg: float = 0.0

    @property
    def en_m(self) -> tuple[float, float]:
        """Metres east and north of the anchor."""
        bearing = math.radians(self.bearing_deg)
        return self.distance_m * math.sin(bearing), self.distance_m * math.cos(bearing)

    @property
    def heading_deg(self) -> float:
        """Toward the anchor, but for the sheer."""
        return (self.bearing_deg + 180.0 + self.head_off_deg) % 360.0


def breeze(t_s: float) -> Lie:
    """She sheers by 25 degrees to either side at nearly her full reach."""
    phase = 2.0 * math.pi * t_s / 90.0
    return Lie(210.0 + 25.0 * math.sin(phase), 0.95 * REACH_M, 15.0 * math.cos(phase))


def shift(t_s: float) -> Lie:
    """The wind veers by 120 degrees in half an hour."""
    phase = 2.0 * math.pi * t_s / 90.0
    middle = 210.0 + min(120.0, t_s / 15.0)
    return Lie(middle + 25.0 * math.sin(phase), 0.95 * REACH_M, 15.0 * math.cos(phase))


def light_airs(t_s: float) -> Lie:
    """She wanders at one to four fifths of her reach, swinging widely."""
    bearing = 100.0 + 60.0 * math.sin(t_s / 400.0) + 30.0 * math.sin(t_s / 24.0)
    return Lie(
        bearing, REACH_M * (0.65 + 0.15 * math.sin(t_s / 300.0)), 20.0 * math.cos(t_s / 24.0)
    )


def still(_t_s: float) -> Lie:
    """She lies as if nailed down."""
    return Lie(100.0, 0.95 * REACH_M)


@frozen
class Step:
    """One estimate beside the truth."""

    estimate: AnchorInPlane
    error_m: float
    from_boat_m: float


def infer(
    lie: Callable[[float], Lie],
    lasts_s: float,
    *,
    heading: bool = True,
    known: AnchorInPlane | None = None,
    began_s: float = 0.0,
) -> list[Step]:
    """Set the watch late and follow her, a fix each second."""
    east_m, north_m = lie(began_s).en_m
    late = LateSet(east_m=east_m, north_m=north_m, reach_m=REACH_M, time_s=0.0, known=known)
    steps = []
    for t_s in range(round(lasts_s) + 1):
        now = lie(began_s + t_s)
        east_m, north_m = now.en_m
        estimate = late.take(
            time_s=float(t_s),
            east_m=east_m,
            north_m=north_m,
            sigma_m=2.5,
            toward_deg=now.heading_deg if heading else None,
        )
        if estimate is not None:
            error_m = math.hypot(estimate.east_m, estimate.north_m)
            from_boat_m = math.hypot(estimate.east_m - east_m, estimate.north_m - north_m)
            steps.append(Step(estimate, error_m, from_boat_m))
    return steps


LIES = pytest.mark.parametrize("lie", [breeze, shift, light_airs, still])


class TestInference:
    """What the track gives away."""

    @LIES
    def test_with_a_heading_the_anchor_is_always_within_three_sigma(
        self, lie: Callable[[float], Lie]
    ) -> None:
        for step in infer(lie, 3600.0):
            assert step.error_m <= 3.0 * step.estimate.sigma_m

    @LIES
    def test_with_a_heading_the_error_shrinks_to_a_quarter_of_the_reach(
        self, lie: Callable[[float], Lie]
    ) -> None:
        steps = infer(lie, 1200.0)
        assert steps[-1].estimate.sigma_m < 0.6 * steps[0].estimate.sigma_m
        assert steps[-1].estimate.sigma_m < 0.25 * REACH_M
        assert steps[-1].error_m < 0.4 * REACH_M

    @LIES
    def test_without_a_heading_it_is_within_three_sigma_too(
        self, lie: Callable[[float], Lie]
    ) -> None:
        for step in infer(lie, 3600.0, heading=False):
            assert step.error_m <= 3.0 * step.estimate.sigma_m

    def test_without_heading_a_boat_that_lies_still_tells_nothing(self) -> None:
        """The anchor may be on any side of her: the mean is her own place, and far from sure."""
        for step in infer(still, 7200.0, heading=False):
            assert step.from_boat_m < 1.0
            assert step.estimate.sigma_m > 0.6 * REACH_M

    def test_without_heading_swinging_gives_the_anchor_away_in_time(self) -> None:
        steps = infer(shift, 3600.0, heading=False)
        assert steps[0].estimate.sigma_m > 0.6 * REACH_M
        assert steps[-1].estimate.sigma_m < 0.25 * REACH_M
        assert steps[-1].error_m < 0.3 * REACH_M

    @pytest.mark.parametrize("heading_deg", [0.0, 90.0, 200.0, 359.0])
    def test_the_anchor_is_looked_for_ahead_and_never_under_the_bow(
        self, heading_deg: float
    ) -> None:
        """At once, from one fix and the head."""
        bearing_deg = (heading_deg + 180.0) % 360.0
        first = infer(lambda _: Lie(bearing_deg, 0.95 * REACH_M), 0.0)[0]
        assert first.from_boat_m > 0.5 * REACH_M
        assert first.error_m < 0.5 * REACH_M

    @given(
        swing_deg=st.floats(0.0, 40.0),
        period_s=st.floats(60.0, 3000.0),
        taut=st.floats(0.5, 1.0),
        heading=st.booleans(),
    )
    @settings(deadline=None, max_examples=25)
    def test_the_boats_own_place_is_never_given_with_a_small_error(
        self, swing_deg: float, period_s: float, taut: float, heading: bool
    ) -> None:
        """A boat that lies back is not over her anchor: the mistake a late set invites."""

        def lie(t_s: float) -> Lie:
            phase = 2.0 * math.pi * t_s / period_s
            return Lie(swing_deg * math.sin(phase), taut * REACH_M)

        for step in infer(lie, 1200.0, heading=heading):
            assert step.from_boat_m > 0.3 * REACH_M or step.estimate.sigma_m > 0.3 * REACH_M
            assert step.estimate.sigma_m >= 4.0 + 0.08 * REACH_M

    def test_the_reach_of_the_rode_is_a_hard_limit(self) -> None:
        """Far east of it for ten minutes, then far west: it is between, at the very next point."""

        def turn(t_s: float) -> Lie:
            return Lie(90.0 if t_s < 600 else 270.0, 0.98 * REACH_M, 50.0)

        before, after = infer(turn, 600.0)[-2:]
        assert before.error_m > 0.5 * REACH_M
        assert after.error_m < 0.35 * REACH_M

    def test_points_of_one_minute_count_as_one(self) -> None:
        """A heading wrong by 40 degrees for a minute does not carry the estimate away."""
        steps = infer(lambda _: Lie(100.0, 0.95 * REACH_M, 40.0), 60.0)
        assert steps[-1].estimate.sigma_m > 0.3 * REACH_M
        assert steps[-1].error_m <= 3.0 * steps[-1].estimate.sigma_m

    def test_a_point_that_comes_too_soon_after_the_last_is_not_weighed(self) -> None:
        assert len(infer(breeze, 100.0)) == 6

    def test_what_was_known_before_is_not_forgotten(self) -> None:
        """After a restart: half an hour of a still boat's heading, told in one estimate."""
        before = infer(breeze, 1800.0)[-1].estimate
        anew = infer(breeze, 0.0, heading=False, began_s=1800.0)[0]
        after = infer(breeze, 0.0, heading=False, began_s=1800.0, known=before)[0]
        assert after.estimate.sigma_m < 0.6 * anew.estimate.sigma_m
        assert after.error_m < 0.35 * REACH_M
        assert after.error_m <= 3.0 * after.estimate.sigma_m


class TestWatchSetLate:
    """The same in a watch, in which the rode gives the reach."""

    def test_the_anchor_is_inferred_and_its_error_told_and_shrinking(
        self, aboard: "Aboard"
    ) -> None:
        """She lies north of her anchor, heading south."""
        aboard.head(180.0)
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        first = aboard.watch.anchor
        assert first is not None
        assert first.method is AnchorMethod.INFERRED
        for _ in range(1200):
            aboard.head(180.0)
            aboard.lie(1.0, 0.0)
        last = aboard.watch.anchor
        assert last is not None
        assert last.sigma_m < 0.6 * first.sigma_m
        east_m, north_m = aboard.anchor_en_m
        assert abs(east_m) < 3.0 * last.sigma_m
        assert -40.0 < north_m < -15.0

    def test_it_is_a_caution_until_the_place_is_known_well_enough(self, aboard: "Aboard") -> None:
        aboard.head(180.0)
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        told = aboard.conditions("anchor_uncertain")
        assert [each.priority for each in told] == ["caution"]
        assert "m only" in told[0].text
        for _ in range(1800):
            aboard.head(180.0)
            aboard.lie(1.0, 0.0)
        assert aboard.conditions("anchor_uncertain")[-1].priority is None

    def test_without_heading_or_wind_it_stays_a_caution(self, aboard: "Aboard") -> None:
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        aboard.lie(3000.0, 0.0)
        assert {each.priority for each in aboard.conditions("anchor_uncertain")} == {"caution"}
        anchor = aboard.watch.anchor
        assert anchor is not None
        assert anchor.sigma_m > 15.0
        assert aboard.watch.inferring
        aboard.heard(aboard.watch.weigh())
        assert aboard.conditions("anchor_uncertain")[-1].priority is None

    def test_where_there_is_no_heading_the_wind_says_where_the_anchor_is(
        self, aboard: "Aboard"
    ) -> None:
        for _ in range(600):
            wind = WindReport("WI", 8.0, 270.0, WindReference.TRUE_NORTH)
            aboard.watch.instruments.hear_wind(aboard.now_s, wind)
            if aboard.watch.state is WatchState.STOWED:
                aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0)
            aboard.lie(1.0, 0.0)
        east_m, north_m = aboard.anchor_en_m
        assert -40.0 < east_m < -15.0
        assert abs(north_m) < 5.0

    def test_all_the_rode_aboard_counts_where_none_is_told(self, aboard: "Aboard") -> None:
        """60 m of it: the anchor may be 68 m from the antenna."""
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=None, depth_m=None))
        aboard.lie(60.0, 0.0)
        anchor = aboard.watch.anchor
        assert anchor is not None
        assert anchor.sigma_m > 30.0

    @pytest.mark.parametrize("lie", [breeze, shift, light_airs])
    @pytest.mark.parametrize("heading", [True, False])
    def test_swinging_is_no_drag_while_the_place_is_being_worked_out(
        self, embark: "type[Aboard]", lie: Callable[[float], Lie], heading: bool
    ) -> None:
        """An hour of it, and the anchor within three sigma all the time."""
        boat = embark()
        boat.lie(30.0, *lie(0.0).en_m)
        if heading:
            boat.head(lie(0.0).heading_deg)
        boat.watch.set_late(boat.now_s, rode_m=36.0, depth_m=5.0)
        for t_s in range(3600):
            if heading:
                boat.head(lie(t_s).heading_deg)
            boat.fix(*lie(t_s + 1.0).en_m, sog_mps=None)
            anchor = boat.watch.anchor
            assert anchor is not None
            assert math.hypot(*boat.anchor_en_m) <= 3.0 * anchor.sigma_m
        assert boat.watch.state is WatchState.RIDING

    @pytest.mark.parametrize("rate_mps", [0.1, 0.2, 0.5, 1.0])
    @pytest.mark.parametrize("after_s", [300, 600])
    def test_a_drag_is_found_while_the_place_is_still_being_worked_out(
        self, aboard: "Aboard", after_s: int, rate_mps: float
    ) -> None:
        """The estimate must not go along with her, nor begin the dwell anew as it is told."""
        aboard.head(180.0)
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        for _ in range(after_s):
            aboard.head(180.0)
            aboard.lie(1.0, 0.0)
        assert aboard.watch.inferring
        gone_m = 0.0
        while aboard.watch.state is not WatchState.DRAGGING and gone_m < 150.0:
            aboard.head(180.0)
            aboard.fix(0.0, gone_m, sog_mps=rate_mps, cog_deg=0.0)
            gone_m += rate_mps
        # Slack, two sigma of an anchor inferred to 10 m, half a minute's dwell, and the change of
        # the estimate that gives the drag away.
        assert gone_m < 50.0 + 30.0 * rate_mps
        assert not aboard.watch.inferring

    def test_refused_positions_tell_nothing_about_the_anchor(self, aboard: "Aboard") -> None:
        """While they are refused Doppler alone carries the track, here with a wrong speed."""
        aboard.head(180.0)
        aboard.heard(aboard.watch.set_late(aboard.now_s, rode_m=30.0, depth_m=5.0))
        for _ in range(600):
            aboard.head(180.0)
            aboard.lie(1.0, 0.0)
        before = aboard.watch.anchor
        for _ in range(100):
            aboard.head(180.0)
            aboard.fix(200.0, 0.0, sog_mps=0.8, cog_deg=90.0)
        assert aboard.watch.anchor == before
        assert aboard.watch.state is WatchState.RIDING
