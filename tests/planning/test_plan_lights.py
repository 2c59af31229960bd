"""Sunset and sunrise."""

import datetime as dt

import pytest

from driftlead.geodesy.position import Position
from driftlead.planning.plan_lights import darkness

LONDON, NEW_YORK, SYDNEY = (
    Position(51.507, -0.128),
    Position(40.713, -74.006),
    Position(-33.87, 151.21),
)
PELLOW_SOUND = Position(46.5, -31.2)
TROMSO = Position(69.65, 18.96)


def zone(hours: float) -> dt.timezone:
    """A zone so many hours east of UTC."""
    return dt.timezone(dt.timedelta(hours=hours))


@pytest.mark.parametrize(
    ("place", "hours", "day", "sunset", "sunrise"),
    [
        (LONDON, 1, "2024-06-20", "21:21", "04:43"),
        (LONDON, 0, "2024-12-20", "15:53", "08:04"),
        (NEW_YORK, -5, "2024-12-20", "16:31", "07:17"),
        (SYDNEY, 11, "2024-12-20", "20:05", "05:42"),
    ],
)
def test_times_are_those_of_the_almanac(
    place: Position, hours: float, day: str, sunset: str, sunrise: str
) -> None:
    """Printed widely for the solstices; from memory, to two minutes."""
    begins = dt.datetime.fromisoformat(f"{day}T12:00").replace(tzinfo=zone(hours))
    (spell,) = darkness(place, begins, begins + dt.timedelta(hours=24)).spells
    next_day = begins + dt.timedelta(days=1)
    for found, when, text in ((spell.sunset, begins, sunset), (spell.sunrise, next_day, sunrise)):
        printed = dt.datetime.fromisoformat(f"{when:%Y-%m-%d}T{text}").replace(tzinfo=zone(hours))
        assert abs(found - printed) <= dt.timedelta(minutes=2, seconds=30)
        assert found.utcoffset() == dt.timedelta(hours=hours)


def test_every_night_of_a_stay_is_told() -> None:
    begins = dt.datetime(2026, 6, 14, 20, 0, tzinfo=zone(-2))
    night = darkness(PELLOW_SOUND, begins, begins + dt.timedelta(hours=12))
    assert len(night.spells) == 1
    assert len(darkness(PELLOW_SOUND, begins, begins + dt.timedelta(hours=60)).spells) == 3
    assert darkness(PELLOW_SOUND, begins, begins + dt.timedelta(hours=12)) == night


def test_a_stay_within_a_night_has_its_sunset_before_it() -> None:
    begins = dt.datetime(2026, 6, 15, 1, 0, tzinfo=zone(-2))
    (spell,) = darkness(PELLOW_SOUND, begins, begins + dt.timedelta(hours=1)).spells
    assert spell.sunset < begins < spell.sunrise


def test_a_stay_by_day_has_none() -> None:
    begins = dt.datetime(2026, 6, 15, 12, 0, tzinfo=zone(-2))
    day = darkness(PELLOW_SOUND, begins, begins + dt.timedelta(hours=2))
    assert day.spells == ()
    assert not day.dark_throughout


@pytest.mark.parametrize(("month", "dark"), [(6, False), (12, True)])
def test_in_the_far_north_it_may_be_day_or_night_throughout(month: int, dark: bool) -> None:
    """Midnight sun and polar night at 69.65 N (common knowledge)."""
    begins = dt.datetime(2026, month, 20, 12, 0, tzinfo=dt.UTC)
    found = darkness(TROMSO, begins, begins + dt.timedelta(hours=12))
    assert found.spells == ()
    assert found.dark_throughout is dark
