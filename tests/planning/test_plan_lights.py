"""Sunset and sunrise."""

import datetime as dt
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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


def almanac_ut_h(place: Position, day: dt.date, *, rises: bool) -> float:
    """UT in hours of sunrise or sunset by the algorithm of the Almanac for Computers, 1990.

    Nautical Almanac Office, US Naval Observatory; from memory of its reprints. Its own error is a
    minute or so in middle latitudes.
    """

    def sin(deg: float) -> float:
        return math.sin(math.radians(deg))

    def cos(deg: float) -> float:
        return math.cos(math.radians(deg))

    hour_of_lon = place.lon_deg / 15.0
    t = day.timetuple().tm_yday + ((6.0 if rises else 18.0) - hour_of_lon) / 24.0
    anomaly = 0.9856 * t - 3.289
    lon = (anomaly + 1.916 * sin(anomaly) + 0.020 * sin(2.0 * anomaly) + 282.634) % 360.0
    ra = math.degrees(math.atan2(0.91764 * sin(lon), cos(lon))) % 360.0
    sin_dec = 0.39782 * sin(lon)
    cos_dec = math.sqrt(1.0 - sin_dec**2)
    cos_hour = (cos(90.8333) - sin_dec * sin(place.lat_deg)) / (cos_dec * cos(place.lat_deg))
    hour = math.degrees(math.acos(cos_hour))
    local = ((360.0 - hour if rises else hour) + ra) / 15.0 - 0.06571 * t - 6.622
    return (local - hour_of_lon) % 24.0


def test_the_almanac_offices_worked_example_comes_out() -> None:
    """Wayne, New Jersey, 40.9 N 74.3 W, on 25 June 1990: sunrise 05:26 by its clocks, UT - 4 h.

    The place, the day and the answer are those printed with the algorithm (from memory); it is
    worked here again, which shows that neither figure nor formula is misremembered.
    """
    wayne, day = Position(40.9, -74.3), dt.date(1990, 6, 25)
    assert almanac_ut_h(wayne, day, rises=True) == pytest.approx(9.441, abs=0.001)
    noon = dt.datetime(1990, 6, 24, 12, 0, tzinfo=zone(-4))
    (spell,) = darkness(wayne, noon, noon + dt.timedelta(hours=24)).spells
    printed = dt.datetime(1990, 6, 25, 5, 26, tzinfo=zone(-4))
    assert abs(spell.sunrise - printed) <= dt.timedelta(minutes=1, seconds=30)


@given(
    lat_deg=st.floats(-50.0, 50.0),
    lon_deg=st.floats(-179.0, 179.0),
    day=st.dates(dt.date(2024, 1, 1), dt.date(2034, 12, 31)),
)
@settings(max_examples=60)
def test_anywhere_sunset_and_sunrise_are_those_of_the_almanacs_algorithm(
    lat_deg: float, lon_deg: float, day: dt.date
) -> None:
    """To three minutes: the algorithm's own error, and a day of the year that is off by leap days.

    Reckoned in the zone of the place's own noon, so that a day is a day there.
    """
    place = Position(lat_deg, lon_deg)
    noon = dt.datetime.combine(day, dt.time(12), tzinfo=zone(round(lon_deg / 15.0)))
    (spell,) = darkness(place, noon, noon + dt.timedelta(hours=24)).spells
    for found, rises in ((spell.sunset, False), (spell.sunrise, True)):
        utc = found.astimezone(dt.UTC)
        ut_h = utc.hour + utc.minute / 60.0 + utc.second / 3600.0
        off_h = (almanac_ut_h(place, found.date(), rises=rises) - ut_h + 12.0) % 24.0 - 12.0
        assert abs(off_h) * 60.0 < 3.0


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
