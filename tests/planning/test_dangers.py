"""The danger ahead, against hand and against marching on step by step."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.dangers import Danger, Dangers, chains

SHORE = Danger(name="shore", kind=DangerKind.SHORE, shape=shapely.box(100, -500, 300, 500))
ROCK = Danger(name="rock", kind=DangerKind.ROCK, shape=shapely.Point(0.0, -60.0))


def test_a_shore_straight_ahead_is_reached_when_the_hull_touches() -> None:
    """100 m east, 10 m of hull, half a metre a second: 90 m and three minutes."""
    ahead = Dangers([SHORE, ROCK], hull_m=10.0, spread_deg=0.0).ahead(0.0, 0.0, 90.0, 0.5)
    assert ahead is not None
    assert (ahead.name, ahead.kind) == ("shore", DangerKind.SHORE)
    assert ahead.distance_m == pytest.approx(90.0)
    assert ahead.minutes == pytest.approx(3.0)
    assert ahead.nearest_name == "rock"
    assert ahead.nearest_m == pytest.approx(50.0)
    assert ahead.nearest_bearing_deg == 180.0


def test_aslant_the_way_is_longer() -> None:
    """At 60 degrees to the shore's normal: 90 m / cos 60 = 180 m."""
    ahead = Dangers([SHORE], hull_m=10.0, spread_deg=0.0).ahead(0.0, 0.0, 30.0, 0.5)
    assert ahead is not None
    assert ahead.distance_m == pytest.approx(180.0)


def test_a_bearing_that_may_be_off_counts_the_nearest_within_its_spread() -> None:
    """With 10 degrees to either side it is 90 m / cos 50: the danger of the doubt."""
    ahead = Dangers([SHORE], hull_m=10.0, spread_deg=10.0).ahead(0.0, 0.0, 30.0, 0.5)
    assert ahead is not None
    assert ahead.distance_m == pytest.approx(90.0 / math.cos(math.radians(50.0)))


def test_a_rock_a_little_off_the_course_is_ahead_all_the_same() -> None:
    """Eight degrees off: within the spread, out of the bare course of a boat without length."""
    off = Danger(name="rock", shape=shapely.Point(100 * math.sin(0.14), 100 * math.cos(0.14)))
    within = Dangers([off], hull_m=0.0, spread_deg=10.0).ahead(0.0, 0.0, 0.0, 1.0)
    beside = Dangers([off], hull_m=0.0, spread_deg=5.0).ahead(0.0, 0.0, 0.0, 1.0)
    assert within is not None
    assert beside is not None
    assert within.distance_m == pytest.approx(100.0)
    assert within.minutes == pytest.approx(100.0 / 60.0)
    assert beside.minutes is None


def test_a_drift_that_leads_to_nothing_gives_the_nearest_and_no_minutes() -> None:
    """Going north, away from everything."""
    ahead = Dangers([SHORE, ROCK], hull_m=10.0).ahead(0.0, 0.0, 0.0, 0.5)
    assert ahead is not None
    assert (ahead.name, ahead.minutes) == ("rock", None)
    assert ahead.distance_m == pytest.approx(50.0)


@pytest.mark.parametrize("rate_mps", [0.0, -0.1, math.nan])
def test_a_boat_that_does_not_move_has_no_minutes(rate_mps: float) -> None:
    """The distance is told all the same."""
    ahead = Dangers([SHORE], hull_m=10.0).ahead(0.0, 0.0, 90.0, rate_mps)
    assert ahead is not None
    assert ahead.minutes is None
    assert ahead.distance_m == pytest.approx(90.0)


@pytest.mark.parametrize("east_m", [95.0, 150.0])
def test_a_boat_that_touches_is_there_already(east_m: float) -> None:
    """By her hull's length from the edge, or within the area, whichever way she drifts."""
    ahead = Dangers([SHORE], hull_m=10.0).ahead(east_m, 0.0, 270.0, 0.5)
    assert ahead is not None
    assert (ahead.name, ahead.distance_m, ahead.minutes) == ("shore", 0.0, 0.0)
    assert ahead.nearest_m == 0.0


def test_the_basin_within_a_shore_is_open_water() -> None:
    """A hole is no part of an area."""
    basin = Danger(
        name="quays", shape=shapely.box(-300, -300, 300, 300) - shapely.box(-50, -50, 50, 50)
    )
    ahead = Dangers([basin], hull_m=10.0, spread_deg=0.0).ahead(0.0, 0.0, 90.0, 1.0)
    assert ahead is not None
    assert ahead.distance_m == pytest.approx(40.0)


def test_without_dangers_there_is_nothing_to_say() -> None:
    """None, not a far away danger."""
    empty = Dangers([], hull_m=10.0)
    assert len(empty) == 0
    assert empty.ahead(0.0, 0.0, 90.0, 0.5) is None


@pytest.mark.parametrize(
    ("hull_m", "spread_deg"), [(-1.0, 10.0), (math.nan, 10.0), (10.0, -1.0), (10.0, 50.0)]
)
def test_a_hull_or_spread_that_cannot_be_is_refused(hull_m: float, spread_deg: float) -> None:
    """With a remedy."""
    with pytest.raises(UserInputError) as refused:
        Dangers([SHORE], hull_m=hull_m, spread_deg=spread_deg)
    assert refused.value.remedy


