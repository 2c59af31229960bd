"""The circle detector: outside the drag circle for long enough, the anchor has moved."""

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from driftlead.tackle.drag_circle import DragCircle, drag_circle
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.circle_detector import CircleDetector
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement, Reason, Verdict
from driftlead.watch.settings import DetectorSettings

Point = Callable[..., TrackPoint]
INSTRUMENTS = Instruments()
ORIGIN = AnchorInPlane(0.0, 0.0, 0.0)
PLAIN = DetectorSettings(dwell_s=30.0, floor_m=25.0, floor_dwell_s=8.0, sigmas=2.0)


def circle_of(
    rode_m: float = 40.0,
    depth_m: float | None = 6.0,
    *,
    antenna_aft_m: float = 8.0,
    rode_slack: float = 0.0,
) -> DragCircle:
    """A drag circle without the fixes' error, as a detector is armed with."""
    return drag_circle(
        rode_m=rode_m,
        depth_m=depth_m,
        bow_height_m=1.0,
        antenna_aft_m=antenna_aft_m,
        rode_slack=rode_slack,
        sigma_m=0.0,
        sigmas=0.0,
    )


def armed(
    circle: DragCircle | None,
    *,
    anchor: AnchorInPlane = ORIGIN,
    settings: DetectorSettings = PLAIN,
    whole_rode: bool = False,
) -> CircleDetector:
    """A detector that watches an anchor at the origin."""
    detector = CircleDetector(settings)
    detector.arm(anchor, circle, whole_rode=whole_rode)
    return detector


CIRCLE = circle_of()
NOMINAL_M = math.sqrt(40.0**2 - 7.0**2) + 8.0
RADIUS_M = NOMINAL_M + 2.0 * 2.5
"""The fixes of these tests have an error of 2.5 m, and the circle is widened by two of them."""


def stay(
    detector: CircleDetector, point: Point, east_m: float, lasts_s: float, began_s: float = 0.0
) -> list[Judgement]:
    """Lie at one place, a fix each second, the first at ``began_s``."""
    return [
        detector.judge(point(began_s + t_s, east_m), INSTRUMENTS)
        for t_s in range(round(lasts_s) + 1)
    ]


class TestCircle:
    """The radius."""

    def test_without_depth_or_allowance_it_is_the_handbook_form(self, point: Point) -> None:
        """NAVEDTRA 14221: rode out plus hawse to the point that is fixed."""
        settings = DetectorSettings(sigmas=0.0)
        detector = armed(circle_of(45.0, None), settings=settings)
        assert detector.judge(point(0.0, 10.0), INSTRUMENTS).radius_m == pytest.approx(53.0)

    def test_with_the_depth_the_rode_counts_by_its_bar_taut_reach(self, point: Point) -> None:
        detector = armed(CIRCLE, settings=DetectorSettings(sigmas=0.0))
        judged = detector.judge(point(0.0, 10.0), INSTRUMENTS)
        assert judged.radius_m == pytest.approx(NOMINAL_M)

    def test_it_is_widened_by_the_errors_of_fix_and_anchor_together(self, point: Point) -> None:
        """Two standard errors of sqrt(3^2 + 4^2)."""
        detector = armed(CIRCLE, anchor=AnchorInPlane(0.0, 0.0, 4.0))
        judged = detector.judge(point(0.0, 10.0, sigma_m=3.0), INSTRUMENTS)
        assert judged.radius_m == pytest.approx(NOMINAL_M + 2.0 * 5.0)

    def test_it_is_widened_by_the_rodes_slack(self, point: Point) -> None:
        detector = armed(circle_of(rode_slack=0.1), settings=DetectorSettings(sigmas=0.0))
        judged = detector.judge(point(0.0, 10.0), INSTRUMENTS)
        assert judged.radius_m == pytest.approx(math.sqrt(44.0**2 - 7.0**2) + 8.0)

    def test_it_lies_round_the_anchor_and_not_round_the_origin(self, point: Point) -> None:
        detector = armed(CIRCLE, anchor=AnchorInPlane(300.0, -200.0, 0.0))
        judged = detector.judge(point(0.0, 330.0, -160.0), INSTRUMENTS)
        assert judged.distance_m == pytest.approx(50.0)
        assert judged.bearing_deg == pytest.approx(math.degrees(math.atan2(3, 4)))
        assert judged.verdict is Verdict.HOLDING


