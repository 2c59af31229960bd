"""The hours of a stay."""

import datetime as dt

import pytest

from driftlead.errors import UserInputError
from driftlead.planning.room_hours import Hour, hours_of
from driftlead.tide.reading import read_tide_csv

NIGHT = read_tide_csv(
    "2026-06-14 18:50,3.9m\n2026-06-15 01:05,1.1m\n2026-06-15 07:20,3.8m\n",
    name="tides.csv",
    zone=dt.UTC,
)
EVENING = dt.datetime(2026, 6, 14, 20, 0, tzinfo=dt.UTC)


def test_the_hours_hold_the_beginning_every_turn_and_the_end() -> None:
    """Low water at 01:05 lies between two whole hours and is looked at all the same."""
    hours = hours_of(NIGHT, EVENING, EVENING + dt.timedelta(hours=6, minutes=30))
    clocks = ["20:00", "21:00", "22:00", "23:00", "00:00", "01:00", "01:05", "02:00", "02:30"]
    assert [hour.text for hour in hours] == clocks
    assert hours[0].rise_m == 0.0
    assert min(hours, key=lambda hour: hour.rise_m).text == "01:05"


def test_the_fall_to_low_water_is_what_the_table_gives() -> None:
    """From high water at 18:50 to low water at 01:05 it is 2.8 m."""
    high = dt.datetime(2026, 6, 14, 18, 50, tzinfo=dt.UTC)
    hours = hours_of(NIGHT, high, dt.datetime(2026, 6, 15, 1, 5, tzinfo=dt.UTC))
    assert hours[-1].rise_m == pytest.approx(-2.8)


def test_times_are_shown_in_the_zone_of_the_stay() -> None:
    """Turns too, whatever zone the table has them in."""
    zone = dt.timezone(dt.timedelta(hours=-2))
    begins = EVENING.astimezone(zone)
    hours = hours_of(NIGHT, begins, begins + dt.timedelta(hours=6))
    assert (hours[0].text, hours[-2].text) == ("18:00", "23:05")


@pytest.mark.parametrize("hours", [0, -1, 73])
def test_a_stay_of_no_length_or_of_many_days_is_refused(hours: int) -> None:
    """Each hour costs time to look at."""
    with pytest.raises(UserInputError, match="three days"):
        hours_of(NIGHT, EVENING, EVENING + dt.timedelta(hours=hours))


def test_a_table_that_does_not_cover_the_stay_is_refused() -> None:
    """The table's own words say which hours it lacks."""
    with pytest.raises(UserInputError, match="does not cover"):
        hours_of(NIGHT, EVENING, EVENING + dt.timedelta(hours=14))


def test_without_a_tide_there_is_no_time_to_show() -> None:
    """One hour without a name."""
    assert Hour().text == ""
