"""What lies round an anchorage, read strictly from GeoJSON and TOML, and written again."""

import json
import math
import tomllib
from typing import Any

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.dangers import Danger
from driftlead.planning.neighbours import SPREAD_DEG, Boat, Gear, GivenCircle
from driftlead.planning.room import Around
from driftlead.planning.room_around import (
    around_document,
    around_from_geojson,
    around_from_toml,
)

PLANE = LocalPlane(Position(46.5012, -31.2034))


def point(lon: float = -31.2034, lat: float = 46.5021) -> dict[str, Any]:
    """A GeoJSON point some 100 m north of the drop point."""
    return {"type": "Point", "coordinates": [lon, lat]}


def polygon(*corners: tuple[float, float]) -> dict[str, Any]:
    """A closed GeoJSON polygon of corners in thousandths of a degree from the drop point."""
    ring = [[-31.2034 + east / 1000, 46.5012 + north / 1000] for east, north in corners]
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}


def document(properties: Any, geometry: Any = None) -> dict[str, Any]:
    """A document of one feature."""
    return {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": properties, "geometry": geometry or point()}
        ],
    }


def read(data: Any) -> Around:
    """Read a decoded document."""
    return around_from_geojson(data, file="around.geojson", plane=PLANE, depth_m=5.0)


def toml(text: str) -> Around:
    """Read TOML text."""
    return around_from_toml(tomllib.loads(text), file="around.toml", plane=PLANE, depth_m=5.0)


CHAIN = {"kind": "chain", "name": "Petrel", "rode_m": 35}


def test_a_boat_is_read_with_what_is_usual_where_nothing_is_said() -> None:
    """A third of her length in beam, the spread of her gear, the water we have ourselves."""
    (boat,) = read(document(CHAIN)).boats
    assert isinstance(boat, Boat)
    assert (boat.name, boat.gear, boat.rode_m, boat.depth_m) == ("Petrel", Gear.CHAIN, 35.0, 5.0)
    assert boat.beam_m == pytest.approx(boat.length_m / 3)
    assert boat.spread_deg == SPREAD_DEG[Gear.CHAIN]
    # 0.0009 degrees of latitude at 46.5 N: 60 * 0.0009 * 1852.7 m (WGS84 meridian radius).
    assert boat.north_m == pytest.approx(100.05, abs=0.05)
    assert boat.east_m == pytest.approx(0.0, abs=1e-6)


def test_a_boat_that_was_seen_has_her_anchor_ahead_of_her() -> None:
    """Heading east: as far east as her reach and half her length."""
    said = CHAIN | {"heading_deg": 90, "length_m": 12, "rode_m": 25, "depth_m": 6}
    (boat,) = read(document(said)).boats
    assert boat.east_m == pytest.approx(24.0 + 6.0)
    assert boat.north_m == pytest.approx(100.05, abs=0.05)


def test_dangers_are_points_lines_and_areas_and_many_of_a_kind() -> None:
    """A geometry of several parts is several dangers of one name."""
    rocks = {"type": "MultiPoint", "coordinates": [[-31.203, 46.502], [-31.204, 46.502]]}
    around = read(document({"kind": "rock", "name": "Teeth", "radius_m": 5}, rocks))
    assert [danger.name for danger in around.dangers] == ["Teeth", "Teeth"]
    assert all(danger.kind is DangerKind.ROCK for danger in around.dangers)
    assert around.dangers[0].shape.area == pytest.approx(math.pi * 25.0, rel=0.02)
    shoal = read(document({"kind": "shoal"}, polygon((0, 1), (1, 1), (1, 2)))).dangers[0]
    assert shoal.name == "shoal 1"
    # Half of 0.001 by 0.001 degrees: 111.16 m by 76.70 m at 46.5 N.
    assert shoal.shape.area == pytest.approx(0.5 * 111.16 * 76.70, rel=0.002)


