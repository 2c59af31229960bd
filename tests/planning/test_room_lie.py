"""Where boats may lie, against outlines laid out one by one."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.dangers import Dangers
from driftlead.planning.neighbours import Boat, GivenCircle
from driftlead.planning.room_hours import Hour
from driftlead.planning.room_lie import (
    SHOULDER,
    boats_as_dangers,
    circle_corners,
    lie_of,
    lying_areas,
    turned,
)


def swept(boat: Boat, wind_from_deg: float, angles: int) -> list[shapely.Polygon]:
    """The ground a boat's outline covers on each of some headings, reckoned plainly.

    Between hanging up and down and bar-taut the outline, which is convex, sweeps its own hull.
    """
    found = []
    for angle_deg in np.linspace(-boat.spread_deg, boat.spread_deg, angles):
        bearing = math.radians(wind_from_deg + 180.0 + angle_deg)
        along = np.array([math.sin(bearing), math.cos(bearing)])
        across = np.array([math.cos(bearing), -math.sin(bearing)])
        centre = np.array([boat.east_m, boat.north_m])
        half, shoulder_m = boat.beam_m / 2, SHOULDER * boat.length_m
        corners = [
            (bow_m + a, b)
            for bow_m in (boat.least_reach_m(), boat.reach_m())
            for a, b in [
                (0.0, 0.0),
                (shoulder_m, half),
                (boat.length_m, half),
                (boat.length_m, -half),
                (shoulder_m, -half),
            ]
        ]
        points = [centre + a * along + b * across for a, b in corners]
        found.append(shapely.MultiPoint(points).convex_hull)
    return found


boats = st.builds(
    Boat,
    name=st.just("Petrel"),
    rode_m=st.floats(12.0, 60.0),
    depth_m=st.floats(1.0, 10.0),
    length_m=st.floats(5.0, 20.0),
    spread_deg=st.floats(0.0, 90.0),
    east_m=st.floats(-50.0, 50.0),
    north_m=st.floats(-50.0, 50.0),
)


@settings(max_examples=20, deadline=None)
@given(boat=boats, wind_deg=st.floats(0.0, 360.0))
def test_the_area_holds_every_outline_and_little_more(boat: Boat, wind_deg: float) -> None:
    """Never less than the outlines; what it has more is within a part of a metre of one."""
    area = lying_areas(boat, [Hour()], [wind_deg])[0][0]
    assert area.is_valid
    shapes = swept(boat, wind_deg, angles=121)
    around = area.buffer(0.001)
    shapely.prepare(around)
    assert shapely.contains(around, shapes).all()
    far = [shapely.distance(shapely.Point(corner), shapes).min() for corner in area.exterior.coords]
    # An arc is drawn round the corners of a stern that is straight; and the bows laid out are up
    # to 1.5 degrees apart, with the area's edge between them.
    bulge_m = 0.02 + boat.beam_m**2 / (8.0 * boat.circle_m())
    between_m = boat.rode_m * math.radians(boat.spread_deg / 120.0)
    assert max(far) < bulge_m + between_m


def test_without_spread_the_corners_are_those_of_the_boat_herself() -> None:
    """A wind from the south lays her north of her anchor: bow at 18 to 24 m, stern at 34 m."""
    boat = Boat(name="Corvid", rode_m=25, depth_m=6, length_m=10, beam_m=4, spread_deg=0)
    area = lying_areas(boat, [Hour()], [180.0])[0][0]
    corners = {(round(east, 6) + 0.0, round(north, 6)) for east, north in area.exterior.coords}
    assert corners == {(0.0, 18.0), (2.0, 21.5), (2.0, 34.0), (-2.0, 34.0), (-2.0, 21.5)}


@pytest.mark.parametrize(
    ("wind_from_deg", "east_m", "north_m"),
    [(0.0, 0.0, -1.0), (90.0, -1.0, 0.0), (225.0, math.sqrt(0.5), math.sqrt(0.5))],
)
def test_a_boat_lies_to_leeward(wind_from_deg: float, east_m: float, north_m: float) -> None:
    """In a north wind south of her anchor."""
    point = turned(np.array([[1.0, 0.0]]), [wind_from_deg], (0.0, 0.0))[0][0]
    assert tuple(point) == pytest.approx((east_m, north_m))


def test_the_pieces_make_up_the_area_and_each_is_convex() -> None:
    """What the least move rests on."""
    boat = Boat(name="Corvid", rode_m=38, depth_m=6, length_m=10, spread_deg=35)
    lie = lie_of(boat, Hour())
    pieces = [shapely.Polygon(piece) for piece in lie.pieces]
    assert all(piece.equals(piece.convex_hull) for piece in pieces)
    assert shapely.union_all(pieces).symmetric_difference(shapely.Polygon(lie.ring)).area < 1e-6


def test_with_the_rode_the_ground_from_the_anchor_on_is_hers() -> None:
    """It holds the boat's own area and the anchor."""
    boat = Boat(name="Corvid", rode_m=38, depth_m=6, length_m=10)
    alone, whole = (shapely.Polygon(lie_of(boat, Hour(), with_rode=w).ring) for w in (False, True))
    assert whole.buffer(1e-6).contains(alone)
    assert whole.touches(shapely.Point(0, 0))
    assert not alone.intersects(shapely.Point(0, 0))


def test_a_circle_is_held_whole_by_its_polygon() -> None:
    """And is hardly smaller than it, in any wind."""
    barge = GivenCircle(name="barge", east_m=3.0, north_m=4.0, radius_m=45.0)
    here, there = lying_areas(barge, [Hour()], [10.0, 200.0])[0]
    circle = shapely.Point(3.0, 4.0).buffer(45.0, quad_segs=200)
    for area in (here, there):
        assert circle.within(area)
        assert area.area < circle.area * 1.002
    assert circle_corners(45.0).shape[1] == 2


def test_neighbours_are_dangers_where_they_lie_in_the_present_wind() -> None:
    """A boat to leeward, seen from one that drags towards her: her bow at 100 + 18 m."""
    petrel = Boat(name="Petrel", rode_m=25, depth_m=6, length_m=10, north_m=100.0)
    barge = GivenCircle(name="barge", east_m=-200.0, north_m=0.0, radius_m=45.0)
    dangers = boats_as_dangers([petrel, barge], 180.0)
    assert {each.kind for each in dangers} == {DangerKind.VESSEL}
    ahead = Dangers(dangers, hull_m=8.0, spread_deg=0.0).ahead(0.0, 0.0, 0.0, 0.5)
    assert ahead is not None
    assert ahead.name == "Petrel"
    # The arc her bow lies on is covered by chords of ten degrees, 7 cm inside it at the most.
    assert ahead.distance_m == pytest.approx(110.0, abs=0.15)


def test_low_water_widens_the_area() -> None:
    """One row for each hour, one column for each wind."""
    boat = Boat(name="Corvid", rode_m=38, depth_m=6, length_m=10)
    areas = lying_areas(boat, [Hour(), Hour(rise_m=-3.0)], [0.0, 90.0, 180.0])
    assert areas.shape == (2, 3)
    assert areas[1][0].bounds[1] < areas[0][0].bounds[1]