class TestDwell:
    """For how long she must be outside."""

    def test_inside_she_holds_however_long(self, point: Point) -> None:
        judged = stay(armed(CIRCLE), point, RADIUS_M - 0.1, 600)
        assert {each.verdict for each in judged} == {Verdict.HOLDING}
        assert {each.reason for each in judged} == {Reason.INSIDE_DRAG_CIRCLE}

    def test_outside_she_drags_from_the_dwell_on_and_not_before(self, point: Point) -> None:
        judged = stay(armed(CIRCLE), point, RADIUS_M + 0.1, 31)
        assert {each.verdict for each in judged[:30]} == {Verdict.UNSURE}
        assert {each.reason for each in judged[:30]} == {Reason.OUTSIDE_NOT_YET_LONG}
        assert {each.verdict for each in judged[30:]} == {Verdict.DRAGGING}
        assert {each.reason for each in judged[30:]} == {Reason.OUTSIDE_DRAG_CIRCLE}

    def test_far_outside_a_few_seconds_are_enough(self, point: Point) -> None:
        judged = stay(armed(CIRCLE), point, RADIUS_M + 25.1, 9)
        assert [each.verdict for each in judged] == [Verdict.UNSURE] * 8 + [Verdict.DRAGGING] * 2
        assert judged[-1].reason is Reason.FAR_OUTSIDE_DRAG_CIRCLE

    def test_not_quite_that_far_the_whole_dwell_is_wanted(self, point: Point) -> None:
        judged = stay(armed(CIRCLE), point, RADIUS_M + 24.9, 20)
        assert {each.verdict for each in judged} == {Verdict.UNSURE}

    def test_the_short_dwell_counts_from_when_she_came_that_far(self, point: Point) -> None:
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 5.0, 9)
        judged = stay(detector, point, RADIUS_M + 30.0, 9, began_s=10.0)
        assert [each.verdict for each in judged] == [Verdict.UNSURE] * 8 + [Verdict.DRAGGING] * 2

    def test_coming_back_from_far_outside_ends_the_short_dwell(self, point: Point) -> None:
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 30.0, 6)
        detector.judge(point(7.0, RADIUS_M + 5.0), INSTRUMENTS)
        judged = stay(detector, point, RADIUS_M + 30.0, 6, began_s=8.0)
        assert {each.verdict for each in judged} == {Verdict.UNSURE}

    def test_coming_back_inside_begins_the_dwell_anew(self, point: Point) -> None:
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 30.0, 6)
        stay(detector, point, RADIUS_M + 1.0, 15, began_s=7.0)
        detector.judge(point(23.0, RADIUS_M - 1.0), INSTRUMENTS)
        judged = stay(detector, point, RADIUS_M + 1.0, 29, began_s=24.0)
        assert {each.verdict for each in judged} == {Verdict.UNSURE}

    def test_fixes_half_a_minute_apart_need_two_of_them(self, point: Point) -> None:
        detector = armed(CIRCLE)
        verdicts = [
            detector.judge(point(t_s, RADIUS_M + 1.0), INSTRUMENTS).verdict for t_s in (0, 30)
        ]
        assert verdicts == [Verdict.UNSURE, Verdict.DRAGGING]