BOW_TIE = polygon((0, 0), (1, 1), (1, 0), (0, 1))
BAD: list[tuple[Any, str]] = [
    ([], "this is no FeatureCollection"),
    ({"type": "Feature"}, "this is no FeatureCollection"),
    ({"type": "FeatureCollection"}, "features = None is no list"),
    ({"type": "FeatureCollection", "features": [3]}, "feature 1: 3 is no feature"),
    (document(None), "feature 1: properties = None"),
    (document({}), "feature 1: kind is missing"),
    (document({"kind": "catamaran"}), "feature 1: kind = 'catamaran' is not known here"),
    (document({"kind": ["chain"]}), "feature 1: kind = "),
    (document({"kind": "chain"}), r"feature 1 \(chain 1\): rode_m is missing"),
    (document(CHAIN | {"rode_m": "35m"}), r"\(Petrel\): rode_m = '35m' is not a number"),
    (document(CHAIN | {"rode_m": True}), "rode_m = True is not a number"),
    (document(CHAIN | {"rode_m": -3}), "rode_m = -3 is out of range"),
    (document(CHAIN | {"rode_m": math.inf}), "rode_m = inf is no measure"),
    (document(CHAIN | {"rode_m": 10**400}), "rode_m = a number of many digits is no measure"),
    (document(CHAIN | {"rode_m": 4}), "rode_m = 4 does not reach the bottom, 6.0 m below"),
    (document(CHAIN | {"spread_deg": 200}), "spread_deg = 200 is out of range"),
    (document(CHAIN | {"heading_deg": 400}), "heading_deg = 400 is out of range"),
    (document(CHAIN | {"lenght_m": 9}), "'lenght_m': there is no such key here"),
    (document(CHAIN | {"name": ""}), "name = '' is no name"),
    (document(CHAIN | {"name": "a\nb"}), "is no name"),
    (document({"kind": "circle"}), "circle_m is missing"),
    (document(CHAIN, polygon((0, 0), (1, 0), (1, 1))), "a boat is a point, not a Polygon"),
    (document(CHAIN, {"type": "Point"}), "coordinates None are no position"),
    (document(CHAIN, point(46.5021, -31.2034)), "km from our drop point"),
    (document(CHAIN, point(-31.2, 91.0)), "no place on earth"),
    (document(CHAIN, point(math.nan, 46.5)), "are no position"),
    (document(CHAIN, point(10**400, 46.5)), "are no position"),
    (document(CHAIN, {"type": "Circle"}), "geometry type = 'Circle'"),
    (document(CHAIN, {"type": ["Point"]}), "geometry type = "),
    (document({"kind": "pier"}, 5), "geometry = 5 is no geometry"),
    (
        document({"kind": "pier"}, {"type": "LineString", "coordinates": [[-31.2, 46.5]]}),
        "1 places make no line",
    ),
    (
        document(
            {"kind": "shoal"},
            {"type": "Polygon", "coordinates": [[[-31.2, 46.5], [-31.3, 46.5], [-31.2, 46.6]]]},
        ),
        "a ring of 3 positions is not closed",
    ),
    (document({"kind": "shoal"}, {"type": "Polygon", "coordinates": []}), "has no ring"),
    (document({"kind": "shoal", "name": "Heron"}, BOW_TIE), r"\(Heron\): the polygon crosses"),
]


@pytest.mark.parametrize(("data", "words"), BAD)
def test_every_slip_is_named_with_file_feature_and_remedy(data: Any, words: str) -> None:
    """And nothing is guessed."""
    with pytest.raises(UserInputError, match=words) as refused:
        read(data)
    assert refused.value.message.startswith("around.geojson")
    assert refused.value.remedy


def test_a_self_crossing_polygon_is_refused_saying_where() -> None:
    """The bow tie over 0.001 degrees crosses in its middle, both ways of writing it are given."""
    with pytest.raises(UserInputError) as refused:
        read(document({"kind": "shoal"}, BOW_TIE))
    assert "crosses itself near 46°30.102'N 031°12.174'W (-31.202900, 46.501700" in str(
        refused.value
    )


