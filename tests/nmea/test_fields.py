"""Numbers, times, dates and angles of single fields, strict to the letter.

Quanta: a step of 0.0001' is 0.185 m, of 0.001' 1.85 m and of 0.01' 18.5 m, from 1852 m a minute.
"""

import datetime as dt
import math
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pynmea2.nmea_utils import dm_to_sd

from driftlead.nmea import fields
from driftlead.nmea.rejects import Reject, RejectedError
from driftlead.units import KNOT_MPS

LOOKS_RIGHT = st.text("0123456789.+-eE_ ,naif\u0663\u00b2", max_size=12)


def refused(call: Callable[..., Any], *args: Any) -> Reject:
    """The reason for which the call refuses."""
    with pytest.raises(RejectedError) as caught:
        call(*args)
    return caught.value.reason


# -- numbers -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"),
    [("0", 0.0), ("054.7", 54.7), (".5", 0.5), ("5.", 5.0), ("-33.9", -33.9), ("+1.5", 1.5)],
)
def test_plain_decimal_numbers_are_read(text: str, value: float) -> None:
    assert fields.number(text) == value


@pytest.mark.parametrize(
    "text",
    ["", ".", "-", "+", "--5", "+-5", "1.2.3", "1e5", "1E5", " 1", "1 ", "1_0", "nan", "inf",
     "0x10", "1,5", "\u0663", "\u00b2", "1\n", "-nan"],
)  # fmt: skip
def test_what_only_python_takes_for_a_number_is_refused(text: str) -> None:
    assert refused(fields.number, text) is Reject.MALFORMED_NUMBER


def test_a_number_too_large_to_be_finite_is_refused() -> None:
    assert refused(fields.number, "9" * 400) is Reject.IMPOSSIBLE_VALUE
    assert refused(fields.number, "-" + "9" * 400) is Reject.IMPOSSIBLE_VALUE


@given(
    st.decimals(allow_nan=False, allow_infinity=False, places=4, min_value=-9999, max_value=9999)
)
def test_numbers_are_read_to_the_last_digit(value: Decimal) -> None:
    assert fields.number(f"{value:f}") == float(value)


@given(st.one_of(st.text(max_size=12), LOOKS_RIGHT))
def test_a_number_is_finite_or_refused(text: str) -> None:
    try:
        value = fields.number(text)
    except RejectedError:
        return
    assert math.isfinite(value)
    assert value == float(Decimal(text))


def test_an_empty_number_is_unknown_only_where_it_may_be() -> None:
    assert fields.optional_number("") is None
    assert fields.optional_number("1.5") == 1.5
    assert refused(fields.optional_number, "x") is Reject.MALFORMED_NUMBER


# -- directions and speeds ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value"), [("0", 0.0), ("359.99", 359.99), ("360", 0.0), ("360.0", 0.0)]
)
def test_bearings_lie_in_a_circle(text: str, value: float) -> None:
    assert fields.bearing(text) == value


@pytest.mark.parametrize("text", ["-0.1", "360.1", "361", "400", "-90"])
def test_no_bearing_lies_outside_the_circle(text: str) -> None:
    assert refused(fields.bearing, text) is Reject.IMPOSSIBLE_VALUE


def test_an_empty_bearing_is_unknown() -> None:
    assert fields.bearing("") is None
    assert refused(fields.bearing, "N") is Reject.MALFORMED_NUMBER


def test_knots_are_nautical_miles_an_hour() -> None:
    """A nautical mile is 1852 m exactly (International Hydrographic Conference, 1929)."""
    assert fields.knots("1") == 1852 / 3600
    assert fields.knots("10.0") == pytest.approx(5.14444, abs=1e-5)
    assert fields.knots("") is None


@pytest.mark.parametrize("text", ["-0.1", "-5", "300", "1000"])
def test_no_boat_goes_backwards_over_ground_or_at_300_knots(text: str) -> None:
    assert refused(fields.knots, text) is Reject.IMPOSSIBLE_VALUE


def agreed(first: str, second: str) -> float | None:
    """A speed in knots and in km/h."""
    return fields.agreeing_speed(first, KNOT_MPS, second, 1 / 3.6)


@pytest.mark.parametrize(
    ("knots", "kmh"),
    [("5.5", "10.2"), ("0.04", "0.07"), ("0.0", "0.1"), ("5.2", "9.7"), ("5.2", "9.6"),
     ("30.0", "55.5"), ("30.0", "56.5")],
)  # fmt: skip
def test_two_units_that_agree_but_for_rounding_give_the_first(knots: str, kmh: str) -> None:
    assert agreed(knots, kmh) == pytest.approx(float(knots) * 1852 / 3600)


@pytest.mark.parametrize(
    ("knots", "kmh"),
    [("5.5", "5.5"), ("0.2", "1.0"), ("0.0", "1.0"), ("1.0", "0.0"), ("10.0", "20.0")],
)
def test_two_units_that_disagree_are_refused(knots: str, kmh: str) -> None:
    assert refused(agreed, knots, kmh) is Reject.CONTRADICTING_UNITS