class TestJump:
    """A fix the filter refused neither proves nor disproves."""

    def test_it_begins_no_dwell(self, point: Point) -> None:
        """Doppler alone has carried the track out: a wrong speed must not wake the crew."""
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M - 1.0, 10)
        for t_s in range(11, 120):
            jumped = point(t_s, RADIUS_M + 40.0, fix_state=FixState.JUMPED)
            judged = detector.judge(jumped, INSTRUMENTS)
            assert (judged.verdict, judged.reason) == (
                Verdict.UNSURE,
                Reason.OUTSIDE_NOT_YET_LONG,
            )
        taken = detector.judge(point(120.0, RADIUS_M + 40.0), INSTRUMENTS)
        assert taken.verdict is Verdict.UNSURE

    def test_it_does_not_end_a_dwell_from_inside(self, point: Point) -> None:
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 1.0, 20)
        inside = point(21.0, RADIUS_M - 5.0, fix_state=FixState.JUMPED)
        assert detector.judge(inside, INSTRUMENTS).verdict is Verdict.HOLDING
        judged = stay(detector, point, RADIUS_M + 1.0, 8, began_s=22.0)
        assert judged[-1].verdict is Verdict.DRAGGING

    def test_a_dwell_that_believed_fixes_began_runs_on(self, point: Point) -> None:
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 1.0, 10)
        verdicts = [
            detector.judge(
                point(t_s, RADIUS_M + 2.0, fix_state=FixState.JUMPED), INSTRUMENTS
            ).verdict
            for t_s in range(11, 31)
        ]
        assert verdicts == [Verdict.UNSURE] * 19 + [Verdict.DRAGGING]

    def test_it_neither_begins_nor_ends_the_short_dwell(self, point: Point) -> None:
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 2.0, 2)
        for t_s in range(3, 13):
            far = point(t_s, RADIUS_M + 40.0, fix_state=FixState.JUMPED)
            assert detector.judge(far, INSTRUMENTS).verdict is Verdict.UNSURE
        stay(detector, point, RADIUS_M + 40.0, 4, began_s=13.0)
        near = point(18.0, RADIUS_M + 2.0, fix_state=FixState.JUMPED)
        assert detector.judge(near, INSTRUMENTS).verdict is Verdict.UNSURE
        judged = stay(detector, point, RADIUS_M + 40.0, 2, began_s=19.0)
        assert judged[-1].verdict is Verdict.DRAGGING

    def test_a_first_fix_far_off_that_the_next_contradicts_wakes_nobody(self, point: Point) -> None:
        """After a cold start the first fix may be wild: the ones that follow then jump."""
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 1.0, 10, began_s=-20.0)
        stay(detector, point, RADIUS_M - 1.0, 5, began_s=-9.0)
        wild = point(0.0, RADIUS_M + 200.0, fix_state=FixState.REACQUIRED)
        assert detector.judge(wild, INSTRUMENTS).verdict is Verdict.UNSURE
        for t_s in range(1, 60):
            refused = point(t_s, RADIUS_M + 200.0, fix_state=FixState.JUMPED)
            assert detector.judge(refused, INSTRUMENTS).verdict is Verdict.UNSURE

    def test_a_first_fix_outside_that_the_next_confirms_counts(self, point: Point) -> None:
        detector = armed(CIRCLE)
        detector.judge(point(0.0, RADIUS_M + 1.0, fix_state=FixState.REACQUIRED), INSTRUMENTS)
        judged = stay(detector, point, RADIUS_M + 1.0, 29, began_s=1.0)
        assert judged[-1].verdict is Verdict.DRAGGING

    def test_fixes_so_sparse_that_each_begins_anew_still_find_a_drag(self, point: Point) -> None:
        """One in six minutes, as some ships' transponders give at anchor."""
        detector = armed(CIRCLE)
        for t_s in (0.0, 360.0):
            sparse = point(t_s, RADIUS_M + 50.0, fix_state=FixState.REACQUIRED)
            judged = detector.judge(sparse, INSTRUMENTS)
        assert judged.verdict is Verdict.DRAGGING