def test_a_hole_outside_its_ring_is_refused() -> None:
    """It is wrong without crossing anything."""
    ring = polygon((0, 0), (1, 0), (1, 1))["coordinates"][0]
    hole = polygon((5, 5), (6, 5), (6, 6))["coordinates"][0]
    shape = {"type": "Polygon", "coordinates": [ring, hole]}
    with pytest.raises(UserInputError, match="the polygon is wrong"):
        read(document({"kind": "shoal"}, shape))


def test_two_things_of_one_name_are_refused() -> None:
    """An answer that named one would mean either."""
    data = document(CHAIN)
    data["features"] *= 2
    with pytest.raises(UserInputError, match="'Petrel' is the name of two things"):
        read(data)


def test_by_hand_places_may_be_bearing_and_distance() -> None:
    """From our drop point, lengths with their units."""
    around = toml(
        """
        [[boat]]
        name = "Petrel"
        kind = "rope"
        bearing_deg = 90
        distance = "0.05nm"
        rode = "100ft"

        [[danger]]
        kind = "pier"
        line = ["46.5012,-31.2020", "46.5020,-31.2020"]

        [[danger]]
        kind = "shoal"
        area = ["46.5022,-31.2034", "46.5024,-31.2030", "46.5024,-31.2038"]

        [[danger]]
        kind = "rock"
        at = "46°30.2'N 31°12.2'W"
        radius = "4m"
        """
    )
    (boat,) = around.boats
    assert isinstance(boat, Boat)
    assert (boat.east_m, boat.north_m) == pytest.approx((92.6, 0.0), abs=1e-9)
    assert boat.rode_m == pytest.approx(30.48)
    kinds = [danger.shape.geom_type for danger in around.dangers]
    assert kinds == ["LineString", "Polygon", "Polygon"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[boat]\nkind = 'chain'", r"boat = .* is no list of tables"),
        ("boats = 3", "'boats': there is no such table here"),
        ("[[boat]]\nkind = 'shoal'", r"\[\[boat\]\] 1 \(shoal 1\): kind = 'shoal' is a danger's"),
        ("[[danger]]\nkind = 'rope'", r"\[\[danger\]\] 1 \(rope 1\): kind = 'rope' is a boat's"),
        ("[[boat]]\nkind = 'chain'\nrode = '30m'", "at is missing"),
        ("[[boat]]\nkind = 'chain'\nat = 5", "at = 5 is no place"),
        ("[[boat]]\nkind = 'chain'\nat = '46,31'", "at: 46,31 is a position in whole degrees"),
        ("[[boat]]\nkind = 'chain'\nbearing_deg = 20", "distance is missing"),
        (
            "[[boat]]\nkind = 'chain'\nbearing_deg = 20\ndistance = '50m'\nrode = 30",
            "rode = 30 has no unit",
        ),
        (
            "[[boat]]\nkind = 'chain'\nbearing_deg = 20\ndistance = '50m'\nrode = '30M'",
            "rode: The unit M in 30M may mean metres or nautical miles",
        ),
        (
            "[[boat]]\nkind = 'chain'\nbearing_deg = 20\ndistance = '50m'\nrode_m = 30",
            "rode is missing",
        ),
        ("[[danger]]\nkind = 'pier'\nline = 'a'", "line = 'a' is no list"),
        ("[[danger]]\nkind = 'pier'\nline = []\narea = []", "stands beside an area"),
        ("[[danger]]\nkind = 'pier'\nline = ['46.5,-31.2']", "1 places make no line"),
        (
            "[[danger]]\nkind = 'shoal'\narea = ['46.5,-31.2', '46.6,-31.2']",
            "2 corners make no area",
        ),
    ],
)
def test_slips_of_the_pen_in_toml_are_named_too(text: str, words: str) -> None:
    """With file, table and key."""
    with pytest.raises(UserInputError, match=words) as refused:
        toml(text)
    assert refused.value.message.startswith("around.toml")
    assert refused.value.remedy