def test_one_unit_alone_is_enough() -> None:
    assert agreed("5.5", "") == pytest.approx(5.5 * 1852 / 3600)
    assert agreed("", "10.2") == pytest.approx(10.2 / 3.6)
    assert agreed("", "") is None
    assert refused(agreed, "", "-1") is Reject.IMPOSSIBLE_VALUE
    assert refused(agreed, "5.5", "x") is Reject.MALFORMED_NUMBER


def test_depths_end_at_the_deepest_trench() -> None:
    """Challenger Deep is about 10 900 m deep (common knowledge)."""
    assert fields.depth(0.0) == 0.0
    assert fields.depth(10_900.0) == 10_900.0
    assert refused(fields.depth, -0.1) is Reject.IMPOSSIBLE_VALUE
    assert refused(fields.depth, 12_000.1) is Reject.IMPOSSIBLE_VALUE


def test_a_transducer_is_no_farther_from_the_waterline_than_a_hull_is_deep() -> None:
    assert fields.transducer_offset(-2.1) == -2.1
    assert fields.transducer_offset(0.5) == 0.5
    assert refused(fields.transducer_offset, 51.0) is Reject.IMPOSSIBLE_VALUE
    assert refused(fields.transducer_offset, -51.0) is Reject.IMPOSSIBLE_VALUE


# -- times and dates ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "tod_s"),
    [
        ("000000", 0.0),
        ("123519", 45_319.0),
        ("123519.", 45_319.0),
        ("123519.00", 45_319.0),
        ("184353.07", 67_433.07),
        ("172809.456", 62_889.456),
        ("172809.4567", 62_889.4567),
        ("235959.999", 86_399.999),
        ("235960", 86_400.0),  # a leap second
    ],
)
def test_times_of_day_are_seconds_since_midnight(text: str, tod_s: float) -> None:
    assert fields.time_of_day(text) == pytest.approx(tod_s, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    ["246060", "240000", "126000", "123461", "12351", "1235", "-12351", "12:35:19", "123519,5",
     "123519.x", "123519.5.5", "1235195", "12.519", "1.2345", "123519.-5", "\u0663" * 6,
     "123519.\u0663", "123519.1e1", " 123519"],
)  # fmt: skip
def test_times_that_no_clock_shows_are_refused(text: str) -> None:
    assert refused(fields.time_of_day, text) is Reject.MALFORMED_TIME


def test_an_empty_time_is_unknown() -> None:
    assert fields.time_of_day("") is None


@given(st.times())
def test_every_time_of_day_comes_back(time: dt.time) -> None:
    midnight = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)
    since = dt.datetime.combine(midnight, time, dt.UTC) - midnight
    assert fields.time_of_day(f"{time:%H%M%S.%f}") == pytest.approx(since.total_seconds(), abs=1e-7)


@given(st.text("0123456789.-", max_size=10))
def test_a_time_is_within_the_day_or_refused(text: str) -> None:
    try:
        tod_s = fields.time_of_day(text)
    except RejectedError:
        return
    assert tod_s is None or 0.0 <= tod_s < 86_401.0


@pytest.mark.parametrize(
    ("text", "date"),
    [
        ("191194", dt.date(1994, 11, 19)),
        ("280511", dt.date(2011, 5, 28)),
        ("060180", dt.date(1980, 1, 6)),  # the first day of GPS time (IS-GPS-200)
        ("311279", dt.date(2079, 12, 31)),
        ("290224", dt.date(2024, 2, 29)),
    ],
)
def test_dates_of_six_digits(text: str, date: dt.date) -> None:
    assert fields.date_ddmmyy(text) == date


@pytest.mark.parametrize(
    "text", ["310226", "290223", "000126", "010026", "011326", "320126", "1126", "0101260", "0a01",
             "\u0661\u0661\u0661\u0661\u0661\u0661", "-10126"]
)  # fmt: skip
def test_days_that_no_calendar_has_are_refused(text: str) -> None:
    assert refused(fields.date_ddmmyy, text) is Reject.MALFORMED_DATE


def test_an_empty_date_is_unknown() -> None:
    assert fields.date_ddmmyy("") is None
    assert fields.date_from_parts("", "07", "1996") is None
    assert fields.date_from_parts("12", "", "1996") is None
    assert fields.date_from_parts("12", "07", "") is None


def test_a_date_in_parts() -> None:
    assert fields.date_from_parts("12", "07", "1996") == dt.date(1996, 7, 12)
    assert fields.date_from_parts("1", "7", "1996") == dt.date(1996, 7, 1)


@pytest.mark.parametrize(
    "parts",
    [("31", "02", "2026"), ("00", "01", "2026"), ("12", "13", "2026"), ("12", "07", "96"),
     ("12", "07", "19960"), ("12", "07", "0000"), ("9" * 30, "07", "1996"),
     ("12", "9" * 30, "1996"), ("\u0661", "07", "1996"), ("12", "\u0661", "1996"),
     ("1.", "07", "1996"), ("-1", "07", "1996")],
)  # fmt: skip
def test_parts_that_make_no_date_are_refused(parts: tuple[str, str, str]) -> None:
    """A day of thirty digits too, which no machine integer holds."""
    assert refused(fields.date_from_parts, *parts) is Reject.MALFORMED_DATE


