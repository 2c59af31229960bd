"""What is known of the anchor that is down."""

import math

import pytest
from attrs import evolve

from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.watch.anchored import Anchored
from driftlead.watch.detector import MOVED_SIGMA_M, AnchorInPlane
from driftlead.watch.settings import BoatSettings, TackleSettings, WatchSettings

DROP = Position(46.5, -31.2)
ANCHORED = Anchored(
    drop=DROP,
    place=AnchorInPlane(0.0, 0.0, 3.0),
    method=AnchorMethod.MARKED,
    rode_m=40.0,
    depth_m=6.0,
)
SETTINGS = WatchSettings(
    boat=BoatSettings(bow_height_m=1.0, antenna_aft_m=8.0), tackle=TackleSettings(rode_slack=0.0)
)


def test_the_circle_is_the_reach_of_the_rode_and_the_antennas_distance_from_the_bow() -> None:
    """sqrt(40^2 - 7^2) + 8."""
    circle, whole_rode = ANCHORED.circle(SETTINGS)
    assert circle is not None
    assert circle.radius_m == pytest.approx(math.sqrt(40.0**2 - 7.0**2) + 8.0)
    assert circle.allowance_m == 0.0
    assert not whole_rode


def test_a_rode_that_may_be_longer_than_counted_widens_the_circle() -> None:
    settings = evolve(SETTINGS, tackle=TackleSettings(rode_slack=0.1))
    circle, _ = ANCHORED.circle(settings)
    assert circle is not None
    assert circle.radius_m == pytest.approx(math.sqrt(44.0**2 - 7.0**2) + 8.0)


def test_a_rode_that_was_never_told_counts_as_all_there_is_aboard() -> None:
    settings = evolve(SETTINGS, tackle=TackleSettings(rode_slack=0.0, rode_aboard_m=60.0))
    circle, whole_rode = evolve(ANCHORED, rode_m=None).circle(settings)
    assert circle is not None
    assert circle.radius_m == pytest.approx(math.sqrt(60.0**2 - 7.0**2) + 8.0)
    assert whole_rode


def test_a_rode_that_was_told_counts_and_not_what_is_aboard() -> None:
    settings = evolve(SETTINGS, tackle=TackleSettings(rode_slack=0.0, rode_aboard_m=60.0))
    circle, whole_rode = ANCHORED.circle(settings)
    assert circle is not None
    assert circle.reach_m == pytest.approx(math.sqrt(40.0**2 - 7.0**2))
    assert not whole_rode


def test_without_any_rode_there_is_no_circle() -> None:
    assert evolve(ANCHORED, rode_m=None).circle(SETTINGS) == (None, False)


def test_the_place_is_given_in_degrees_from_the_plane() -> None:
    plane = LocalPlane(DROP)
    estimate = evolve(ANCHORED, place=AnchorInPlane(30.0, -40.0, 3.0)).estimate(plane)
    assert plane.to_plane(estimate.lat_deg, estimate.lon_deg) == pytest.approx((30.0, -40.0))
    assert estimate.sigma_m == 3.0
    assert estimate.method is AnchorMethod.MARKED


def test_a_drag_carries_the_anchor_along_and_makes_its_place_less_sure() -> None:
    moved = ANCHORED.dragged_to(ANCHORED.place.carried(90.0, 100.0))
    assert (moved.place.east_m, moved.place.north_m) == pytest.approx((100.0, 0.0), abs=1e-9)
    assert moved.place.sigma_m == pytest.approx(math.sqrt(3.0**2 + MOVED_SIGMA_M**2 + 10.0**2))
    assert moved.method is AnchorMethod.MOVED


def test_a_drag_leaves_the_drop_point_and_the_tackle_as_they_were() -> None:
    moved = ANCHORED.dragged_to(ANCHORED.place.carried(200.0, 50.0))
    assert (moved.drop, moved.rode_m, moved.depth_m) == (DROP, 40.0, 6.0)
