"""The filter follows the boat and not the reflections.

Figures of real receivers used here: at rest they walk about a metre in a minute, and a position
holding chip lets go of its position after ten metres or so.
"""

import math
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.track.filter import (
    GATE_M,
    HELD_PERSIST_S,
    MAX_GAP_S,
    PERSIST_S,
    TrackFilter,
)
from driftlead.track.point import FixState, TrackPoint

FINE_M = 0.185
"""The step of a fourth decimal of a minute along the meridian."""


def wander(t_s: float) -> tuple[float, float]:
    """The slow walk of a receiver at rest."""
    return 0.4 * math.sin(t_s / 19.0), 0.4 * math.cos(t_s / 31.0)


class Receiver:
    """Gives a filter fixes in plane metres, and keeps what it makes of them."""

    def __init__(self, fix_sigma_m: float = 2.5) -> None:
        self.filter = TrackFilter(fix_sigma_m)
        self.now_s = 0.0
        self.points: list[TrackPoint] = []

    def fix(
        self,
        east_m: float,
        north_m: float = 0.0,
        *,
        after_s: float = 1.0,
        sog_mps: float | None = 0.0,
        cog_deg: float | None = None,
        hdop: float | None = 0.9,
        quantum_m: float = FINE_M,
    ) -> TrackPoint:
        """One fix, ``after_s`` after the last."""
        self.now_s += after_s
        point = self.filter.update(
            self.now_s,
            5000.0 + self.now_s,
            east_m,
            north_m,
            quantum_m=quantum_m,
            sog_mps=sog_mps,
            cog_deg=cog_deg,
            hdop=hdop,
        )
        self.points.append(point)
        return point

    def lie(
        self,
        lasts_s: float,
        off: tuple[float, float] = (0.0, 0.0),
        *,
        every_s: float = 1.0,
        sog_mps: float | None = 0.05,
        cog_deg: float | None = 211.0,
    ) -> list[TrackPoint]:
        """Lie still at the origin, with the receiver ``off`` by so much."""
        points = []
        for _ in range(round(lasts_s / every_s)):
            east_m, north_m = wander(self.now_s + every_s)
            # A speed of noise has a course of noise.
            course_deg = None if cog_deg is None else (cog_deg * self.now_s) % 360.0
            points.append(
                self.fix(
                    east_m + off[0],
                    north_m + off[1],
                    after_s=every_s,
                    sog_mps=sog_mps,
                    cog_deg=course_deg,
                )
            )
        return points

    def go(
        self,
        path: Callable[[float], tuple[float, float]],
        lasts_s: float,
        *,
        every_s: float = 1.0,
        sog: bool = True,
        cog: bool = True,
    ) -> float:
        """Follow a path in seconds from now; the farthest the track was from it, in metres."""
        began_s = self.now_s
        worst_m = 0.0
        while self.now_s - began_s < lasts_s - 1e-6:
            t_s = self.now_s - began_s + every_s
            east_m, north_m = path(t_s)
            before, behind = path(t_s - 0.05), path(t_s + 0.05)
            east_mps, north_mps = (behind[0] - before[0]) / 0.1, (behind[1] - before[1]) / 0.1
            point = self.fix(
                east_m,
                north_m,
                after_s=every_s,
                sog_mps=math.hypot(east_mps, north_mps) if sog else None,
                cog_deg=math.degrees(math.atan2(east_mps, north_mps)) % 360.0 if cog else None,
            )
            worst_m = max(worst_m, math.hypot(point.east_m - east_m, point.north_m - north_m))
        return worst_m


def farthest_m(points: list[TrackPoint]) -> float:
    """How far the track was from the origin at the most."""
    return max(math.hypot(point.east_m, point.north_m) for point in points)


def straight(speed_mps: float, course_deg: float) -> Callable[[float], tuple[float, float]]:
    course = math.radians(course_deg)
    return lambda t_s: (speed_mps * t_s * math.sin(course), speed_mps * t_s * math.cos(course))


