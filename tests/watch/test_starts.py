"""Where the bank starts from: one anchor where it was marked, or a wheel of places if set late."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import vonmises

from driftlead.tackle.drag_circle import DragCircle
from driftlead.watch import starts
from driftlead.watch.bank import Start
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.starts import (
    POOR_MARK_M,
    late_starts,
    log_bearing,
    marked_start,
    poor_mark,
    reach_of,
)

Floats = NDArray[np.float64]

CIRCLE = DragCircle(reach_m=40.0, antenna_aft_m=8.0, rode_slack_m=3.0, allowance_m=0.0)


def weights(places: Sequence[Start]) -> Floats:
    """How likely each of them is."""
    weight: Floats = np.exp([each.log_weight for each in places])
    weight /= weight.sum()
    return weight


def middle(places: Sequence[Start]) -> tuple[float, float]:
    """Their weighted mean."""
    weight = weights(places)
    return (
        float(weight @ [each.east_m for each in places]),
        float(weight @ [each.north_m for each in places]),
    )


def covariance(place: Start) -> Floats:
    return np.array([[place.var_ee, place.var_en], [place.var_en, place.var_nn]])


class TestReach:
    """How far the rode lets her go."""

    @given(reach_m=st.floats(0.0, 200.0), slack_m=st.floats(0.0, 30.0))
    def test_it_is_what_was_said_and_part_of_the_slack_give_or_take_the_rest(
        self, reach_m: float, slack_m: float
    ) -> None:
        circle = DragCircle(
            reach_m=reach_m, antenna_aft_m=8.0, rode_slack_m=slack_m, allowance_m=0.0
        )
        mean_m, sigma_m = reach_of(circle)
        assert reach_m <= mean_m <= reach_m + slack_m
        assert sigma_m > 0.0
        # Said rightly, or all the slack used: neither is a surprise.
        assert abs(mean_m - reach_m) <= 2.0 * sigma_m
        assert abs(mean_m - reach_m - slack_m) <= 2.0 * sigma_m


class TestMarked:
    """Where it was marked or given."""

    @pytest.mark.parametrize("whole_rode", [False, True])
    @pytest.mark.parametrize("sigma_m", [0.0, 3.0, 12.0])
    def test_it_is_looked_for_where_it_was_marked(self, sigma_m: float, whole_rode: bool) -> None:
        """As surely as the mark, or less so where the mark may be bad; never to the inch."""
        places = marked_start(
            AnchorInPlane(7.0, -3.0, sigma_m), CIRCLE, whole_rode=whole_rode, receiver_m=0.0
        )
        likeliest = places[int(weights(places).argmax())]
        assert likeliest.var_ee == pytest.approx(max(starts.LEAST_SIGMA_M, sigma_m) ** 2)
        for place in places:
            assert (place.east_m, place.north_m) == (7.0, -3.0)
            assert (place.var_nn, place.var_en) == (place.var_ee, 0.0)
            assert place.var_ee >= likeliest.var_ee

    def test_the_receivers_part_of_the_error_is_not_counted_twice(self) -> None:
        """Of 5 m, 4 m are the receiver's: 3 m are left."""
        anchor = AnchorInPlane(0.0, 0.0, 5.0)
        places = marked_start(anchor, CIRCLE, whole_rode=False, receiver_m=4.0)
        assert min(place.var_ee for place in places) == pytest.approx(9.0)
        surer = marked_start(anchor, CIRCLE, whole_rode=False, receiver_m=7.0)
        assert min(place.var_ee for place in surer) > 0.0

    def test_all_the_rode_aboard_reaches_as_far_as_it_can(self) -> None:
        anchor = AnchorInPlane(0.0, 0.0, 5.0)
        said = marked_start(anchor, CIRCLE, whole_rode=False, receiver_m=0.0)
        aboard = marked_start(anchor, CIRCLE, whole_rode=True, receiver_m=0.0)
        assert {(each.reach_m, each.reach_sigma_m) for each in said} == {reach_of(CIRCLE)}
        assert {each.reach_m for each in aboard} == {43.0}


def wheel(toward_deg: float | None = None, *, at_bow: bool = True) -> tuple[Start, ...]:
    """About a boat 100 m east and 50 m south of the plane's origin."""
    return late_starts(
        east_m=100.0, north_m=-50.0, circle=CIRCLE, toward_deg=toward_deg, at_bow=at_bow
    )


class TestPoorMark:
    """A mark that says little more than that the anchor is near."""

    def test_it_is_a_matter_of_its_error(self) -> None:
        for sigma_m, poor in ((POOR_MARK_M - 0.1, False), (POOR_MARK_M + 0.1, True)):
            anchor = AnchorInPlane(20.0, 10.0, sigma_m)
            assert poor_mark(anchor, CIRCLE, east_m=0.0, north_m=0.0) is poor

    def test_a_boat_far_outside_is_not_lying_to_a_poor_mark(self) -> None:
        """She may have dragged there: to look for the anchor around her would hide it."""
        anchor = AnchorInPlane(0.0, 0.0, 20.0)
        assert poor_mark(anchor, CIRCLE, east_m=90.0, north_m=0.0)
        assert not poor_mark(anchor, CIRCLE, east_m=92.0, north_m=0.0)

    def test_of_the_places_around_the_boat_those_near_the_mark_are_likelier(self) -> None:
        """A mark 30 m west of a boat on 43 m of rode or so, good to 15 m."""
        mark = AnchorInPlane(70.0, -50.0, 15.0)
        plain = wheel()
        marked = late_starts(
            east_m=100.0, north_m=-50.0, circle=CIRCLE, toward_deg=None, at_bow=True, mark=mark
        )
        assert [each.east_m for each in marked] == [each.east_m for each in plain]
        assert abs(middle(plain)[0] - 100.0) < 1e-6
        east_m, north_m = middle(marked)
        assert 65.0 < east_m < 85.0
        assert north_m == pytest.approx(-50.0)
        for bare, told in zip(plain, marked, strict=True):
            off2 = (bare.east_m - 70.0) ** 2 + (bare.north_m + 50.0) ** 2
            var = 0.5 * float(np.trace(covariance(bare))) + 15.0**2
            assert told.log_weight - bare.log_weight == pytest.approx(-0.5 * off2 / var)


