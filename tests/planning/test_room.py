"""Will we fit: circles and clearances against hand and brute force."""

import datetime as dt
import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

from driftlead.errors import UserInputError
from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.dangers import Danger
from driftlead.planning.neighbours import Boat, Gear, GivenCircle
from driftlead.planning.room import (
    Around,
    all_winds,
    look_round,
    sector_deg,
    swinging_circle,
    winds_between,
)
from driftlead.planning.room_hours import Hour
from driftlead.planning.room_lie import SHOULDER


def boat(name: str = "Corvid", **changes: object) -> Boat:
    """Bow at 18 to 24 m from her anchor, stern at 34 m; 4 m of beam, no spread."""
    values: dict[str, object] = {
        "name": name,
        "rode_m": 25.0,
        "depth_m": 6.0,
        "length_m": 10.0,
        "beam_m": 4.0,
        "spread_deg": 0.0,
    }
    return Boat(**(values | changes))  # type: ignore[arg-type]


def clearance(own: Boat, other: Boat, wind_from_deg: float) -> float:
    """The one clearance there is in one wind."""
    room = look_round(own, Around(boats=(other,)), winds_deg=[wind_from_deg])
    assert room.worst is not None
    return room.worst.clearance_m


def test_the_circle_is_reach_at_least_depth_plus_length() -> None:
    """25 m over 6 + 1 m is 24 m of reach; when 3 m have run off it is sqrt(25^2 - 4^2)."""
    assert swinging_circle(boat()).radius_m == 34.0
    low = Hour(when=dt.datetime(2026, 6, 15, 1, 5, tzinfo=dt.UTC), rise_m=-3.0)
    circle = swinging_circle(boat(), [Hour(), low])
    assert circle.radius_m == pytest.approx(math.sqrt(25.0**2 - 16.0) + 10.0)
    assert circle.least_depth_m == pytest.approx(3.0)
    assert circle.hour is low


def test_boats_abreast_are_clear_by_the_distance_less_a_beam() -> None:
    """Anchors 50 m apart across the wind, all alike: 50 m less half a beam of each."""
    assert clearance(boat(), boat("Petrel", east_m=50.0), 0.0) == pytest.approx(46.0)


def test_boats_in_line_are_clear_by_bow_to_stern() -> None:
    """The other's anchor 50 m dead to leeward: her bow at 50 + 18 m, our stern at 34 m."""
    assert clearance(boat(), boat("Petrel", east_m=50.0), 270.0) == pytest.approx(34.0)


def test_a_boat_on_a_short_mooring_to_leeward_is_reached() -> None:
    """Her block is 40 m to leeward; 7 m to her bow at the least, less 34 m of ours: 13 m."""
    moored = boat("Gannet", gear=Gear.MOORING, north_m=40.0, rode_m=14.0)
    assert clearance(boat(), moored, 180.0) == pytest.approx(40.0 + 7.0 - 34.0)


def test_a_danger_to_leeward_is_measured_from_the_stern() -> None:
    """A rock 100 m north: 66 m from the stern in a south wind, 100 m from the anchor in a north."""
    rock = Danger(name="rock", kind=DangerKind.ROCK, shape=shapely.Point(0.0, 100.0))
    for wind_deg, expected_m in ((180.0, 66.0), (0.0, 100.0)):
        room = look_round(boat(), Around(dangers=(rock,)), winds_deg=[wind_deg])
        assert room.worst is not None
        assert room.worst.clearance_m == pytest.approx(expected_m)


def test_no_rode_may_lie_across_a_pier() -> None:
    """A pier between anchor and boat is touched though the hull is clear of it."""
    pier = shapely.LineString([(-5.0, 9.0), (5.0, 9.0)])
    room = look_round(boat(), Around(dangers=(Danger(name="pier", shape=pier),)), winds_deg=[180.0])
    assert room.worst is not None
    assert room.worst.clearance_m == 0.0
    assert not room.fits


def test_whole_circles_overlap_by_what_is_missing() -> None:
    """34 m each, 50 m apart: 18 m too near. A circle given counts as it is; a shore by distance."""
    around = Around(
        boats=(
            boat("Petrel", east_m=50.0),
            GivenCircle(name="barge", east_m=-100.0, north_m=0.0, radius_m=40.0),
        ),
        dangers=(
            Danger(name="shore", kind=DangerKind.SHORE, shape=shapely.box(-500, 90, 500, 200)),
        ),
    )
    gaps = {gap.other: gap.gap_m for gap in look_round(boat(), around).circles}
    assert gaps == pytest.approx({"Petrel": -18.0, "barge": 26.0, "shore": 56.0})


