"""What was near, and what was bad there."""

import pytest
from attrs import evolve

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring
from driftlead.records.near import dragged_here, near, remark, warning_text
from driftlead.records.store import Stored
from driftlead.units import Printer, UnitSystem

HERE = Position(46.5, -31.2)
PLANE = LocalPlane(HERE)


def stored(number: int, anchoring: Anchoring, east_m: float, north_m: float) -> Stored:
    """The anchoring with its drop point moved there, its drag 40 m to the east of it."""
    drop = PLANE.to_position(east_m, north_m)
    drags = tuple(evolve(drag, bearing_deg=90.0, moved_m=40.0) for drag in anchoring.drags)
    anchor = PLANE.to_position(east_m + (40.0 if drags else 0.0), north_m)
    return Stored(number, evolve(anchoring, drop=drop, anchor=anchor, drags=drags))


def test_the_nearest_come_first_and_the_far_not_at_all(anchoring: Anchoring) -> None:
    """With distance and bearing from the place asked about."""
    all_stored = [
        stored(1, anchoring, 0, 300),
        stored(2, anchoring, 0, -50),
        stored(3, anchoring, 0, 501),
    ]
    found = near(all_stored, HERE, within_m=500.0)
    assert [each.stored.number for each in found] == [2, 1]
    assert (found[0].distance_m, found[0].bearing_deg) == pytest.approx((50.0, 180.0), abs=1e-6)
    with pytest.raises(UserInputError, match="within 0"):
        near(all_stored, HERE, within_m=0.0)


@pytest.mark.parametrize(
    ("east_m", "north_m", "distance_m"),
    [(0.0, 50.0, 50.0), (-70.0, 0.0, 30.0), (-20.0, 55.0, 55.0), (55.0, 0.0, 55.0)],
)
def test_all_the_ground_she_dragged_over_counts(
    anchoring: Anchoring, east_m: float, north_m: float, distance_m: float
) -> None:
    """The drop point, where it held again, and all the way between."""
    (found,) = dragged_here([stored(1, anchoring, east_m, north_m)], HERE, circle_m=60.0)
    assert found.distance_m == pytest.approx(distance_m, abs=0.01)


def test_each_drag_goes_on_from_where_the_one_before_ended(anchoring: Anchoring) -> None:
    """40 m east, then 40 m north, with no word of where the anchor was at last."""
    first = stored(1, anchoring, -40.0, -40.0).anchoring
    second = evolve(first.drags[0], bearing_deg=0.0)
    twice = evolve(first, drags=(*first.drags, second), anchor=None)
    (found,) = dragged_here([Stored(1, twice)], HERE, circle_m=60.0)
    assert found.distance_m == pytest.approx(0.0, abs=0.01)


def test_beyond_a_swinging_circle_nobody_is_warned(anchoring: Anchoring) -> None:
    """Nor where she held."""
    assert dragged_here([stored(1, anchoring, 0, 61)], HERE, circle_m=60.0) == ()
    held = evolve(anchoring, drags=())
    assert dragged_here([stored(1, held, 0, 0)], HERE, circle_m=60.0) == ()


def test_the_warning_says_when_how_far_on_what_and_in_what_wind(anchoring: Anchoring) -> None:
    """12.4 m/s are 24 kn; 38 m to a bow roller 1.2 m above 6.9 m of water at the most are 4.7:1."""
    (found,) = dragged_here([stored(5, anchoring, 0, 20)], HERE, circle_m=60.0)
    assert warning_text(found, Printer()) == (
        "She dragged here before: anchoring 5, 2026-06-15 03:21 UTC, 40 m towards 090° (E), on "
        "38 m of rode in 6.2 m, in up to 24 kn of wind, 20 m from this place."
    )
    with_scope = warning_text(found, Printer(), bow_height_m=1.2)
    assert "on 38 m of rode in 6.2 m (4.7:1), in up to 24 kn" in with_scope


def test_what_is_not_known_of_the_drag_is_left_out(anchoring: Anchoring) -> None:
    bare = evolve(anchoring, rode_m=None, depth_m=None, greatest_wind_mps=None, least_wind_mps=None)
    (found,) = dragged_here([stored(5, bare, 0, 20)], HERE, circle_m=60.0)
    assert warning_text(found, Printer(UnitSystem.FEET), bow_height_m=1.2) == (
        "She dragged here before: anchoring 5, 2026-06-15 03:21 UTC, 131 ft towards 090° (E), "
        "66 ft from this place."
    )


def test_at_let_go_the_latest_is_told_and_how_many_more_there_were(anchoring: Anchoring) -> None:
    """With what to do about it; nothing where she never dragged."""
    older = [
        stored(n, evolve(anchoring, began_utc_s=anchoring.began_utc_s - n * 86_400.0), 0, 5)
        for n in (1, 2)
    ]
    found = dragged_here([*older, stored(3, anchoring, 0, 40)], HERE, circle_m=60.0)
    text = remark(found, Printer()) or ""
    assert text.startswith("She dragged here before: anchoring 3, ")
    assert text.endswith(
        "So she did at 2 other anchorings near here. "
        "More rode, or another spot, is worth considering."
    )
    assert "other anchoring near" in (remark(found[1:], Printer()) or "")
    assert "other" not in (remark(found[2:], Printer()) or "").partition("More rode")[0]
    assert remark((), Printer()) is None
