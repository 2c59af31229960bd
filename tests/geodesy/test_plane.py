"""The local plane against geographiclib, an independent geodesic solver in pure Python."""

import math

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import example, given
from hypothesis import strategies as st

from driftlead.geodesy.plane import (
    LocalPlane,
    distance_and_bearing,
    offset,
    wrap_bearing_deg,
)
from driftlead.geodesy.position import Position, wrap_lon_deg

MM = 1e-3
latitudes = st.one_of(
    st.floats(-89.9, 89.9), st.floats(-0.01, 0.01), st.sampled_from([-80.0, 80.0])
)
longitudes = st.one_of(st.floats(-180.0, 180.0), st.floats(179.99, 180.01))
bearings = st.floats(0.0, 360.0)


def _gap_m(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    gap: float = Geodesic.WGS84.Inverse(lat1, lon1, lat2, lon2)["s12"]
    return gap


@pytest.mark.parametrize(
    ("lat_deg", "latitude_minute_m", "longitude_minute_m"),
    [
        (0.0, 1842.905, 1855.325),
        (37.0, 1849.627, 1483.528),
        (50.0, 1853.818, 1194.929),
        (60.0, 1856.872, 930.000),
    ],
)
def test_a_minute_of_latitude_and_of_longitude_has_its_length(
    lat_deg: float, latitude_minute_m: float, longitude_minute_m: float
) -> None:
    """A minute of arc on WGS84's meridian and parallel, from its radii of curvature M and N."""
    plane = LocalPlane(Position(lat_deg, -31.2))
    half = 0.5 / 60.0
    north = plane.to_plane(lat_deg + half, -31.2)[1] - plane.to_plane(lat_deg - half, -31.2)[1]
    east = plane.to_plane(lat_deg, -31.2 + half)[0] - plane.to_plane(lat_deg, -31.2 - half)[0]
    assert north == pytest.approx(latitude_minute_m, abs=0.6 * MM)
    assert east == pytest.approx(longitude_minute_m, abs=0.6 * MM)


@pytest.mark.parametrize(("decimals", "step_m"), [(4, 0.185), (3, 1.85), (2, 18.5)])
def test_the_last_digit_of_a_talkers_minutes_is_a_known_step(decimals: int, step_m: float) -> None:
    """0.0001' north is 0.185 m: a sea mile is a minute, so this can be reckoned by hand."""
    plane = LocalPlane(Position(46.5, -31.2))
    _, north_m = plane.to_plane(46.5 + 10.0**-decimals / 60.0, -31.2)
    assert north_m == pytest.approx(step_m, rel=0.005)


@given(lat_deg=latitudes, lon_deg=longitudes, bearing_deg=bearings, distance_m=st.floats(0.0, 5e3))
@example(lat_deg=0.0, lon_deg=180.0, bearing_deg=90.0, distance_m=1000.0)
@example(lat_deg=0.0, lon_deg=-180.0, bearing_deg=225.0, distance_m=1000.0)
@example(lat_deg=89.99, lon_deg=10.0, bearing_deg=3.0, distance_m=5000.0)
@example(lat_deg=-80.0, lon_deg=10.0, bearing_deg=3.0, distance_m=5000.0)
def test_distance_and_bearing_from_the_origin_are_the_geodesics(
    lat_deg: float, lon_deg: float, bearing_deg: float, distance_m: float
) -> None:
    """Oracle: geographiclib. Asked for is 1 mm in 1 km; the plane gives 0.01 mm in 5 km."""
    plane = LocalPlane(Position(lat_deg, lon_deg))
    truth = Geodesic.WGS84.Direct(lat_deg, lon_deg, bearing_deg, distance_m)
    where = plane.to_plane(truth["lat2"], truth["lon2"])
    assert math.dist(where, offset(bearing_deg, distance_m)) < 0.01 * MM


@given(lat_deg=latitudes, lon_deg=longitudes, bearing_deg=bearings, distance_m=st.floats(0.0, 5e3))
@example(lat_deg=0.0, lon_deg=180.0, bearing_deg=270.0, distance_m=1000.0)
@example(lat_deg=89.99, lon_deg=10.0, bearing_deg=3.0, distance_m=5000.0)
def test_a_point_of_the_plane_goes_back_to_the_place_the_geodesic_reaches(
    lat_deg: float, lon_deg: float, bearing_deg: float, distance_m: float
) -> None:
    """Oracle: geographiclib."""
    plane = LocalPlane(Position(lat_deg, lon_deg))
    truth = Geodesic.WGS84.Direct(lat_deg, lon_deg, bearing_deg, distance_m)
    back = plane.to_lat_lon(*offset(bearing_deg, distance_m))
    assert -180.0 <= back[1] < 180.0
    assert _gap_m(truth["lat2"], truth["lon2"], *back) < 0.01 * MM


@given(lat_deg=latitudes, lon_deg=longitudes, bearing_deg=bearings)
def test_fifty_kilometres_off_the_plane_is_still_good_to_a_centimetre(
    lat_deg: float, lon_deg: float, bearing_deg: float
) -> None:
    plane = LocalPlane(Position(lat_deg, lon_deg))
    truth = Geodesic.WGS84.Direct(lat_deg, lon_deg, bearing_deg, 50e3)
    where = plane.to_plane(truth["lat2"], truth["lon2"])
    assert math.dist(where, offset(bearing_deg, 50e3)) < 0.01


@given(latitudes, longitudes, st.floats(-20e3, 20e3), st.floats(-20e3, 20e3))
def test_there_and_back_is_the_same_place(
    lat_deg: float, lon_deg: float, east_m: float, north_m: float
) -> None:
    plane = LocalPlane(Position(lat_deg, lon_deg))
    again = plane.to_plane(*plane.to_lat_lon(east_m, north_m))
    assert math.dist(again, (east_m, north_m)) < 0.001 * MM


@given(
    lat_deg=latitudes,
    bearing1_deg=bearings,
    bearing2_deg=bearings,
    distance1_m=st.floats(0.0, 1e3),
    distance2_m=st.floats(0.0, 1e3),
)
def test_between_two_points_the_plane_keeps_the_distance_too(
    lat_deg: float,
    bearing1_deg: float,
    bearing2_deg: float,
    distance1_m: float,
    distance2_m: float,
) -> None:
    """Oracle: geographiclib. Within 1 km of the origin; 0.01 mm."""
    plane = LocalPlane(Position(lat_deg, -31.2))
    a, b = offset(bearing1_deg, distance1_m), offset(bearing2_deg, distance2_m)
    true_m = _gap_m(*plane.to_lat_lon(*a), *plane.to_lat_lon(*b))
    assert math.dist(a, b) == pytest.approx(true_m, abs=0.01 * MM)


@given(
    lat_deg=latitudes,
    lon_deg=st.floats(-179.0, 179.0),
    dlat_deg=st.floats(-0.05, 0.05),
    dlon_deg=st.floats(-0.05, 0.05),
)
def test_the_mirrored_world_gives_the_mirrored_plane(
    lat_deg: float, lon_deg: float, dlat_deg: float, dlon_deg: float
) -> None:
    there = (lat_deg + dlat_deg, lon_deg + dlon_deg)
    east_m, north_m = LocalPlane(Position(lat_deg, lon_deg)).to_plane(*there)
    south = LocalPlane(Position(-lat_deg, lon_deg)).to_plane(-there[0], there[1])
    west = LocalPlane(Position(lat_deg, -lon_deg)).to_plane(there[0], -there[1])
    assert south == (east_m, -north_m)
    assert west == (-east_m, north_m)


@given(
    lat_deg=latitudes,
    shift_deg=st.floats(-180.0, 180.0),
    dlat_deg=st.floats(-0.05, 0.05),
    dlon_deg=st.floats(-0.05, 0.05),
)
def test_the_antimeridian_is_a_meridian_like_any_other(
    lat_deg: float, shift_deg: float, dlat_deg: float, dlon_deg: float
) -> None:
    here = LocalPlane(Position(lat_deg, 0.0)).to_plane(lat_deg + dlat_deg, dlon_deg)
    moved = LocalPlane(Position(lat_deg, shift_deg)).to_plane(
        lat_deg + dlat_deg, wrap_lon_deg(shift_deg + dlon_deg)
    )
    assert math.dist(here, moved) < 0.001 * MM


@given(latitudes, longitudes)
def test_the_origin_is_exactly_nought(lat_deg: float, lon_deg: float) -> None:
    origin = Position(lat_deg, lon_deg)
    plane = LocalPlane(origin)
    assert plane.to_plane(origin.lat_deg, origin.lon_deg) == (0.0, 0.0)
    assert plane.to_position(0.0, 0.0) == origin


@given(latitudes, longitudes, st.floats(-90.0, 90.0), longitudes)
def test_a_wild_fix_is_as_far_away_as_it_claims(
    lat_deg: float, lon_deg: float, wild_lat_deg: float, wild_lon_deg: float
) -> None:
    """Anywhere on earth, such as 0 N 0 E, a fix gives finite metres that are about right."""
    plane = LocalPlane(Position(lat_deg, lon_deg))
    distance_m = math.hypot(*plane.to_plane(wild_lat_deg, wild_lon_deg))
    true_m = _gap_m(lat_deg, lon_deg, wild_lat_deg, wild_lon_deg)
    assert distance_m == pytest.approx(true_m, rel=0.07, abs=MM)


def test_the_far_side_of_the_earth_is_not_taken_for_the_origin() -> None:
    distance_m = math.hypot(*LocalPlane(Position(0.0, 0.0)).to_plane(0.0, 180.0))
    assert distance_m == pytest.approx(20e6, rel=0.05)


@pytest.mark.parametrize(
    ("east_m", "north_m", "bearing_deg"),
    [
        (0.0, 5.0, 0.0),
        (5.0, 5.0, 45.0),
        (5.0, 0.0, 90.0),
        (0.0, -5.0, 180.0),
        (-5.0, 0.0, 270.0),
        (-5.0, 5.0, 315.0),
    ],
)
def test_bearings_run_clockwise_from_north(
    east_m: float, north_m: float, bearing_deg: float
) -> None:
    distance_m, bearing = distance_and_bearing(east_m, north_m)
    assert distance_m == pytest.approx(math.hypot(east_m, north_m))
    assert bearing == pytest.approx(bearing_deg)


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
@example(-1e-300, 1.0)
@example(-0.0, -0.0)
def test_a_bearing_and_distance_lay_off_to_where_they_were_measured(
    east_m: float, north_m: float
) -> None:
    distance_m, bearing_deg = distance_and_bearing(east_m, north_m)
    assert 0.0 <= bearing_deg < 360.0
    assert math.dist(offset(bearing_deg, distance_m), (east_m, north_m)) <= 1e-14 * distance_m * 10


@given(st.floats(-1e4, 1e4))
@example(-1e-20)
def test_a_wrapped_bearing_is_in_range(bearing_deg: float) -> None:
    wrapped = wrap_bearing_deg(bearing_deg)
    assert 0.0 <= wrapped < 360.0
    assert math.cos(math.radians(wrapped - bearing_deg)) == pytest.approx(1.0)