def test_the_worst_hour_comes_first() -> None:
    """At low water her stern comes 0.68 m nearer the pier than now."""
    times = [dt.datetime(2026, 6, 15, hour, tzinfo=dt.UTC) for hour in (0, 3, 6)]
    hours = [
        Hour(when=when, rise_m=rise_m) for when, rise_m in zip(times, (0, -3, 0.5), strict=True)
    ]
    pier = Danger(name="pier", kind=DangerKind.PIER, shape=shapely.Point(0.0, 50.0))
    room = look_round(boat(), Around(dangers=(pier,)), hours=hours, winds_deg=[180.0])
    assert [each.hour.text for each in room.clearances] == ["03:00", "00:00", "06:00"]
    assert room.clearances[0].clearance_m == pytest.approx(50.0 - 10.0 - math.sqrt(609.0))


def test_a_hair_short_of_the_margin_is_as_good_as_clear() -> None:
    """No move of nothing at all is advised."""
    rock = Danger(name="rock", kind=DangerKind.ROCK, shape=shapely.Point(0.0, 43.997))
    room = look_round(boat(), Around(dangers=(rock,)), winds_deg=[180.0])
    assert room.fits
    assert room.move is not None
    assert room.move.distance_m == 0.0


def test_nothing_round_her_is_room_enough() -> None:
    """And nothing is advised."""
    room = look_round(boat(), Around())
    assert room.fits
    assert room.worst is None
    assert room.move is not None
    assert room.move.distance_m == 0.0


def test_each_other_and_each_sector_has_its_worst() -> None:
    """Sixteen sectors, each with its nearest; every other once."""
    around = Around(boats=(boat("Petrel", east_m=50.0), boat("Skua", north_m=70.0)))
    room = look_round(boat(), around)
    assert len(room.worst_of_sectors()) == 16
    assert {each.other for each in room.worst_of_each()} == {"Petrel", "Skua"}
    least = [round(each.clearance_m, 3) for each in room.worst_of_sectors()]
    assert least == sorted(least)


def test_winds_are_counted_clockwise() -> None:
    """Through north as anywhere; the ends are among them, the same twice is one wind."""
    through_north = winds_between(350.0, 10.0)
    assert through_north[0] == 350.0
    assert through_north[-1] == pytest.approx(10.0)
    assert len(through_north) == 6
    assert winds_between(225.0, 225.0) == (225.0,)
    assert len(all_winds()) == 80
    assert [sector_deg(wind) for wind in (0.0, 11.0, 12.0, 359.0)] == [0.0, 0.0, 22.5, 0.0]
    with pytest.raises(UserInputError, match="no wind"):
        winds_between(math.nan, 0.0)


@pytest.mark.parametrize(
    ("own", "hours", "words"),
    [
        (boat(rode_m=6.5), [Hour()], "6.5 m of rode do not take Corvid to her anchor"),
        (boat(rode_m=9.0), [Hour(), Hour(rise_m=2.5)], "bottom is 9.5 m below her bow"),
        (boat(), [Hour(), Hour(rise_m=-6.0)], "Corvid would lie aground"),
        (boat(), [], "no hour"),
    ],
)
def test_a_berth_that_cannot_be_is_refused(own: Boat, hours: list[Hour], words: str) -> None:
    """Too short a rode at high water, no water at low water."""
    with pytest.raises(UserInputError, match=words) as refused:
        swinging_circle(own, hours)
    assert refused.value.remedy


def test_a_neighbours_rode_must_reach_too() -> None:
    """The message names her, and the mooring she is on."""
    moored = boat("Gannet", gear=Gear.MOORING, rode_m=8.0, east_m=90.0)
    with pytest.raises(UserInputError, match="Gannet to her mooring"):
        look_round(boat(), Around(boats=(moored,)), hours=[Hour(), Hour(rise_m=2.0)])


def test_a_negative_margin_is_refused() -> None:
    """It would advise a collision."""
    with pytest.raises(UserInputError, match="margin"):
        look_round(boat(), Around(), margin_m=-1.0)


