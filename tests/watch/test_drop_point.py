"""The drop point is where the bow was, not where the antenna was.

NAVEDTRA 14221 (US Navy Quartermaster), chapter 12: from the fix at let go lay off along the ship's
head the distance from the point fixed to the hawse. Places are checked with geographiclib.
"""

import math
from typing import TYPE_CHECKING

import pytest
from attrs import evolve
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.nmea.observations import HeadingReport, North
from driftlead.watch.drop_point import drop_point

if TYPE_CHECKING:
    from tests.watch.conftest import Aboard

WGS84 = Geodesic.WGS84


@given(
    lat_deg=st.floats(-80.0, 80.0),
    lon_deg=st.floats(-180.0, 179.0),
    heading_deg=st.floats(0.0, 360.0),
    aft_m=st.floats(0.0, 40.0),
)
def test_the_bow_is_laid_off_along_the_head_as_geographiclib_has_it(
    lat_deg: float, lon_deg: float, heading_deg: float, aft_m: float
) -> None:
    antenna = Position(lat_deg, lon_deg)
    plane = LocalPlane(antenna)
    place, method = drop_point(
        east_m=0.0, north_m=0.0, sigma_m=2.5, antenna_aft_m=aft_m, heading=(heading_deg, 5.0)
    )
    bow = WGS84.Direct(antenna.lat_deg, antenna.lon_deg, heading_deg, aft_m)
    ours = plane.to_position(place.east_m, place.north_m)
    off = WGS84.Inverse(ours.lat_deg, ours.lon_deg, bow["lat2"], bow["lon2"])
    assert off["s12"] < 0.001
    assert method is AnchorMethod.MARKED


def test_a_heading_adds_only_the_error_across_it() -> None:
    """8 m at 5 degrees is 0.70 m across: half its variance in each axis."""
    place, _ = drop_point(
        east_m=10.0, north_m=-4.0, sigma_m=2.5, antenna_aft_m=8.0, heading=(0.0, 5.0)
    )
    across_m = 8.0 * math.sin(math.radians(5.0))
    assert place.sigma_m == pytest.approx(math.sqrt(2.5**2 + across_m**2 / 2.0))
    assert (place.east_m, place.north_m) == pytest.approx((10.0, 4.0))


def test_without_a_heading_the_fix_is_kept_and_the_bow_is_somewhere_around_it() -> None:
    """A circle of radius r has a variance of r squared over two in each axis."""
    place, method = drop_point(
        east_m=10.0, north_m=-4.0, sigma_m=2.5, antenna_aft_m=8.0, heading=None
    )
    assert (place.east_m, place.north_m) == (10.0, -4.0)
    assert place.sigma_m == pytest.approx(math.hypot(2.5, 8.0 / math.sqrt(2.0)))
    assert method is AnchorMethod.MARKED_NO_HEADING


class TestAtLetGo:
    """The same through the watch, with the instruments as they come in."""

    def test_the_anchor_lies_under_the_bow(self, aboard: "Aboard") -> None:
        """Heading 120: the bow is 8 m to the east-south-east of the antenna."""
        aboard.head(120.0)
        aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=6.0, drop=None)
        east_m, north_m = aboard.anchor_en_m
        assert east_m == pytest.approx(8.0 * math.sin(math.radians(120.0)), abs=0.4)
        assert north_m == pytest.approx(8.0 * math.cos(math.radians(120.0)), abs=0.4)
        anchor = aboard.watch.anchor
        assert anchor is not None
        assert anchor.method is AnchorMethod.MARKED
        assert anchor.sigma_m < 3.0

    def test_a_magnetic_heading_is_corrected_by_the_variation(self, aboard: "Aboard") -> None:
        """100 magnetic and 20 east is 120 true."""
        aboard.watch.instruments.hear_variation(20.0)
        aboard.head(100.0, North.MAGNETIC)
        aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=6.0, drop=None)
        assert aboard.anchor_en_m[0] == pytest.approx(8.0 * math.sin(math.radians(120.0)), abs=0.4)
        assert aboard.anchor_en_m[1] == pytest.approx(8.0 * math.cos(math.radians(120.0)), abs=0.4)

    def test_a_compass_that_knows_its_variation_needs_nobody_to_tell_it(
        self, aboard: "Aboard"
    ) -> None:
        report = HeadingReport("HC", 350.0, North.MAGNETIC, variation_deg=-15.0)
        aboard.watch.instruments.hear_heading(aboard.now_s, report)
        aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=6.0, drop=None)
        assert aboard.anchor_en_m[0] == pytest.approx(8.0 * math.sin(math.radians(335.0)), abs=0.4)

    def test_a_magnetic_heading_of_unknown_variation_is_less_sure(self, aboard: "Aboard") -> None:
        aboard.head(100.0, North.MAGNETIC)
        aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=6.0, drop=None)
        anchor = aboard.watch.anchor
        assert anchor is not None
        point = aboard.watch.point
        assert point is not None
        across_m = 8.0 * math.sin(math.radians(20.0))
        assert anchor.sigma_m == pytest.approx(math.hypot(point.sigma_m, across_m / math.sqrt(2)))

    def test_a_stale_heading_is_not_used(self, aboard: "Aboard") -> None:
        """She may have swung since: then the fix stands, and says that it is no more than that."""
        aboard.head(120.0)
        aboard.lie(6.0, 0.0)
        aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=6.0, drop=None)
        anchor = aboard.watch.anchor
        assert anchor is not None
        assert anchor.method is AnchorMethod.MARKED_NO_HEADING
        assert math.hypot(*aboard.anchor_en_m) < 0.5
        assert anchor.sigma_m > 5.6

    def test_the_true_heading_wins_over_a_magnetic_one_of_the_same_moment(
        self, aboard: "Aboard"
    ) -> None:
        aboard.head(120.0)
        aboard.head(100.0, North.MAGNETIC)
        aboard.watch.let_go(aboard.now_s, rode_m=None, depth_m=6.0, drop=None)
        assert aboard.anchor_en_m[0] == pytest.approx(8.0 * math.sin(math.radians(120.0)), abs=0.4)

    def test_an_antenna_on_the_bow_needs_no_heading(self, embark: "type[Aboard]") -> None:
        settings = embark().watch.settings
        boat = embark(evolve(settings, boat=evolve(settings.boat, antenna_aft_m=0.0)))
        boat.lie(30.0, 5.0, -3.0)
        boat.watch.let_go(boat.now_s, rode_m=None, depth_m=6.0, drop=None)
        assert boat.anchor_en_m == pytest.approx((5.0, -3.0), abs=0.5)
        anchor = boat.watch.anchor
        assert anchor is not None
        assert anchor.sigma_m == pytest.approx(2.5, abs=0.1)