class TestFigures:
    """What a judgement says besides the verdict."""

    def test_the_anchor_has_moved_by_at_least_what_the_rode_does_not_explain(
        self, point: Point
    ) -> None:
        judged = stay(armed(circle_of(rode_slack=0.1)), point, 120.0, 9)[-1]
        assert judged.moved_m == pytest.approx(120.0 - NOMINAL_M)

    def test_inside_it_has_not_moved(self, point: Point) -> None:
        assert stay(armed(CIRCLE), point, 30.0, 0)[-1].moved_m == 0.0

    @pytest.mark.parametrize("bearing_deg", [0.0, 45.0, 180.0, 271.0, 359.9])
    def test_the_bearing_is_from_the_anchor_to_the_antenna(
        self, point: Point, bearing_deg: float
    ) -> None:
        bearing = math.radians(bearing_deg)
        where = point(0.0, 90.0 * math.sin(bearing), 90.0 * math.cos(bearing))
        judged = armed(CIRCLE).judge(where, INSTRUMENTS)
        assert judged.bearing_deg == pytest.approx(bearing_deg)
        assert judged.distance_m == pytest.approx(90.0)

    @given(
        east_m=st.floats(-1e5, 1e5),
        north_m=st.floats(-1e5, 1e5),
        sigma_m=st.floats(0.1, 200.0),
        anchor_sigma_m=st.floats(0.0, 500.0),
    )
    def test_confidence_is_the_normal_integral_of_the_excess(
        self, east_m: float, north_m: float, sigma_m: float, anchor_sigma_m: float
    ) -> None:
        """Checked with scipy; always a chance, and a bearing always from 0 up to 360."""
        detector = armed(CIRCLE, anchor=AnchorInPlane(0.0, 0.0, anchor_sigma_m))
        point = TrackPoint(0.0, 0.0, east_m, north_m, sigma_m, 0.0, 0.0, FixState.TAKEN, 0.0, 0.0)
        judged = detector.judge(point, INSTRUMENTS)
        excess = (math.hypot(east_m, north_m) - NOMINAL_M) / math.hypot(sigma_m, anchor_sigma_m)
        assert judged.confidence == pytest.approx(norm.cdf(excess), abs=1e-9)
        assert 0.0 <= judged.confidence <= 1.0
        assert 0.0 <= judged.bearing_deg < 360.0

    def test_a_drag_is_told_with_confidence(self, point: Point) -> None:
        """Two standard errors beyond: 0.977."""
        judged = stay(armed(CIRCLE), point, RADIUS_M + 0.01, 30)[-1]
        assert judged.verdict is Verdict.DRAGGING
        assert judged.confidence >= norm.cdf(2.0)


def drift(
    detector: CircleDetector, point: Point, rate_mps: float, *, still_s: float = 300.0
) -> list[Judgement]:
    """Lie inside, then drift outwards with the yaw and wander of a real track until found."""
    judged: list[Judgement] = []
    t_s, out_m = -still_s, 0.0
    while not judged or judged[-1].verdict is not Verdict.DRAGGING:
        t_s += 1.0
        out_m = max(0.0, rate_mps * t_s)
        angle = 0.3 * math.sin(t_s / 14.0)
        distance_m = 44.0 + out_m + 0.3 * math.sin(t_s / 19.0)
        where = point(t_s, distance_m * math.sin(angle), distance_m * math.cos(angle))
        judged.append(detector.judge(where, INSTRUMENTS))
        assert t_s < 2000.0, "no drag found"
    return judged


