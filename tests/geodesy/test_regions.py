"""Regions and GeoJSON. The expected forms are those of RFC 7946."""

import json
import math
from typing import Any

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, Polygon, shape

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.geodesy.regions import (
    circle_region,
    feature,
    feature_collection,
    point_to_geojson,
    region_to_geojson,
    swept_region,
    track_to_geojson,
)

PELLOW_SOUND = Position(46.5, -31.2)


def _rings(geometry: dict[str, Any]) -> list[list[list[float]]]:
    """Return the exterior rings of a GeoJSON polygon or multipolygon."""
    coordinates = geometry["coordinates"]
    polygons = [coordinates] if geometry["type"] == "Polygon" else coordinates
    return [polygon[0] for polygon in polygons]


def _ellipsoidal_area_m2(ring: list[list[float]]) -> float:
    """Signed area by geographiclib: positive where the ring runs counter-clockwise."""
    polygon = Geodesic.WGS84.Polygon()
    for lon_deg, lat_deg in ring[:-1]:
        polygon.AddPoint(lat_deg, lon_deg)
    area: float = polygon.Compute(reverse=False, sign=True)[2]
    return area


@given(st.floats(0.5, 5000.0), st.floats(-500.0, 500.0), st.floats(-500.0, 500.0))
def test_a_circle_has_its_area_and_radius_to_a_thousandth(
    radius_m: float, east_m: float, north_m: float
) -> None:
    region = circle_region(radius_m, centre=(east_m, north_m))
    assert region.area == pytest.approx(math.pi * radius_m**2, rel=1e-3)
    rim = region.exterior
    for bearing in range(0, 360, 7):
        at = math.radians(bearing)
        on_circle = Point(east_m + radius_m * math.cos(at), north_m + radius_m * math.sin(at))
        assert rim.distance(on_circle) < 1e-3 * radius_m


@pytest.mark.parametrize("radius_m", [0.0, -3.0, math.nan, math.inf])
def test_a_circle_without_a_radius_is_refused(radius_m: float) -> None:
    with pytest.raises(UserInputError, match="cannot be drawn"):
        circle_region(radius_m)


def test_a_swept_region_is_the_hull_of_the_track() -> None:
    """A square and what lies inside it: the hull is the square."""
    track = [(0.0, 0.0), (5.0, 5.0), (10.0, 0.0), (10.0, 10.0), (3.0, 7.0), (0.0, 10.0)]
    assert swept_region(track).equals(Polygon([(0, 0), (10, 0), (10, 10), (0, 10)]))


def test_a_swept_region_of_flat_tracks_has_their_shape() -> None:
    assert swept_region([(1.0, 2.0)]).geom_type == "Point"
    assert swept_region([(1.0, 2.0), (3.0, 4.0), (2.0, 3.0)]).geom_type == "LineString"
    with pytest.raises(UserInputError, match="at least one place"):
        swept_region([])


@given(
    lat_deg=st.floats(-80.0, 80.0),
    lon_deg=st.one_of(st.floats(-180.0, 180.0), st.floats(179.999, 180.001)),
    radius_m=st.floats(10.0, 500.0),
)
def test_a_circle_as_geojson_keeps_to_rfc_7946_anywhere(
    lat_deg: float, lon_deg: float, radius_m: float
) -> None:
    """Oracle: geographiclib's area on the ellipsoid, positive for counter-clockwise rings."""
    plane = LocalPlane(Position(lat_deg, lon_deg))
    geometry = region_to_geojson(circle_region(radius_m), plane)
    rings = _rings(geometry)
    areas_m2 = [_ellipsoidal_area_m2(ring) for ring in rings]
    assert min(areas_m2) > -1e-3  # 3.1.6: right-hand rule; a sliver may have no area
    assert sum(areas_m2) == pytest.approx(math.pi * radius_m**2, rel=1e-3)
    for ring in rings:
        assert ring[0] == ring[-1]  # 3.1.6: rings are closed
        longitudes = [corner[0] for corner in ring]
        assert -180.0 <= min(longitudes) <= max(longitudes) <= 180.0
        assert max(longitudes) - min(longitudes) < 1.0  # none is drawn round the world
    assert shape(geometry).is_valid


@pytest.mark.parametrize("lon_deg", [179.9999, -179.9999, 180.0, -180.0])
def test_a_circle_over_the_antimeridian_is_cut_in_two_there(lon_deg: float) -> None:
    """RFC 7946 section 3.1.9."""
    plane = LocalPlane(Position(-17.0, lon_deg))
    geometry = region_to_geojson(circle_region(60.0), plane)
    assert geometry["type"] == "MultiPolygon"
    spans = sorted((min(c[0] for c in ring), max(c[0] for c in ring)) for ring in _rings(geometry))
    assert len(spans) == 2
    (west, west_edge), (east_edge, east) = spans
    assert west == -180.0
    assert east == 180.0
    assert -180.0 < west_edge < -179.99
    assert 179.99 < east_edge < 180.0