# -- positions ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "side", "degrees"),
    [
        ("4807.038", "N", 48.1173),
        ("1929.045", "S", -19.484083333),
        ("4916.45", "N", 49.274166667),
        ("0000.0000", "N", 0.0),
        ("9000.000", "S", -90.0),
        ("5959.9999", "N", 59.999998333),
        ("4807", "N", 48.116666667),
        ("4807.", "N", 48.116666667),
    ],
)
def test_latitudes(text: str, side: str, degrees: float) -> None:
    assert fields.latitude(text, side) == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "side", "degrees"),
    [
        ("01131.000", "E", 11.516666667),
        ("12311.12", "W", -123.185333333),
        ("00630.3371", "W", -6.505618333),
        ("18000.000", "E", 180.0),
        ("18000.000", "W", -180.0),
    ],
)
def test_longitudes(text: str, side: str, degrees: float) -> None:
    assert fields.longitude(text, side) == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    ["37.352387", "48.1173", "-4807.038", "4860.000", "4899.9", "807.038", "04807.038", "480.7038",
     "4807,038", "4807.0x8", "4807.038.1", "", "4807.03\u0668", "+807.038", "4 07.038"],
)  # fmt: skip
def test_what_is_not_degrees_and_minutes_is_refused(text: str) -> None:
    """The first one is decimal degrees, which some talkers send (a test of pynmea2 has it)."""
    assert refused(fields.latitude, text, "N") is Reject.MALFORMED_POSITION


@pytest.mark.parametrize(
    "text", ["7.036", "-122.5", "122.5", "12360.0", "2311.12", "012311.12", "1231", ""]
)
def test_what_is_not_degrees_and_minutes_of_longitude_is_refused(text: str) -> None:
    assert refused(fields.longitude, text, "W") is Reject.MALFORMED_POSITION


def test_the_earth_ends_at_its_poles() -> None:
    assert refused(fields.latitude, "9000.001", "N") is Reject.IMPOSSIBLE_VALUE
    assert refused(fields.latitude, "9500.0", "S") is Reject.IMPOSSIBLE_VALUE
    assert refused(fields.longitude, "18000.001", "E") is Reject.IMPOSSIBLE_VALUE
    assert refused(fields.longitude, "19959.9", "W") is Reject.IMPOSSIBLE_VALUE


@pytest.mark.parametrize("side", ["", "n", "E", "NS", " "])
def test_a_latitude_without_its_hemisphere_is_refused(side: str) -> None:
    assert refused(fields.latitude, "4807.038", side) is Reject.UNKNOWN_CODE


@pytest.mark.parametrize("side", ["", "e", "N", "EW"])
def test_a_longitude_without_its_hemisphere_is_refused(side: str) -> None:
    assert refused(fields.longitude, "01131.000", side) is Reject.UNKNOWN_CODE


@given(st.integers(0, 89), st.integers(0, 59), st.integers(0, 9999), st.sampled_from("NS"))
def test_latitudes_agree_with_pynmea2(degrees: int, minutes: int, part: int, side: str) -> None:
    text = f"{degrees:02d}{minutes:02d}.{part:04d}"
    expected = dm_to_sd(text) * (1 if side == "N" else -1)
    assert fields.latitude(text, side) == pytest.approx(expected, abs=1e-12)


@given(st.integers(0, 179), st.integers(0, 59), st.integers(0, 99999), st.sampled_from("EW"))
def test_longitudes_agree_with_pynmea2(degrees: int, minutes: int, part: int, side: str) -> None:
    text = f"{degrees:03d}{minutes:02d}.{part:05d}"
    expected = dm_to_sd(text) * (1 if side == "E" else -1)
    assert fields.longitude(text, side) == pytest.approx(expected, abs=1e-12)


@given(st.text("0123456789.-", max_size=11), st.sampled_from(["N", "S", "E", "W", ""]))
def test_a_position_lies_on_the_earth_or_is_refused(text: str, side: str) -> None:
    for read, limit_deg in ((fields.latitude, 90.0), (fields.longitude, 180.0)):
        try:
            degrees = read(text, side)
        except RejectedError:
            continue
        assert -limit_deg <= degrees <= limit_deg


@pytest.mark.parametrize(
    ("text", "quantum_m"),
    [("4807.0380", 0.1852), ("4807.038", 1.852), ("4807.03", 18.52), ("4807.03801", 0.01852),
     ("4807.0", 185.2), ("4807.", 1852.0), ("4807", 1852.0)],
)  # fmt: skip
def test_the_quantum_is_the_step_of_the_last_decimal(text: str, quantum_m: float) -> None:
    assert fields.quantum_m(text) == pytest.approx(quantum_m)


def test_a_letter_is_the_right_one_or_left_out() -> None:
    fields.letter("T", "T")
    fields.letter("", "T")
    assert refused(fields.letter, "M", "T") is Reject.UNKNOWN_CODE
    assert refused(fields.letter, "t", "T") is Reject.UNKNOWN_CODE
