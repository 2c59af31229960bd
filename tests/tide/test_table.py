"""The height of the tide between high and low waters."""

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.tide.shares import TideCurve
from driftlead.tide.table import Row, TideTable, Turn, tide_table

DAY = dt.datetime(2026, 6, 14, tzinfo=dt.UTC)


def at(hours: float) -> dt.datetime:
    """So many hours into the day."""
    return DAY + dt.timedelta(hours=hours)


def made(*turns: tuple[float, float], curve: TideCurve = TideCurve.COSINE) -> TideTable:
    """A table of (hours, metres)."""
    rows = [
        Row(where=f"line {number}", turn=Turn(when=at(hours), height_m=height_m))
        for number, (hours, height_m) in enumerate(turns, start=1)
    ]
    return tide_table(rows, name="tides.csv", curve=curve)


TABLE = made((0, 1.0), (6, 5.0), (12.5, 0.6), (19, 5.2))

TABLES = st.lists(
    st.tuples(st.floats(3.0, 13.0), st.floats(0.2, 12.0)), min_size=1, max_size=6
).map(
    lambda runs: made(
        *(
            (sum(h for h, _ in runs[:n]), (0.0 if n % 2 == 0 else 1.0) * runs[max(n - 1, 0)][1])
            for n in range(len(runs) + 1)
        )
    )
)


@pytest.mark.parametrize(
    ("hours", "twelfths"), [(0, 0), (1, 1), (2, 3), (3, 6), (4, 9), (5, 11), (6, 12)]
)
def test_a_six_hour_flood_rises_by_the_rule_of_twelfths(hours: float, twelfths: int) -> None:
    """Cumulative 1, 3, 6, 9, 11, 12; of a range of 4 m over a low water of 1 m."""
    table = made((0, 1.0), (6, 5.0), curve=TideCurve.TWELFTHS)
    assert table.height_m(at(hours)) == pytest.approx(1.0 + 4.0 * twelfths / 12.0)


@given(TABLES, st.floats(0.0, 1.0))
def test_the_height_is_between_those_of_the_turns_around_it(table: TideTable, part: float) -> None:
    when = table.begins + (table.ends - table.begins) * part
    around = table._around(when)
    heights = [turn.height_m for turn in around]
    assert min(heights) - 1e-9 <= table.height_m(when) <= max(heights) + 1e-9


@pytest.mark.parametrize("curve", TideCurve)
def test_at_the_turns_it_is_what_the_table_says(curve: TideCurve) -> None:
    table = TideTable(TABLE.turns, curve)
    for turn in table.turns:
        assert table.height_m(turn.when) == pytest.approx(turn.height_m)


def test_highest_and_lowest_are_turns_if_there_are_any_in_the_time_else_its_ends() -> None:
    assert TABLE.highest(at(3), at(14)) == Turn(when=at(6), height_m=5.0)
    assert TABLE.lowest(at(3), at(14)) == Turn(when=at(12.5), height_m=0.6)
    rising = (at(1), at(4))
    assert TABLE.highest(*rising).when == at(4)
    assert TABLE.lowest(*rising).when == at(1)


@given(TABLES, st.floats(0.0, 1.0), st.sampled_from(TideCurve))
def test_at_the_times_of_a_height_the_tide_has_that_height(
    table: TideTable, share: float, curve: TideCurve
) -> None:
    table = TideTable(table.turns, curve)
    heights = [turn.height_m for turn in table.turns]
    height_m = min(heights) + share * (max(heights) - min(heights))
    times = table.times_at(height_m, table.begins, table.ends)
    assert times
    assert list(times) == sorted(times)
    for when in times:
        assert table.height_m(when) == pytest.approx(height_m, abs=1e-4)


def test_half_tide_is_passed_once_on_every_flood_and_ebb() -> None:
    assert TABLE.times_at(3.0, at(0), at(12)) == pytest.approx(
        (at(3), at(6 + 6.5 * 0.4700)), abs=dt.timedelta(minutes=2)
    )
    assert len(TABLE.times_at(3.0, at(0), at(19))) == 3
    assert TABLE.times_at(5.0, at(0), at(12)) == (at(6),)
    assert TABLE.times_at(1.0, at(0), at(5)) == (at(0),)
    assert TABLE.times_at(9.0, at(0), at(19)) == ()


def test_it_tells_high_waters_from_low() -> None:
    assert [TABLE.is_high(turn) for turn in TABLE.turns] == [False, True, False, True]
    assert [turn.when for turn in TABLE.turns_within(at(6), at(13))] == [at(6), at(12.5)]


@pytest.mark.parametrize("hours", [-0.1, 19.1])
def test_a_time_beyond_the_table_is_refused_with_what_it_covers(hours: float) -> None:
    with pytest.raises(UserInputError) as caught:
        TABLE.height_m(at(hours))
    assert "runs from 2026-06-14 00:00 to 2026-06-14 19:00" in caught.value.message
    assert "Add the high and low waters" in caught.value.remedy


@pytest.mark.parametrize(
    ("turns", "says"),
    [
        ([(0, 1.0)], "There are 1 high and low waters; two are the least"),
        ([], "There are 0 high and low waters"),
        ([(6, 1.0), (0, 5.0)], "line 2: 2026-06-14 00:00 does not come after 2026-06-14 06:00"),
        ([(0, 1.0), (0, 5.0)], "line 2: 2026-06-14 00:00 does not come after"),
        ([(0, 1.0), (6, 1.0)], "line 2: The height is that of line 1"),
        ([(0, 1.0), (6, 5.0), (12, 6.0)], "line 3: 6 m after 5 m goes on rising, so line 2 was no"),
        ([(0, 5.0), (6, 3.0), (12, 1.0)], "line 3: 1 m after 3 m goes on falling, so line 2 was"),
        ([(0, 1.0), (18.5, 5.0)], "line 2: 2026-06-14 18:30 comes 18 h after line 1"),
    ],
)
def test_a_table_that_cannot_be_right_is_refused_with_the_line(
    turns: list[tuple[float, float]], says: str
) -> None:
    with pytest.raises(UserInputError) as caught:
        made(*turns)
    assert caught.value.message.startswith("tides.csv")
    assert says in caught.value.message
    assert caught.value.remedy