class TestRate:
    """How fast she drifts."""

    @pytest.mark.parametrize("rate_mps", [0.1, 0.2, 0.5, 1.0, 2.0])
    def test_it_is_within_a_tenth_of_a_drift_that_lasts(
        self, point: Point, rate_mps: float
    ) -> None:
        """The receiver wanders by 0.3 m meanwhile; whatever moment it is asked at."""
        detector = armed(CIRCLE)
        for t_s in range(400):
            out_m = 60.0 + rate_mps * t_s + 0.3 * math.sin(t_s / 19.0)
            judged = detector.judge(point(t_s, out_m), INSTRUMENTS)
            assert t_s < 90 or judged.rate_mps == pytest.approx(rate_mps, rel=0.1)

    @pytest.mark.parametrize("rate_mps", [0.1, 0.3, 0.6, 1.0])
    def test_it_is_near_the_truth_already_when_the_drag_is_found(
        self, point: Point, rate_mps: float
    ) -> None:
        """The time before she broke out is no part of it; sheering is averaged out."""
        judged = drift(armed(CIRCLE), point, rate_mps)[-1]
        assert judged.rate_mps == pytest.approx(rate_mps, rel=0.25)

    def test_coming_back_it_is_negative(self, point: Point) -> None:
        detector = armed(CIRCLE)
        for t_s in range(100):
            judged = detector.judge(point(t_s, 200.0 - 0.5 * t_s), INSTRUMENTS)
        assert judged.rate_mps == pytest.approx(-0.5, rel=0.1)

    def test_it_is_not_told_from_a_few_seconds(self, point: Point) -> None:
        detector = armed(CIRCLE)
        rates = [detector.judge(point(t_s, 100.0 + t_s), INSTRUMENTS).rate_mps for t_s in range(18)]
        assert rates[:15] == [None] * 15
        assert rates[15] == pytest.approx(1.0)

    def test_what_was_more_than_a_minute_and_a_half_ago_is_forgotten(self, point: Point) -> None:
        detector = armed(CIRCLE)
        for t_s in range(100):
            detector.judge(point(t_s, 100.0 + t_s), INSTRUMENTS)
        for t_s in range(100, 195):
            judged = detector.judge(point(t_s, 200.0), INSTRUMENTS)
        assert judged.rate_mps == pytest.approx(0.0, abs=0.01)


class TestRode:
    """A rode that is not known, or all there is, or changed."""

    def test_with_no_rode_known_nothing_can_be_told(self, point: Point) -> None:
        judged = stay(armed(None), point, 5000.0, 200)
        assert {each.verdict for each in judged} == {Verdict.UNSURE}
        assert {each.reason for each in judged} == {Reason.RODE_UNKNOWN}
        assert judged[-1].radius_m is None
        assert judged[-1].distance_m == pytest.approx(5000.0)
        assert judged[-1].confidence == pytest.approx(0.0, abs=1e-9)

    @pytest.mark.parametrize(("beyond_m", "lasts_s"), [(1.0, 30), (40.0, 8)])
    def test_farther_than_all_the_rode_aboard_she_drags_whatever_is_out(
        self, point: Point, beyond_m: float, lasts_s: int
    ) -> None:
        judged = stay(armed(CIRCLE, whole_rode=True), point, RADIUS_M + beyond_m, lasts_s)
        assert judged[-1].verdict is Verdict.DRAGGING
        assert judged[-1].reason is Reason.OUTSIDE_WHOLE_RODE
        assert judged[0].reason is Reason.OUTSIDE_NOT_YET_LONG

    def test_a_longer_rode_begins_anew_with_a_wider_circle(self, point: Point) -> None:
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 1.0, 29)
        detector.arm(ORIGIN, circle_of(50.0), whole_rode=False)
        inside = detector.judge(point(30.0, RADIUS_M + 1.0), INSTRUMENTS)
        assert inside.verdict is Verdict.HOLDING
        assert inside.radius_m == pytest.approx(math.sqrt(50.0**2 - 7.0**2) + 8.0 + 5.0)

    def test_the_dwell_begins_anew_when_she_is_outside_the_new_circle_too(
        self, point: Point
    ) -> None:
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 40.0, 7)
        detector.arm(ORIGIN, circle_of(41.0), whole_rode=False)
        judged = stay(detector, point, RADIUS_M + 40.0, 7, began_s=8.0)
        assert {each.verdict for each in judged} == {Verdict.UNSURE}
        assert judged[-1].rate_mps is None

    def test_an_anchor_whose_place_is_better_known_leaves_the_dwell_running(
        self, point: Point
    ) -> None:
        """Set late, its place is told anew three times a minute; no dwell would ever end."""
        detector = armed(CIRCLE)
        stay(detector, point, RADIUS_M + 6.0, 20)
        detector.refine(AnchorInPlane(2.0, 0.0, 0.0))
        judged = stay(detector, point, RADIUS_M + 6.0, 9, began_s=21.0)
        assert judged[-1].verdict is Verdict.DRAGGING
        assert judged[-1].distance_m == pytest.approx(RADIUS_M + 4.0)
        assert judged[-1].rate_mps == pytest.approx(0.0, abs=1e-6)