near = st.floats(-400.0, 400.0)
boats = st.builds(
    Boat,
    name=st.just("x"),
    gear=st.sampled_from(list(Gear)),
    rode_m=st.floats(30.0, 90.0),
    depth_m=st.floats(0.0, 9.0),
    length_m=st.floats(4.0, 30.0),
    spread_deg=st.floats(0.0, 90.0),
    bow_height_m=st.floats(0.0, 3.0),
    east_m=near,
    north_m=near,
)
circles = st.builds(
    GivenCircle, name=st.just("x"), east_m=near, north_m=near, radius_m=st.floats(5.0, 90.0)
)
shapes = st.one_of(
    st.builds(shapely.Point, near, near),
    st.tuples(near, near, near, near)
    .filter(lambda v: math.hypot(v[0] - v[2], v[1] - v[3]) > 1.0)
    .map(lambda v: shapely.LineString([v[:2], v[2:]])),
    st.tuples(near, near, st.floats(2.0, 90.0)).map(
        lambda v: shapely.Point(v[0], v[1]).buffer(v[2], quad_segs=3)
    ),
)


@settings(max_examples=60, deadline=None)
@given(
    neighbours=st.lists(st.one_of(boats, circles), max_size=4),
    drawn=st.lists(st.tuples(shapes, st.sampled_from(list(DangerKind))), max_size=4),
    at=st.tuples(st.floats(-80.0, 80.0), st.floats(-180.0, 180.0)),
)
def test_what_is_written_as_geojson_is_read_back_the_same(
    neighbours: list[Boat | GivenCircle],
    drawn: list[tuple[shapely.Geometry, DangerKind]],
    at: tuple[float, float],
) -> None:
    """Anywhere on earth clear of the poles, over the antimeridian too; to some millimetres."""
    from attrs import evolve  # noqa: PLC0415 - only here

    plane = LocalPlane(Position(*at))
    around = Around(
        boats=tuple(evolve(boat, name=f"boat {n}") for n, boat in enumerate(neighbours)),
        dangers=tuple(
            Danger(name=f"danger {n}", kind=kind, shape=shape)
            for n, (shape, kind) in enumerate(drawn)
        ),
    )
    written = json.loads(json.dumps(around_document(around, plane)))
    back = around_from_geojson(written, file="again.geojson", plane=plane)
    assert len(back.boats) == len(around.boats)
    for before, after in zip(around.boats, back.boats, strict=True):
        place = (before.east_m, before.north_m)
        assert (after.east_m, after.north_m) == pytest.approx(place, abs=0.003)
        assert evolve(after, east_m=before.east_m, north_m=before.north_m) == before
    for danger in around.dangers:
        # A danger that lies over the antimeridian comes back in two parts.
        parts = [each for each in back.dangers if each.name == danger.name]
        assert {each.kind for each in parts} == {danger.kind}
        whole = shapely.union_all([each.shape.buffer(0.005) for each in parts])
        assert whole.contains(danger.shape)
        assert danger.shape.buffer(0.02).contains(whole)


def test_a_depth_that_nobody_said_is_not_written_as_none_at_all() -> None:
    """Null, which is read back as not known."""
    said = {"kind": "chain", "rode_m": 30.0, "length_m": 9.0}
    document = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "geometry": {"type": "Point", "coordinates": [-31.2, 46.5]},
                "properties": said,
            }
        ],
    }
    around = around_from_geojson(document, file="a", plane=PLANE)
    written = around_document(around, PLANE)
    assert written["features"][0]["properties"]["depth_m"] is None
    again = around_document(around_from_geojson(written, file="a", plane=PLANE), PLANE)
    assert again["features"][0]["properties"]["depth_m"] is None