def test_a_drift_from_nowhere_is_refused() -> None:
    """No number, no answer."""
    with pytest.raises(UserInputError, match="leads nowhere"):
        Dangers([SHORE], hull_m=10.0).ahead(math.nan, 0.0, 90.0, 0.5)


def test_every_part_of_a_shape_has_its_chain() -> None:
    """Rings, holes, lines and points, however deep they are nested."""
    many = shapely.GeometryCollection(
        [
            shapely.MultiPolygon([shapely.box(0, 0, 1, 1), shapely.box(5, 5, 9, 9)]),
            shapely.LineString([(0, 0), (4, 4)]),
            shapely.MultiPoint([(1, 1), (2, 2)]),
        ]
    )
    assert sorted(len(chain) for chain in chains(many)) == [1, 1, 2, 5, 5]


places = st.floats(-150.0, 150.0)
shapes = st.one_of(
    st.builds(shapely.Point, places, places),
    st.tuples(places, places, places, places)
    .filter(lambda v: math.hypot(v[0] - v[2], v[1] - v[3]) > 1.0)
    .map(lambda v: shapely.LineString([v[:2], v[2:]])),
    st.tuples(places, places, st.floats(3.0, 60.0), st.integers(1, 4)).map(
        lambda v: shapely.Point(v[0], v[1]).buffer(v[2], quad_segs=v[3])
    ),
)


@settings(max_examples=60, deadline=None)
@given(
    drawn=st.lists(shapes, min_size=1, max_size=4),
    at=st.tuples(places, places),
    bearing_deg=st.floats(0.0, 360.0),
    hull_m=st.sampled_from([0.5, 5.0, 12.0]),
)
def test_it_comes_as_far_as_a_boat_marched_on_step_by_step(
    drawn: list[shapely.Geometry], at: tuple[float, float], bearing_deg: float, hull_m: float
) -> None:
    """The first of many points along the drift from which some danger is a hull's length away."""
    dangers = [Danger(name=str(n), shape=shape) for n, shape in enumerate(drawn)]
    ahead = Dangers(dangers, hull_m=hull_m, spread_deg=0.0).ahead(*at, bearing_deg, 1.0)
    assert ahead is not None
    way = np.arange(0.0, 600.0, 0.1)
    east = at[0] + way * math.sin(math.radians(bearing_deg))
    north = at[1] + way * math.cos(math.radians(bearing_deg))
    everything = shapely.union_all(drawn)
    clear = shapely.distance(shapely.points(east, north), everything)
    # One that is only just grazed may be hit or missed: the hull's round is good to 2 %.
    assume(not 0.97 * hull_m < clear.min() < 1.03 * hull_m)
    touched = np.flatnonzero(clear <= hull_m)
    assert ahead.nearest_m == pytest.approx(max(0.0, float(clear[0]) - hull_m), abs=1e-6)
    if not len(touched):
        assert ahead.minutes is None
        return
    assert ahead.minutes is not None
    assert ahead.minutes == pytest.approx(ahead.distance_m / 60.0)
    # Where she grazes along a curve a hundredth of the hull is some metres of way.
    sooner, later = (
        way[np.flatnonzero(clear <= part * hull_m)[0]] if ahead.distance_m else 0.0
        for part in (1.02, 0.98)
    )
    assert sooner - 0.2 <= ahead.distance_m <= later + 0.2


@settings(max_examples=60, deadline=None)
@given(
    drawn=st.lists(shapes, min_size=1, max_size=4),
    at=st.tuples(places, places),
    bearing_deg=st.floats(0.0, 360.0),
    spread_deg=st.floats(1.0, 45.0),
)
def test_within_the_spread_it_is_the_nearest_point_of_a_wedge(
    drawn: list[shapely.Geometry], at: tuple[float, float], bearing_deg: float, spread_deg: float
) -> None:
    """Cut out with shapely: the wedge, and the distance to what is left of the dangers in it."""
    dangers = [Danger(name=str(n), shape=shape) for n, shape in enumerate(drawn)]
    ahead = Dangers(dangers, hull_m=0.0, spread_deg=spread_deg).ahead(*at, bearing_deg, 1.0)
    assert ahead is not None
    sides = [math.radians(bearing_deg + turn) for turn in (-spread_deg, 0.0, spread_deg)]
    wedge = shapely.Polygon(
        [at, *((at[0] + 5000 * math.sin(a), at[1] + 5000 * math.cos(a)) for a in sides)]
    )
    apex = shapely.Point(*at)
    left = shapely.union_all(drawn).intersection(wedge)
    nearly = shapely.union_all(drawn).distance(wedge)
    assume(left.is_empty is (nearly > 1e-6))
    if left.is_empty:
        assert ahead.minutes is None
    else:
        assert ahead.distance_m == pytest.approx(apex.distance(left), abs=1e-3)
