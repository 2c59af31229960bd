"""The depth over time."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.tide.table import TideTable, Turn
from driftlead.tide.water import Water

DAY = dt.datetime(2026, 6, 14, tzinfo=dt.UTC)


def at(hours: float) -> dt.datetime:
    """So many hours into the day."""
    return DAY + dt.timedelta(hours=hours)


TIDE = TideTable(
    (
        Turn(when=at(0), height_m=1.0),
        Turn(when=at(6), height_m=5.0),
        Turn(when=at(12), height_m=1.0),
        Turn(when=at(18), height_m=5.0),
    )
)


def test_a_depth_now_gives_that_at_any_time() -> None:
    """6 m at half flood, with 2 m more to come and 2 m less at low water."""
    water = Water.sounded(6.0, at=at(3), tide=TIDE)
    assert water.datum_depth_m == pytest.approx(3.0)
    assert water.depth_m(at(6)) == pytest.approx(8.0)
    assert water.depth_m(at(12)) == pytest.approx(4.0)
    when, depth_m = water.deepest(at(3), at(13))
    assert when == at(6)
    assert depth_m == pytest.approx(8.0)
    when, depth_m = water.shallowest(at(3), at(13))
    assert when == at(12)
    assert depth_m == pytest.approx(4.0)


def test_a_charted_depth_is_that_at_datum_and_may_dry() -> None:
    assert Water(datum_depth_m=2.0, tide=TIDE).depth_m(at(12)) == pytest.approx(3.0)
    dries = Water(datum_depth_m=-1.5, tide=TIDE)
    assert dries.depth_m(at(12)) == pytest.approx(-0.5)
    assert dries.depth_m(at(6)) == pytest.approx(3.5)


def test_without_a_tide_the_depth_stays() -> None:
    water = Water.sounded(6.0, at=at(0))
    assert water.depth_m(at(100)) == 6.0
    assert water.deepest(at(0), at(9)) == water.shallowest(at(0), at(9)) == (at(0), 6.0)
    assert water.shallower_than(6.0, at(0), at(9)) == ()
    assert water.shallower_than(6.5, at(0), at(9)) == ((at(0), at(9)),)


def test_she_has_too_little_water_from_half_ebb_to_half_flood() -> None:
    """3 m of tide are half of it, at 9 and at 15 hours."""
    water = Water(datum_depth_m=0.0, tide=TIDE)
    ((start, end),) = water.shallower_than(3.0, at(5), at(17))
    assert abs(start - at(9)) < dt.timedelta(seconds=1)
    assert abs(end - at(15)) < dt.timedelta(seconds=1)
    first, second = water.shallower_than(3.0, at(0), at(17))
    assert first[0] == at(0)
    assert abs(first[1] - at(3)) < dt.timedelta(seconds=1)
    assert second == (start, end)


@given(st.floats(0.0, 18.0), st.floats(-2.0, 8.0))
def test_a_time_is_in_those_spells_exactly_if_the_water_is_less_then(
    hours: float, depth_m: float
) -> None:
    water = Water(datum_depth_m=0.5, tide=TIDE)
    spells = water.shallower_than(depth_m, at(0), at(18))
    if abs(water.depth_m(at(hours)) - depth_m) > 1e-3:
        inside = any(start <= at(hours) <= end for start, end in spells)
        assert inside is (water.depth_m(at(hours)) < depth_m)