@pytest.fixture
def settled() -> Receiver:
    """A receiver at rest at the origin for five minutes."""
    receiver = Receiver()
    receiver.lie(300.0)
    return receiver


class TestMultipath:
    """Steps that speed and course do not explain are the receiver's, not the boat's."""

    @given(
        size_m=st.floats(9.0, 300.0),
        lasts_s=st.integers(10, 90),
        bearing_deg=st.floats(0.0, 360.0),
    )
    @settings(deadline=None, max_examples=40)
    def test_a_step_never_moves_the_track_by_more_than_two_metres(
        self, size_m: float, lasts_s: int, bearing_deg: float
    ) -> None:
        """While it lasts and after it; the receiver's own wander is part of the two metres."""
        receiver = Receiver()
        receiver.lie(120.0)
        bearing = math.radians(bearing_deg)
        off = (size_m * math.sin(bearing), size_m * math.cos(bearing))
        stepped = receiver.lie(lasts_s, off)
        assert {point.fix_state for point in stepped} == {FixState.JUMPED}
        back = receiver.lie(30.0)
        assert {point.fix_state for point in back} == {FixState.TAKEN}
        assert farthest_m(stepped + back) < 2.0

    @pytest.mark.parametrize("every_s", [0.1, 1.0, 2.0, 5.0])
    def test_a_step_is_refused_at_any_usual_rate_of_fixes(self, every_s: float) -> None:
        receiver = Receiver()
        receiver.lie(120.0, every_s=every_s)
        assert farthest_m(receiver.lie(60.0, (30.0, -20.0), every_s=every_s)) < 2.0

    @given(size_m=st.floats(0.5, 9.0), lasts_s=st.integers(10, 90))
    @settings(deadline=None, max_examples=20)
    def test_a_smaller_step_is_the_receivers_own_wander_and_moves_the_track_by_no_more(
        self, size_m: float, lasts_s: int
    ) -> None:
        """It can be told from a boat that moved by nothing; the drag circle allows for it."""
        receiver = Receiver()
        receiver.lie(120.0)
        assert farthest_m(receiver.lie(lasts_s, (0.0, size_m))) < size_m + 0.8

    def test_how_long_fixes_have_been_refused_is_said(self, settled: Receiver) -> None:
        points = settled.lie(31.0, (50.0, 0.0))
        assert [point.jumped_s for point in points] == pytest.approx(list(range(31)))
        assert settled.lie(1.0)[0].jumped_s == 0.0

    def test_the_error_grows_while_fixes_are_refused(self, settled: Receiver) -> None:
        points = settled.lie(100.0, (50.0, 0.0))
        assert points[-1].sigma_m > points[0].sigma_m + 2.0

    def test_doppler_carries_the_track_along_while_positions_are_refused(
        self, settled: Receiver
    ) -> None:
        """She really moves by 30 m while a reflection throws her position off by 60."""
        for t_s in range(1, 61):
            settled.fix(60.0, 0.5 * t_s, sog_mps=0.5, cog_deg=0.0)
        assert settled.points[-1].north_m == pytest.approx(30.0, abs=2.0)
        assert abs(settled.points[-1].east_m) < 2.0
        assert settled.fix(0.0, 30.5, sog_mps=0.5, cog_deg=0.0).fix_state is FixState.TAKEN

    def test_reckoning_that_has_drifted_finds_its_way_back(self, settled: Receiver) -> None:
        """A Doppler error of 0.07 m/s in 90 s is more than the plain gate, and is forgiven."""
        for t_s in range(1, 91):
            settled.fix(100.0, 0.0, sog_mps=0.07, cog_deg=90.0 if t_s % 2 else 91.0)
        assert settled.points[-1].east_m > GATE_M
        assert settled.lie(1.0)[0].fix_state is FixState.TAKEN

    def test_positions_that_jump_from_place_to_place_are_never_believed(
        self, settled: Receiver
    ) -> None:
        """Each new place begins its vigil anew."""
        for place in range(12):
            settled.lie(50.0, (40.0 + 30.0 * (place % 3), 25.0 * (place % 4)))
        assert {point.fix_state for point in settled.points[-600:]} == {FixState.JUMPED}


