"""Times as people note them."""

import datetime as dt
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.replay.settings import parse_moment
from driftlead.tune.moments import clock_text, moment_text, utc_from

EVENING_S = dt.datetime(2026, 6, 14, 21, 30, tzinfo=dt.UTC).timestamp()


@pytest.mark.parametrize(
    ("time", "expected"),
    [
        (dt.time(21, 30), dt.datetime(2026, 6, 14, 21, 30, tzinfo=dt.UTC)),
        (dt.time(21, 29, 59), dt.datetime(2026, 6, 15, 21, 29, 59, tzinfo=dt.UTC)),
        (dt.time(3, 12), dt.datetime(2026, 6, 15, 3, 12, tzinfo=dt.UTC)),
    ],
)
def test_a_time_of_day_is_the_first_from_the_evening_on(
    time: dt.time, expected: dt.datetime
) -> None:
    assert utc_from(time, EVENING_S) == expected.timestamp()


def test_a_time_with_its_date_is_that_time() -> None:
    moment = dt.datetime(2020, 1, 1, tzinfo=dt.UTC)
    assert utc_from(moment, EVENING_S) == moment.timestamp()


@given(
    st.one_of(
        st.integers(0, 4_000_000_000).map(lambda s: dt.datetime.fromtimestamp(s, dt.UTC)),
        st.times().map(lambda time: time.replace(microsecond=0)),
    )
)
def test_a_moment_is_read_as_it_is_written(moment: dt.datetime | dt.time) -> None:
    assert parse_moment(moment_text(moment)) == moment


def test_a_time_nobody_told_is_dashes() -> None:
    assert clock_text(EVENING_S) == "2026-06-14 21:30"
    assert clock_text(math.nan) == "---------- --:--"