class TestLate:
    """The anchor lies somewhere within reach of the boat."""

    @pytest.mark.parametrize("at_bow", [True, False])
    def test_wherever_it_lies_one_of_the_places_is_near(self, at_bow: bool) -> None:
        """From a tenth of the reach to all of it and the slack, in all directions."""
        far_m = CIRCLE.reach_m + (0.0 if at_bow else CIRCLE.antenna_aft_m)
        places = wheel(at_bow=at_bow)
        inverses = [np.linalg.inv(covariance(place)) for place in places]
        for part in (0.1, 0.25, 0.5, 0.75, 1.0, 1.05):
            for bearing_rad in np.linspace(0.0, math.tau, 72):
                east_m = 100.0 + part * far_m * math.sin(bearing_rad)
                north_m = -50.0 + part * far_m * math.cos(bearing_rad)
                squares = []
                for place, inverse in zip(places, inverses, strict=True):
                    off = np.array([east_m - place.east_m, north_m - place.north_m])
                    squares.append(float(off @ inverse @ off))
                assert min(squares) < 2.5**2, (part, bearing_rad)

    @pytest.mark.parametrize("at_bow", [True, False])
    def test_none_of_them_is_out_of_reach(self, at_bow: bool) -> None:
        """The antenna may be farther from the anchor than the bow, by its distance from it."""
        far_m = reach_of(CIRCLE)[0] + (0.0 if at_bow else CIRCLE.antenna_aft_m)
        off_m = [math.hypot(p.east_m - 100.0, p.north_m + 50.0) for p in wheel(at_bow=at_bow)]
        assert 0.9 * far_m < max(off_m) <= far_m
        assert {each.reach_m for each in wheel(at_bow=at_bow)} == {reach_of(CIRCLE)[0]}

    def test_without_head_or_wind_every_direction_is_as_likely(self) -> None:
        assert middle(wheel()) == pytest.approx((100.0, -50.0))
        assert weights(wheel()).max() < 0.05

    @pytest.mark.parametrize("toward_deg", [0.0, 90.0, 213.0, 359.0])
    def test_with_a_head_it_is_looked_for_ahead(self, toward_deg: float) -> None:
        """And any other way is not excluded: she may lie to the tide."""
        east_m, north_m = middle(wheel(toward_deg))
        ahead_m = math.hypot(east_m - 100.0, north_m + 50.0)
        bearing_deg = math.degrees(math.atan2(east_m - 100.0, north_m + 50.0)) % 360.0
        off_deg = (bearing_deg - toward_deg + 180.0) % 360.0 - 180.0
        assert 0.4 * CIRCLE.reach_m < ahead_m < CIRCLE.reach_m
        assert abs(off_deg) < 3.0
        toward_rad = math.radians(toward_deg)
        astern = sum(
            weight
            for place, weight in zip(wheel(toward_deg), weights(wheel(toward_deg)), strict=True)
            if (place.east_m - 100.0) * math.sin(toward_rad)
            + (place.north_m + 50.0) * math.cos(toward_rad)
            < 0.0
        )
        assert 0.01 < astern < 0.3

    def test_each_is_drawn_out_along_its_bearing_or_across_and_a_true_covariance(self) -> None:
        for place in wheel():
            values, vectors = np.linalg.eigh(covariance(place))
            assert values.min() > 0.0
            along = np.array([place.east_m - 100.0, place.north_m + 50.0])
            along /= math.hypot(*along)
            assert np.abs(along @ vectors) == pytest.approx([0.0, 1.0], abs=1e-6) or np.abs(
                along @ vectors
            ) == pytest.approx([1.0, 0.0], abs=1e-6)


class TestBearing:
    """How well a bearing goes with the boat's head."""

    @given(bearing_deg=st.floats(-720.0, 720.0), toward_deg=st.floats(-720.0, 720.0))
    @settings(max_examples=60)
    def test_it_is_a_von_mises_density_above_any_bearing_at_all(
        self, bearing_deg: float, toward_deg: float
    ) -> None:
        """Held against scipy's, 1 at its best."""
        got = float(log_bearing(np.radians(np.array([bearing_deg])), toward_deg, any_way=0.2)[0])
        kappa = 1.0 / starts.HEADING_SPREAD_RAD**2
        off_rad = math.radians(bearing_deg - toward_deg)
        density = vonmises.pdf(off_rad, kappa) / vonmises.pdf(0.0, kappa)
        assert got == pytest.approx(math.log(0.2 + 0.8 * density), abs=1e-9)

    def test_the_farther_from_her_head_the_less_likely_and_never_excluded(self) -> None:
        off_rad = np.radians(np.arange(0.0, 181.0, 5.0))
        for side in (1.0, -1.0):
            log_weight = log_bearing(math.radians(40.0) + side * off_rad, 40.0)
            assert log_weight[0] == pytest.approx(0.0)
            assert (np.diff(log_weight) < 0.0).all()
            assert log_weight[-1] >= math.log(starts.ANY_WAY)
