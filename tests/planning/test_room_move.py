"""The least move that clears everything."""

import itertools
import math

import numpy as np
import pytest
import shapely
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.planning.dangers import Danger
from driftlead.planning.neighbours import Boat, Gear, GivenCircle
from driftlead.planning.room import Around, _pairs, look_round
from driftlead.planning.room_hours import Hour
from driftlead.planning.room_move import Move, minkowski_difference

OWN = Boat(name="Corvid", rode_m=25.0, depth_m=6.0, length_m=10.0)
MARGIN_M = 10.0


def shore(distance_m: float, bearing: tuple[float, float] = (0.0, 1.0)) -> Danger:
    """A straight shore, its edge at a distance on a bearing (a unit vector)."""
    east, north = bearing
    middle = np.array([east, north]) * distance_m
    along = np.array([north, -east]) * 5000.0
    inland = np.array([east, north]) * 3000.0
    corners = [middle - along, middle + along, middle + along + inland, middle - along + inland]
    return Danger(name=f"shore {bearing}", shape=shapely.Polygon(corners))


def test_from_a_straight_shore_she_moves_straight_off() -> None:
    """Her stern's corners reach hypot(34, 5/3) = 34.04 m; a shore at 30 m asks for 14.04 m."""
    room = look_round(OWN, Around(dangers=(shore(30.0),)))
    assert room.move is not None
    assert room.move.distance_m == pytest.approx(14.04, abs=0.06)
    assert room.move.bearing_deg == pytest.approx(180.0, abs=0.5)
    assert room.calm_move is not None
    assert room.calm_move.distance_m == pytest.approx(14.0, abs=0.06)


def test_between_two_shores_she_moves_off_both() -> None:
    """Shores at 30 m to the north and to the east: 14.04 m off each, 19.9 m to the south-west."""
    room = look_round(OWN, Around(dangers=(shore(30.0), shore(30.0, (1.0, 0.0)))))
    assert room.move is not None
    assert room.move.distance_m == pytest.approx(14.04 * math.sqrt(2.0), abs=0.1)
    assert room.move.bearing_deg == pytest.approx(225.0, abs=0.5)


def test_from_a_circle_in_a_calm_she_moves_straight_away() -> None:
    """Circles of 34 and 40 m, 50 m apart, 10 m between wanted: 34 m away.

    The circles are polygons of 96 corners, so the bearing is good to a corner.
    """
    barge = GivenCircle(name="barge", east_m=-50.0, north_m=0.0, radius_m=40.0)
    room = look_round(OWN, Around(boats=(barge,)), winds_deg=[0.0])
    assert room.calm_move is not None
    assert room.calm_move.distance_m == pytest.approx(34.0, abs=0.15)
    assert room.calm_move.bearing_deg == pytest.approx(90.0, abs=3.75)


def test_where_all_is_clear_nothing_is_moved() -> None:
    """A move of no length."""
    room = look_round(OWN, Around(dangers=(shore(44.1),)))
    assert room.fits
    assert room.move == Move(east_m=0.0, north_m=0.0)


def test_in_a_gut_too_narrow_for_her_no_move_is_found() -> None:
    """Shores 80 m apart, and she swings over 68 m and wants 10 m on either side."""
    room = look_round(OWN, Around(dangers=(shore(40.0), shore(40.0, (0.0, -1.0)))))
    assert room.move is None
    assert not room.fits


def test_a_pocket_among_others_is_found() -> None:
    """Ringed by circles, the clear place in the middle is the nearest, not the open water."""
    ring = tuple(
        GivenCircle(
            name=f"buoy {n}",
            east_m=5.0 + 70.0 * math.sin(n * math.tau / 10),
            north_m=70.0 * math.cos(n * math.tau / 10),
            radius_m=22.0,
        )
        for n in range(10)
    )
    room = look_round(OWN, Around(boats=ring))
    assert room.move is not None
    assert 0.5 < room.move.distance_m < 6.0


@pytest.mark.parametrize(("inner_m", "moved_m"), [(52.0, 2.0), (45.0, None)])
def test_within_a_round_mole_she_moves_to_its_middle(inner_m: float, moved_m: float | None) -> None:
    """From 10 m off the middle to where 44 m are left all round, but not into a pocket of a foot.

    The mole is so thick that there is no way out of it within what is looked at.
    """
    middle = shapely.Point(0.0, 10.0)
    mole = middle.buffer(900.0) - middle.buffer(inner_m, quad_segs=64)
    room = look_round(OWN, Around(dangers=(Danger(name="mole", shape=mole),)))
    if moved_m is None:
        assert room.move is None
    else:
        assert room.move is not None
        assert room.move.distance_m == pytest.approx(moved_m, abs=0.15)
        assert room.move.north_m > 0.99 * room.move.distance_m