anchored = st.builds(
    Boat,
    name=st.just("Petrel"),
    gear=st.sampled_from(list(Gear)),
    rode_m=st.floats(15.0, 50.0),
    depth_m=st.floats(1.0, 8.0),
    length_m=st.floats(5.0, 18.0),
    spread_deg=st.floats(0.0, 45.0),
    east_m=st.floats(-90.0, 90.0),
    north_m=st.floats(-90.0, 90.0),
)


@settings(max_examples=25, deadline=None)
@given(ours=anchored, theirs=anchored, wind_deg=st.floats(0.0, 360.0))
def test_what_we_are_clear_of_is_as_clear_of_us(ours: Boat, theirs: Boat, wind_deg: float) -> None:
    """Clearances and circles are symmetric."""
    one = look_round(ours, Around(boats=(theirs,)), winds_deg=[wind_deg], margin_m=0.0)
    other = look_round(theirs, Around(boats=(ours,)), winds_deg=[wind_deg], margin_m=0.0)
    assert one.clearances[0].clearance_m == pytest.approx(other.clearances[0].clearance_m)
    assert one.circles[0].gap_m == pytest.approx(other.circles[0].gap_m)


def cloud(boat: Boat, wind_from_deg: float) -> "np.ndarray[tuple[int, int], np.dtype[np.float64]]":
    """Points along outlines of a boat, laid out plainly at many angles and three reaches."""
    angles = wind_from_deg + 180.0 + np.linspace(-boat.spread_deg, boat.spread_deg, 81)
    bow = np.linspace(boat.least_reach_m(), boat.reach_m(), 3)
    half, long = boat.beam_m / 2.0, boat.length_m
    corners = [
        (0, 0),
        (SHOULDER * long, half),
        (long, half),
        (long, -half),
        (SHOULDER * long, -half),
    ]
    edge = [np.linspace(a, b, 20) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True)]
    outline = np.concatenate(edge)
    bearing = np.radians(angles)[:, None, None]
    along = outline[None, None, :, 0] + bow[None, :, None]
    across = outline[None, None, :, 1]
    east = boat.east_m + along * np.sin(bearing) + across * np.cos(bearing)
    north = boat.north_m + along * np.cos(bearing) - across * np.sin(bearing)
    return np.column_stack([east.ravel(), north.ravel()])


@settings(max_examples=25, deadline=None)
@given(ours=anchored, theirs=anchored, wind_deg=st.floats(0.0, 360.0))
def test_clearances_are_those_of_points_laid_out_one_by_one(
    ours: Boat, theirs: Boat, wind_deg: float
) -> None:
    """Never more than brute force finds between some twenty thousand points each, and hardly less.

    Brute force is short of the truth by half a step of its points; the areas count up to some
    decimetres inside the bows' arc as well (pieces of ten degrees).
    """
    found_m, _ = cKDTree(cloud(theirs, wind_deg)).query(cloud(ours, wind_deg), k=1)
    brute_m = float(found_m.min())
    room = look_round(ours, Around(boats=(theirs,)), winds_deg=[wind_deg], margin_m=0.0)
    assume(brute_m > 1.0)
    # Apart by their points they may still lie one within the other.
    assert room.worst is not None
    assume(room.worst.clearance_m > 0.0)
    assert room.worst.clearance_m <= brute_m + 1e-6
    assert room.worst.clearance_m >= brute_m - 1.0


@settings(max_examples=30, deadline=None)
@given(own=anchored, more_m=st.floats(0.0, 30.0), north_m=st.floats(60.0, 200.0))
def test_more_rode_never_takes_her_farther_from_what_lies_to_leeward(
    own: Boat, more_m: float, north_m: float
) -> None:
    """A shore dead to leeward comes nearer with each metre veered."""
    shore = shapely.LineString([(-2000.0, north_m + 90.0), (2000.0, north_m + 90.0)])
    around = Around(dangers=(Danger(name="shore", shape=shore),))
    rooms = [
        look_round(
            Boat(name="Corvid", rode_m=rode_m, depth_m=own.depth_m, length_m=own.length_m),
            around,
            winds_deg=[180.0],
            margin_m=0.0,
        )
        for rode_m in (own.rode_m, own.rode_m + more_m)
    ]
    before, after = (room.worst.clearance_m if room.worst else math.inf for room in rooms)
    assert after <= before + 1e-9