def test_a_circle_away_from_the_antimeridian_is_one_polygon_through_its_rim() -> None:
    """Every corner is the radius from the anchor by geographiclib, to the millimetre written."""
    geometry = region_to_geojson(circle_region(60.0), LocalPlane(PELLOW_SOUND))
    assert geometry["type"] == "Polygon"
    for lon_deg, lat_deg in geometry["coordinates"][0]:
        line = Geodesic.WGS84.Inverse(PELLOW_SOUND.lat_deg, PELLOW_SOUND.lon_deg, lat_deg, lon_deg)
        assert line["s12"] == pytest.approx(60.0, abs=1.5e-3)


def test_a_hole_runs_the_other_way() -> None:
    """RFC 7946 section 3.1.6: interior rings are clockwise."""
    ring = circle_region(60.0).difference(circle_region(30.0))
    geometry = region_to_geojson(ring, LocalPlane(PELLOW_SOUND))
    outer, hole = geometry["coordinates"]
    assert _ellipsoidal_area_m2(outer) > 0.0
    assert _ellipsoidal_area_m2(hole) == pytest.approx(-math.pi * 30.0**2, rel=1e-3)


def test_a_flat_hull_becomes_a_line_or_a_point() -> None:
    plane = LocalPlane(PELLOW_SOUND)
    line = region_to_geojson(swept_region([(0.0, 0.0), (100.0, 0.0)]), plane)
    assert line["type"] == "LineString"
    assert len(line["coordinates"]) == 2
    point = region_to_geojson(swept_region([(0.0, 0.0)]), plane)
    assert point == {"type": "Point", "coordinates": [-31.2, 46.5]}


def test_a_shape_that_is_no_region_is_refused() -> None:
    with pytest.raises(UserInputError, match="MultiPolygon is no region"):
        region_to_geojson(MultiPolygon([circle_region(1.0)]), LocalPlane(PELLOW_SOUND))


def test_a_track_keeps_its_order_even_where_it_crosses_itself() -> None:
    places = [(46.5, -31.2), (46.501, -31.201), (46.5, -31.201), (46.501, -31.2)]
    geometry = track_to_geojson(Position(*place) for place in places)
    assert geometry["type"] == "LineString"
    assert geometry["coordinates"] == [[lon, lat] for lat, lon in places]


@pytest.mark.parametrize("way", [1, -1])
def test_a_track_over_the_antimeridian_is_cut_in_two_there(way: int) -> None:
    """The example of RFC 7946 section 3.1.9 (given here from memory), sailed both ways."""
    track = [Position(45.0, 170.0), Position(45.0, -170.0)][::way]
    lines = [[[170.0, 45.0], [180.0, 45.0]], [[-180.0, 45.0], [-170.0, 45.0]]]
    expected = [line[::way] for line in lines][::way]
    assert track_to_geojson(track) == {"type": "MultiLineString", "coordinates": expected}


def test_a_slanting_leg_is_cut_at_the_latitude_where_it_crosses() -> None:
    geometry = track_to_geojson([Position(10.0, 179.9), Position(14.0, -179.7)])
    assert geometry["coordinates"] == [
        [[179.9, 10.0], [180.0, 11.0]],
        [[-180.0, 11.0], [-179.7, 14.0]],
    ]


@pytest.mark.parametrize("way", [1, -1])
def test_a_place_on_the_antimeridian_ends_both_lines_once(way: int) -> None:
    track = [Position(10.0, -179.0), Position(10.0, -180.0), Position(10.0, 179.0)][::way]
    lines = [[[-179.0, 10.0], [-180.0, 10.0]], [[180.0, 10.0], [179.0, 10.0]]]
    expected = [line[::way] for line in lines][::way]
    assert track_to_geojson(track) == {"type": "MultiLineString", "coordinates": expected}


@given(
    st.lists(
        st.tuples(
            st.floats(-80.0, 80.0),
            st.one_of(st.sampled_from([-180.0, 179.99999999999997]), st.floats(179.99, 180.01)),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_no_leg_of_a_track_is_drawn_round_the_world(places: list[tuple[float, float]]) -> None:
    geometry = track_to_geojson(Position(*place) for place in places)
    kind, coordinates = geometry["type"], geometry["coordinates"]
    lines = {"Point": [], "LineString": [coordinates], "MultiLineString": coordinates}[kind]
    for line in lines:
        assert len(line) >= 2
        longitudes = [corner[0] for corner in line]
        assert -180.0 <= min(longitudes) <= max(longitudes) <= 180.0
        assert max(longitudes) - min(longitudes) < 0.1


def test_a_boat_that_has_not_moved_is_a_point() -> None:
    assert track_to_geojson([PELLOW_SOUND] * 3) == point_to_geojson(PELLOW_SOUND)
    with pytest.raises(UserInputError, match="at least one place"):
        track_to_geojson([])


def test_features_make_a_document_that_json_can_write() -> None:
    document = feature_collection(
        [
            feature(point_to_geojson(PELLOW_SOUND), {"name": "anchor"}),
            feature(region_to_geojson(circle_region(40.0), LocalPlane(PELLOW_SOUND))),
        ]
    )
    read = json.loads(json.dumps(document, allow_nan=False))
    assert read["type"] == "FeatureCollection"
    assert [part["type"] for part in read["features"]] == ["Feature", "Feature"]
    assert read["features"][0]["properties"] == {"name": "anchor"}
    assert read["features"][1]["properties"] == {}
    assert read["features"][0]["geometry"]["coordinates"] == [-31.2, 46.5]