def test_the_forbidden_moves_of_two_squares_are_a_square() -> None:
    """A unit square touches one of side 2 at 3 by 3 moves; shifted, the moves are shifted too."""
    piece = shapely.get_coordinates(shapely.box(0, 0, 1, 1))[:-1]
    assert minkowski_difference(shapely.box(0, 0, 2, 2), [piece]).equals(shapely.box(-1, -1, 2, 2))
    assert minkowski_difference(shapely.Point(5, 5), [piece]).equals(shapely.box(4, 4, 5, 5))


def test_the_forbidden_moves_of_a_hollow_shape_leave_its_hollow() -> None:
    """A U of walls 1 m thick, 4 m wide inside: a square of 1 m has 3 m of play in it."""
    walls = shapely.union_all(
        [shapely.box(0, 0, 1, 6), shapely.box(5, 0, 6, 6), shapely.box(0, 0, 6, 1)]
    )
    piece = shapely.get_coordinates(shapely.box(0, 0, 1, 1))[:-1]
    forbidden = minkowski_difference(walls, [piece])
    assert not forbidden.contains(shapely.Point(2.5, 2.0))
    assert forbidden.contains(shapely.Point(0.5, 2.0))
    hull = forbidden.convex_hull
    assert hull.area - forbidden.area == pytest.approx(3.0 * 5.0)


others = st.builds(
    Boat,
    name=st.just("x"),
    gear=st.sampled_from(list(Gear)),
    rode_m=st.floats(15.0, 45.0),
    depth_m=st.floats(2.0, 7.0),
    length_m=st.floats(6.0, 15.0),
    east_m=st.floats(-80.0, 80.0),
    north_m=st.floats(-80.0, 80.0),
)
walls = st.tuples(
    st.floats(-90.0, 90.0), st.floats(-90.0, 90.0), st.floats(-60.0, 60.0), st.floats(2.0, 60.0)
).map(lambda v: shapely.LineString([(v[0], v[1]), (v[0] + v[2], v[1] + v[3])]))
shoals = st.tuples(
    st.floats(-90.0, 90.0), st.floats(-90.0, 90.0), st.floats(3.0, 25.0), st.integers(3, 9)
).map(
    lambda v: shapely.Polygon(
        [
            (v[0] + v[2] * math.cos(n * 2.4), v[1] + v[2] * math.sin(n * 2.4))
            for n in sorted(range(v[3]), key=lambda n: (n * 2.4) % math.tau)
        ]
    )
)


@settings(max_examples=8, deadline=None)
@given(
    boats=st.lists(others, max_size=3),
    shapes=st.lists(st.one_of(walls, shoals), max_size=2),
    rise_m=st.floats(-1.5, 3.0),
)
def test_moving_by_the_advice_clears_everything_and_nothing_shorter_does(
    boats: list[Boat], shapes: list[shapely.Geometry], rise_m: float
) -> None:
    """Measured anew from there; and on a fine grid of shorter moves none clears by much."""
    around = Around(
        boats=tuple(evolve(boat, name=f"boat {n}") for n, boat in enumerate(boats)),
        dangers=tuple(Danger(name=f"d{n}", shape=shape) for n, shape in enumerate(shapes)),
    )
    hours = [Hour(), Hour(rise_m=rise_m)]
    winds = [n * 15.0 for n in range(24)]
    room = look_round(OWN, around, hours=hours, winds_deg=winds, margin_m=MARGIN_M)
    move = room.move
    assert move is not None
    assert room.fits == (move.distance_m == 0.0)
    moved = evolve(OWN, east_m=move.east_m, north_m=move.north_m)
    again = look_round(moved, around, hours=hours, winds_deg=winds, margin_m=MARGIN_M - 0.01)
    assert again.fits
    pairs = _pairs(OWN, around, hours, winds)
    for part, turn in itertools.product((0.3, 0.6, 0.9), range(0, 360, 20)):
        shorter_m = part * move.distance_m
        if move.distance_m - shorter_m < 0.5:
            continue
        by = shorter_m * np.array([math.sin(math.radians(turn)), math.cos(math.radians(turn))])
        least_m = min(
            float(shapely.distance(shapely.transform(p.ours, lambda xy: xy + by), p.theirs).min())  # noqa: B023
            for p in pairs
        )
        # A pocket of less than 4 m2 is none to anchor in: its middle is up to 1.13 m from its edge.
        assert least_m < MARGIN_M + 1.2