class TestBelief:
    """A step that stays is believed in the end, for it may be the track that is wrong."""

    def test_a_step_that_stays_is_believed_after_two_minutes(self, settled: Receiver) -> None:
        points = settled.lie(140.0, (40.0, 0.0))
        states = [point.fix_state for point in points]
        believed = states.index(FixState.REACQUIRED)
        assert believed == pytest.approx(PERSIST_S, abs=1.0)
        assert set(states[:believed]) == {FixState.JUMPED}
        assert set(states[believed + 1 :]) == {FixState.TAKEN}
        assert points[-1].east_m == pytest.approx(40.0, abs=1.0)

    def test_a_place_that_is_carried_along_by_doppler_is_the_same_place(
        self, settled: Receiver
    ) -> None:
        """She lies elsewhere and swings there: believed as soon as one that lies still."""
        path = straight(1.5, 45.0)
        states = []
        for t_s in range(130):
            east_m, north_m = path(t_s)
            states.append(settled.fix(90.0 + east_m, north_m, sog_mps=1.5, cog_deg=45.0).fix_state)
        assert states.index(FixState.REACQUIRED) == pytest.approx(PERSIST_S, abs=1.0)

    def test_she_does_not_ride_into_the_arms_of_a_reflection(self, settled: Receiver) -> None:
        """A receiver that gives no course at low speed cannot tell where she goes.

        The reflection comes nearer to where she was; only fixes that step back are hers again.
        """
        drifts = [settled.fix(15.0 - 0.3 * t_s, 0.0, sog_mps=0.3) for t_s in range(30)]
        assert {point.fix_state for point in drifts} == {FixState.JUMPED}
        assert settled.fix(-9.0, 0.0, sog_mps=0.3).fix_state is FixState.TAKEN

    def test_a_place_that_wanders_slowly_is_the_same_place(self, settled: Receiver) -> None:
        """The receiver's wander, or a drag too slow for Doppler, does not end the vigil."""
        states = [settled.fix(60.0 + 0.12 * t_s, sog_mps=0.0).fix_state for t_s in range(130)]
        assert states.index(FixState.REACQUIRED) == pytest.approx(PERSIST_S, abs=1.0)

    def test_a_receiver_that_held_its_position_and_lets_go_is_believed_sooner(
        self, settled: Receiver
    ) -> None:
        """Identical for half a minute, then 12 m off: that was the chip, and the boat moved."""
        for _ in range(30):
            settled.fix(0.0, 0.0, sog_mps=0.0)
        states = [settled.fix(12.0, 0.1 * i, sog_mps=0.0).fix_state for i in range(60)]
        assert states.index(FixState.REACQUIRED) == pytest.approx(HELD_PERSIST_S, abs=1)

    def test_a_reflection_that_begins_while_the_position_is_held_is_waited_for(
        self, settled: Receiver
    ) -> None:
        """Half a minute aside, no farther than a letting go, and back again: nobody moved."""
        for _ in range(30):
            settled.fix(0.0, 0.0, sog_mps=0.0)
        aside = [settled.fix(15.0, 0.1 * i, sog_mps=0.0) for i in range(30)]
        back = [settled.fix(0.0, 0.1 * i, sog_mps=0.0) for i in range(60)]
        assert max(math.hypot(point.east_m, point.north_m) for point in aside + back) < 7.0

    def test_a_step_that_its_speed_cannot_explain_is_a_jump_even_without_a_course(
        self, settled: Receiver
    ) -> None:
        """Making way with no course given the gate is wide, but not for what that way cannot be."""
        point = settled.fix(10.0, 0.0, sog_mps=0.4, cog_deg=None)
        assert point.fix_state is FixState.JUMPED

    def test_a_larger_step_is_no_letting_go(self, settled: Receiver) -> None:
        for _ in range(30):
            settled.fix(0.0, 0.0, sog_mps=0.0)
        points = [settled.fix(25.0, 0.2 * i, sog_mps=0.0) for i in range(60)]
        assert {point.fix_state for point in points} == {FixState.JUMPED}

    def test_a_position_that_was_not_held_is_not_let_go_of(self, settled: Receiver) -> None:
        points = settled.lie(60.0, (12.0, 0.0))
        assert {point.fix_state for point in points} == {FixState.JUMPED}

    @staticmethod
    def hops(settled: Receiver, *, hold_s: int = 8, hop_m: float = 8.0) -> list[TrackPoint]:
        """Drifting off at some 0.9 m/s behind a receiver that says she lies still."""
        return [
            settled.fix(hop_m * (1 + second // hold_s), 0.0, sog_mps=0.0)
            for second in range(8 * hold_s)
        ]

    def test_one_that_lets_go_again_and_again_the_same_way_is_believed_from_the_second_step(
        self, settled: Receiver
    ) -> None:
        """Each hold is too short to be told from a receiver at rest; the two of them are not."""
        for _ in range(8):
            settled.fix(0.0, 0.0, sog_mps=0.0)
        points = self.hops(settled)
        assert {point.fix_state for point in points[:8]} == {FixState.JUMPED}
        assert points[8].fix_state is FixState.REACQUIRED
        assert points[-1].east_m == pytest.approx(64.0, abs=1.0)

    def test_without_a_hold_between_its_steps_it_does_not(self, settled: Receiver) -> None:
        settled.lie(30.0)
        points = self.hops(settled, hold_s=3)
        assert {point.fix_state for point in points} == {FixState.JUMPED}

    @pytest.mark.parametrize("second", [(-16.0, 0.0), (2.0, 0.0), (24.0, 0.0)])
    def test_a_step_back_a_small_or_a_large_one_is_no_letting_go_again(
        self, settled: Receiver, second: tuple[float, float]
    ) -> None:
        """Reflections come and go, any receiver goes on by a metre, and none lets go of 24 m."""
        for _ in range(8):
            settled.fix(0.0, 0.0, sog_mps=0.0)
        points = [settled.fix(10.0, 0.0, sog_mps=0.0) for _ in range(8)]
        points += [settled.fix(10.0 + second[0], second[1], sog_mps=0.0) for _ in range(8)]
        assert {point.fix_state for point in points} == {FixState.JUMPED}

    def test_a_coarse_talker_at_rest_holds_nothing(self) -> None:
        """With three decimals of a minute a boat at rest repeats her position for minutes."""
        receiver = Receiver()
        for _ in range(150):
            receiver.fix(0.0, 0.0, quantum_m=1.85)
        points = [receiver.fix(12.0, 0.0, quantum_m=1.85) for _ in range(60)]
        assert {point.fix_state for point in points} == {FixState.JUMPED}

    def test_a_wild_first_fix_is_soon_corrected(self) -> None:
        """After a cold start the first fix may be anywhere; the next ones agree with each other."""
        receiver = Receiver()
        receiver.fix(150.0, -80.0)
        states = [point.fix_state for point in receiver.lie(20.0)]
        assert states.index(FixState.REACQUIRED) <= 11
        assert farthest_m(receiver.points[-5:]) < 2.0

    def test_a_track_that_was_reacquired_is_not_young(self, settled: Receiver) -> None:
        """It has a history: a step soon after is looked at as long as any."""
        settled.lie(125.0, (40.0, 0.0))
        points = settled.lie(60.0, (70.0, 0.0))
        assert {point.fix_state for point in points} == {FixState.JUMPED}


class TestMotion:
    """The boat's own motion is followed closely."""

    @pytest.mark.parametrize("every_s", [0.1, 1.0, 2.0])
    @pytest.mark.parametrize("course_deg", [0.0, 37.0, 143.0, 260.0])
    def test_a_boat_under_way_at_a_metre_a_second_is_followed_within_a_metre(
        self, course_deg: float, every_s: float
    ) -> None:
        receiver = Receiver()
        receiver.go(lambda _: (0.0, 0.0), 60.0, every_s=every_s, cog=False)
        assert receiver.go(straight(1.0, course_deg), 120.0, every_s=every_s) < 1.0
        assert FixState.JUMPED not in {point.fix_state for point in receiver.points}

    def test_sheering_about_is_followed_within_a_metre(self) -> None:
        """Half a metre a second and more, back and forth in a minute and a half."""

        def sheer(t_s: float) -> tuple[float, float]:
            angle = 0.5 * math.sin(2.0 * math.pi * t_s / 90.0)
            return 35.0 * math.sin(angle), -35.0 * math.cos(angle)

        receiver = Receiver()
        assert receiver.go(sheer, 600.0) < 1.0

    def test_a_boat_that_gathers_way_is_followed_between_sparse_fixes(self) -> None:
        """The mean of the speeds at both ends: exact where speed grows evenly."""
        receiver = Receiver()
        receiver.lie(60.0, sog_mps=0.0, cog_deg=None)
        assert receiver.go(lambda t_s: (0.01 * t_s * t_s, 0.0), 60.0, every_s=10.0) < 0.7

    def test_fixes_half_a_minute_apart_still_follow_her(self) -> None:
        receiver = Receiver()
        assert receiver.go(straight(1.0, 80.0), 900.0, every_s=30.0) < 1.0
        assert {point.fix_state for point in receiver.points[1:]} == {FixState.TAKEN}

    def test_fixes_half_a_minute_apart_still_refuse_a_step(self) -> None:
        receiver = Receiver()
        receiver.lie(600.0, every_s=30.0)
        stepped = receiver.lie(90.0, (40.0, 0.0), every_s=30.0)
        assert farthest_m(stepped) < 2.0
        stayed = receiver.lie(90.0, (40.0, 0.0), every_s=30.0)
        assert FixState.REACQUIRED in {point.fix_state for point in stayed}

    def test_a_creep_too_slow_for_doppler_passes(self) -> None:
        """0.02 m/s with a speed that reads zero: a slow drag must not be filtered away."""
        receiver = Receiver()
        receiver.lie(60.0, sog_mps=0.0, cog_deg=None)
        began_m = receiver.points[-1].east_m
        for t_s in range(1, 1201):
            point = receiver.fix(began_m + 0.02 * t_s, 0.0, sog_mps=0.0)
            assert point.fix_state is FixState.TAKEN
        assert point.east_m - began_m == pytest.approx(24.0, abs=0.5)


class TestMissingDoppler:
    """Receivers that leave out speed or course."""

    def test_without_speed_a_step_is_still_refused(self) -> None:
        receiver = Receiver()
        receiver.lie(120.0, sog_mps=None, cog_deg=None)
        assert farthest_m(receiver.lie(60.0, (30.0, 0.0), sog_mps=None, cog_deg=None)) < 2.0

    def test_without_speed_a_step_that_stays_is_believed_after_two_minutes(self) -> None:
        receiver = Receiver()
        receiver.lie(120.0, sog_mps=None, cog_deg=None)
        states = [
            point.fix_state
            for point in receiver.lie(130.0, (30.0, 0.0), sog_mps=None, cog_deg=None)
        ]
        assert states.index(FixState.REACQUIRED) == pytest.approx(PERSIST_S, abs=1.0)

    def test_without_speed_a_boat_that_moves_is_followed_some_metres_behind(self) -> None:
        receiver = Receiver()
        receiver.lie(60.0, sog_mps=None, cog_deg=None)
        assert receiver.go(straight(0.8, 120.0), 120.0, sog=False, cog=False) < 6.0
        assert FixState.JUMPED not in {point.fix_state for point in receiver.points}

    def test_without_course_a_boat_at_rest_is_as_safe_from_steps_as_with_it(self) -> None:
        """Many receivers leave the course out at rest and give a speed that is noise."""
        receiver = Receiver()
        receiver.lie(120.0, sog_mps=0.2, cog_deg=None)
        assert farthest_m(receiver.lie(60.0, (9.0, 0.0), sog_mps=0.2, cog_deg=None)) < 2.0

    @pytest.mark.parametrize("speed_mps", [0.4, 1.0])
    def test_without_course_a_boat_with_way_on_is_followed_and_not_refused(
        self, speed_mps: float
    ) -> None:
        """A speed that cannot be noise and no course is no reason to hold her where she was."""
        receiver = Receiver()
        receiver.lie(60.0, sog_mps=0.0, cog_deg=None)
        assert receiver.go(straight(speed_mps, 250.0), 180.0, cog=False) < 8.0
        assert FixState.JUMPED not in {point.fix_state for point in receiver.points}


class TestTrackPoint:
    """What a point says besides where."""

    @pytest.mark.parametrize(
        ("hdop", "sigma_m"), [(None, 2.5), (0.7, 2.5), (1.0, 2.5), (4.0, 10.0), (99.0, 50.0)]
    )
    def test_the_error_grows_with_the_dilution_up_to_twenty(
        self, hdop: float | None, sigma_m: float
    ) -> None:
        point = Receiver().fix(0.0, hdop=hdop, quantum_m=0.0)
        assert point.sigma_m == pytest.approx(sigma_m)

    def test_a_coarse_talker_has_a_larger_error(self) -> None:
        """A position cut to steps of q errs by up to q/2: q/sqrt(12) an axis is uniform noise."""
        point = Receiver().fix(0.0, quantum_m=18.5)
        assert point.sigma_m - 2.5 == pytest.approx(18.5 / math.sqrt(12.0), rel=0.05)

    def test_for_how_long_the_position_has_been_identical_is_said(self) -> None:
        receiver = Receiver()
        assert [receiver.fix(1.0).unchanged_s for _ in range(4)] == [0.0, 1.0, 2.0, 3.0]
        assert receiver.fix(1.0, 0.2).unchanged_s == 0.0
        assert receiver.fix(1.0, 0.2, after_s=30.0).unchanged_s == 30.0

    def test_a_place_believed_after_two_minutes_has_been_identical_as_long(self) -> None:
        receiver = Receiver()
        receiver.lie(120.0)
        points = [receiver.fix(60.0) for _ in range(130)]
        assert points[-1].unchanged_s == pytest.approx(129.0)

    def test_times_and_speeds_are_handed_on(self) -> None:
        point = Receiver().fix(3.0, 4.0, sog_mps=2.0, cog_deg=90.0)
        assert (point.time_s, point.mono_s) == (1.0, 5001.0)
        assert (point.east_mps, point.north_mps) == pytest.approx((2.0, 0.0))
        assert (point.east_m, point.north_m) == (3.0, 4.0)

    def test_a_speed_without_a_course_has_no_direction(self) -> None:
        point = Receiver().fix(0.0, sog_mps=2.0, cog_deg=None)
        assert (point.east_mps, point.north_mps) == (0.0, 0.0)


class TestGaps:
    """Silence, restarts, and a plane whose origin moves."""

    def test_after_a_long_gap_the_old_track_says_nothing(self, settled: Receiver) -> None:
        point = settled.fix(500.0, 300.0, after_s=MAX_GAP_S + 1.0)
        assert point.fix_state is FixState.REACQUIRED
        assert (point.east_m, point.north_m) == (500.0, 300.0)

    def test_after_a_short_gap_it_still_does(self, settled: Receiver) -> None:
        """Half a minute: she may be some metres off, but not fifty."""
        assert settled.fix(50.0, after_s=30.0).fix_state is FixState.JUMPED

    def test_a_boat_that_is_where_she_was_after_a_gap_is_taken(self, settled: Receiver) -> None:
        assert settled.fix(4.0, 3.0, after_s=200.0).fix_state is FixState.TAKEN

    def test_after_a_restart_the_next_fix_begins_the_track(self, settled: Receiver) -> None:
        settled.filter.restart()
        point = settled.fix(70.0)
        assert point.fix_state is FixState.REACQUIRED
        assert point.east_m == 70.0

    def test_two_fixes_of_the_same_instant_do_no_harm(self, settled: Receiver) -> None:
        before = settled.points[-1]
        again = settled.fix(2.0, 2.0, after_s=0.0)
        assert (again.east_m, again.north_m) == pytest.approx((before.east_m, before.north_m))

    @pytest.mark.parametrize("at_s", [60, 150, 200])
    def test_moving_the_planes_origin_changes_nothing_else(self, at_s: int) -> None:
        """Before, in and after a step: the same track, counted from another origin."""
        plain, moved = Receiver(), Receiver()
        shift = (0.0, 0.0)
        for t_s in range(400):
            if t_s == at_s:
                shift = (340.0, -220.0)
                moved.filter.shift_plane(*shift)
            east_m, north_m = wander(t_s)
            if 140 <= t_s < 290:
                east_m += 45.0
            one = plain.fix(east_m, north_m, sog_mps=0.1, cog_deg=10.0)
            two = moved.fix(east_m - shift[0], north_m - shift[1], sog_mps=0.1, cog_deg=10.0)
            assert two.fix_state is one.fix_state
            assert two.east_m + shift[0] == pytest.approx(one.east_m, abs=1e-6)
            assert two.north_m + shift[1] == pytest.approx(one.north_m, abs=1e-6)

    def test_a_position_is_still_held_where_moving_the_origin_has_rounded_it(
        self, settled: Receiver
    ) -> None:
        for _ in range(30):
            settled.fix(0.0, 0.0, sog_mps=0.0)
        settled.filter.shift_plane(340.0, -220.0)
        point = settled.fix(-340.000003, 219.999998, sog_mps=0.0)
        assert point.unchanged_s == pytest.approx(30.0)


PLACES = st.floats(-2e7, 2e7, allow_nan=False)
FIXES = st.tuples(
    st.floats(0.0, 90_000.0),
    PLACES,
    PLACES,
    st.floats(0.0, 2000.0),
    st.none() | st.floats(0.0, 1e4),
    st.none() | st.floats(0.0, 360.0),
    st.none() | st.floats(0.0, 1e4),
)


class TestWildInput:
    """Whatever a receiver says, the track is made of numbers."""

    @given(fixes=st.lists(FIXES, min_size=1, max_size=30))
    @settings(deadline=None)
    def test_any_finite_input_gives_a_finite_track_in_order_of_time(
        self,
        fixes: list[tuple[float, float, float, float, float | None, float | None, float | None]],
    ) -> None:
        receiver, again = Receiver(), Receiver()
        for after_s, east_m, north_m, quantum_m, sog_mps, cog_deg, hdop in fixes:
            points = [
                each.fix(
                    east_m,
                    north_m,
                    after_s=after_s,
                    sog_mps=sog_mps,
                    cog_deg=cog_deg,
                    hdop=hdop,
                    quantum_m=quantum_m,
                )
                for each in (receiver, again)
            ]
            assert points[0] == points[1]  # the same input, the same track
        times = [point.time_s for point in receiver.points]
        assert times == sorted(times)
        for point in receiver.points:
            numbers = (point.east_m, point.north_m, point.east_mps, point.north_mps, point.sigma_m)
            assert all(math.isfinite(number) for number in numbers)
            assert point.sigma_m >= 2.5
            assert point.jumped_s >= 0.0
            assert point.unchanged_s >= 0.0
            assert (point.jumped_s > 0.0) <= (point.fix_state is FixState.JUMPED)
