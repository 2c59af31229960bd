"""UTC as the receiver tells it, against Python's calendar and real week rollovers."""

import datetime as dt
import re
import tarfile
import time
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from driftlead.nmea.decode import Decoder
from driftlead.nmea.observations import PositionReport
from driftlead.nmea.receiver_clock import ReceiverClock

DAY = dt.date(2026, 6, 1)
DAY_BEFORE = dt.date(2026, 5, 31)
DAY_S = 86_400.0


def tod(hours: int, minutes: int = 0, seconds: float = 0.0) -> float:
    return hours * 3600 + minutes * 60 + seconds


def unix(date: dt.date, tod_s: float) -> float:
    """Unix seconds by Python's calendar."""
    midnight = dt.datetime.combine(date, dt.time(), dt.UTC)
    return midnight.timestamp() + tod_s


def told(
    *heard: tuple[float, float, dt.date | None], earliest: dt.date | None = None
) -> list[float | None]:
    """UTC right after each sentence of (mono_s, tod_s, date)."""
    clock = ReceiverClock(earliest)
    utcs = []
    for mono_s, tod_s, date in heard:
        clock.hear(mono_s, tod_s, date)
        utcs.append(clock.utc_s(mono_s))
    return utcs


# -- what it knows -----------------------------------------------------------------------------


def test_nothing_is_known_before_the_receiver_has_told_date_and_time() -> None:
    clock = ReceiverClock()
    assert clock.utc_s(0.0) is None
    clock.hear(1.0, tod(12), None)
    assert clock.utc_s(1.0) is None
    clock.hear(2.0, tod(12, 0, 1), DAY)
    assert clock.utc_s(2.0) == unix(DAY, tod(12, 0, 1))


def test_between_sentences_the_monotonic_clock_carries_on() -> None:
    clock = ReceiverClock()
    clock.hear(100.0, tod(12), DAY)
    assert clock.utc_s(100.25) == unix(DAY, tod(12, 0, 0.25))
    assert clock.utc_s(4000.0) == unix(DAY, tod(13, 5))


def test_each_sentence_sets_it_right() -> None:
    """Our clock may be fast or slow; the receiver's is not."""
    clock = ReceiverClock()
    clock.hear(100.0, tod(12), DAY)
    clock.hear(101.7, tod(12, 0, 1), None)
    assert clock.utc_s(101.7) == unix(DAY, tod(12, 0, 1))
    clock.hear(102.2, tod(12, 0, 2), DAY)
    assert clock.utc_s(102.7) == unix(DAY, tod(12, 0, 2.5))


def test_the_computer_s_clock_is_never_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock that will not be read, and a night in 1994 that it cannot know of."""

    def refuse() -> float:
        pytest.fail("somebody asked the computer for the time")

    for name in ("time", "time_ns", "monotonic", "monotonic_ns", "gmtime", "localtime"):
        monkeypatch.setattr(time, name, refuse)
    clock = ReceiverClock()
    date = dt.date(1994, 11, 19)
    clock.hear(5.0, tod(22, 54, 46), date)
    utc_s = clock.utc_s(6.0)
    monkeypatch.undo()
    assert utc_s == unix(date, tod(22, 54, 47))


# -- midnight ----------------------------------------------------------------------------------


def test_midnight_with_the_date_on_time() -> None:
    assert told(
        (0.0, tod(23, 59, 59), DAY_BEFORE), (1.0, 0.0, DAY), (1.1, 0.0, None), (2.0, 1.0, DAY)
    ) == [unix(DAY, -1.0), unix(DAY, 0.0), unix(DAY, 0.0), unix(DAY, 1.0)]


def test_midnight_without_dates() -> None:
    assert told(
        (0.0, tod(23, 59, 59), DAY_BEFORE), (1.0, 0.0, None), (2.0, 1.0, None)
    ) == [unix(DAY, -1.0), unix(DAY, 0.0), unix(DAY, 1.0)]  # fmt: skip


@pytest.mark.parametrize("undated_first", [True, False])
def test_midnight_with_the_date_a_few_sentences_late(undated_first: bool) -> None:
    """Some receivers go on sending yesterday's date with today's time."""
    clock = ReceiverClock()
    clock.hear(0.0, tod(23, 59, 59), DAY_BEFORE)
    for second in range(90):
        date = DAY_BEFORE if second < 45 else DAY
        for heard in (None, date) if undated_first else (date, None):
            clock.hear(1.0 + second, float(second), heard)
            assert clock.utc_s(1.0 + second) == unix(DAY, second)


def test_two_sentences_that_disagree_about_the_date_after_midnight() -> None:
    """ZDA has the new date at once, RMC half a minute later."""
    clock = ReceiverClock()
    clock.hear(0.0, tod(23, 59, 59), DAY_BEFORE)
    for second in range(60):
        for date in (DAY, DAY_BEFORE if second < 30 else DAY):
            clock.hear(1.0 + second, float(second), date)
            assert clock.utc_s(1.0 + second) == unix(DAY, second)


def test_a_date_that_does_not_change_for_a_minute_is_believed() -> None:
    clock = ReceiverClock()
    clock.hear(0.0, tod(23, 59, 59), DAY_BEFORE)
    clock.hear(1.0, 0.0, DAY_BEFORE)
    clock.hear(60.0, 59.0, DAY_BEFORE)
    assert clock.utc_s(60.0) == unix(DAY, 59.0)
    clock.hear(62.0, 61.0, DAY_BEFORE)
    assert clock.utc_s(62.0) == unix(DAY_BEFORE, 61.0)


@pytest.mark.parametrize("date", [None, DAY])
def test_a_straggler_from_before_midnight_does_not_add_a_day(date: dt.date | None) -> None:
    """A GLL of the second before arrives after the first sentence of the new day."""
    straggler = None if date is None else DAY_BEFORE
    assert told(
        (0.0, tod(23, 59, 59), DAY_BEFORE),
        (1.0, 0.0, DAY),
        (1.2, tod(23, 59, 59), straggler),
        (2.0, 1.0, date),
        (2.2, 0.0, None),
        (3.0, 2.0, DAY),
    ) == [unix(DAY, at) for at in (-1.0, 0.0, -1.0, 1.0, 0.0, 2.0)]


def test_silence_over_midnight() -> None:
    assert told((0.0, tod(20), DAY_BEFORE), (3600.0 * 9, tod(5), None)) == [
        unix(DAY_BEFORE, tod(20)),
        unix(DAY, tod(5)),
    ]


def test_silence_of_most_of_a_day_is_no_straggler() -> None:
    """From 00:00:10 to 23:59:50 the same day, as our own clock saw it pass."""
    assert told((0.0, 10.0, DAY), (86_380.0, tod(23, 59, 50), None))[1] == unix(
        DAY, tod(23, 59, 50)
    )


@given(
    st.datetimes(dt.datetime(1990, 1, 1), dt.datetime(2070, 1, 1)),  # noqa: DTZ001
    st.lists(
        st.tuples(
            st.one_of(st.floats(0.1, 20.0), st.floats(20.0, 11.9 * 3600)),
            st.sampled_from(["none", "date", "late"]),
        ),
        max_size=30,
    ),
)
@example(dt.datetime(2026, 5, 31, 23, 59, 59), [(1.0, "late"), (1.0, "none")])  # noqa: DTZ001
def test_it_follows_any_receiver_that_tells_the_truth(
    start: dt.datetime, talk: list[tuple[float, str]]
) -> None:
    """With dates, without, and with yesterday's in the first minute of a day."""
    now = start.replace(tzinfo=dt.UTC)
    clock = ReceiverClock()
    mono_s = 50.0
    clock.hear(mono_s, since_midnight(now), now.date())
    for step_s, dated in talk:
        now += dt.timedelta(seconds=step_s)
        mono_s += step_s
        date = None if dated == "none" else now.date()
        if dated == "late" and since_midnight(now) < 59.0:
            date = now.date() - dt.timedelta(days=1)
        clock.hear(mono_s, since_midnight(now), date)
        assert clock.utc_s(mono_s) == pytest.approx(now.timestamp(), abs=1e-3)


def since_midnight(moment: dt.datetime) -> float:
    return tod(moment.hour, moment.minute, moment.second + moment.microsecond / 1e6)


def test_a_leap_second_is_lived_through() -> None:
    """23:59:60 on 31 December 2016 was the last one inserted (IERS Bulletin C 52)."""
    last = dt.date(2016, 12, 31)
    first = dt.date(2017, 1, 1)
    utcs = told(
        (0.0, tod(23, 59, 59), last),
        (1.0, tod(23, 59, 60), last),
        (2.0, 0.0, first),
        (3.0, 1.0, first),
    )
    # Unix time has no name for it: the first second of the year is counted twice.
    assert utcs == [1_483_228_799.0, 1_483_228_800.0, 1_483_228_800.0, 1_483_228_801.0]


def test_a_leap_second_without_dates() -> None:
    last = dt.date(2016, 12, 31)
    utcs = told((0.0, tod(23, 59, 60), last), (1.0, 0.0, None), (2.0, 1.0, None))
    assert utcs == [1_483_228_800.0, 1_483_228_800.0, 1_483_228_801.0]


# -- the week rollover -------------------------------------------------------------------------


def test_a_date_1024_weeks_old_is_moved_on() -> None:
    """The week number began anew on 22 August 1999 and on 7 April 2019 (IS-GPS-200)."""
    clock = ReceiverClock(dt.date(2019, 1, 1))
    clock.hear(0.0, tod(0, 4, 30), dt.date(1999, 8, 22))
    assert clock.utc_s(0.0) == unix(dt.date(2019, 4, 7), tod(0, 4, 30))
    assert clock.weeks_corrected == 1024


def test_a_date_two_cycles_old_is_moved_on_twice() -> None:
    clock = ReceiverClock(dt.date(2019, 1, 1))
    clock.hear(0.0, 1.0, dt.date(1980, 1, 6))
    assert clock.utc_s(0.0) == unix(dt.date(2019, 4, 7), 1.0)
    assert clock.weeks_corrected == 2048


def test_a_date_that_is_late_enough_is_left_alone() -> None:
    clock = ReceiverClock(DAY)
    clock.hear(0.0, 1.0, DAY)
    assert clock.utc_s(0.0) == unix(DAY, 1.0)
    assert clock.weeks_corrected == 0


def test_old_recordings_keep_their_dates() -> None:
    clock = ReceiverClock(None)
    clock.hear(0.0, 1.0, dt.date(1999, 8, 22))
    assert clock.utc_s(0.0) == unix(dt.date(1999, 8, 22), 1.0)
    assert clock.weeks_corrected == 0


def test_a_receiver_that_comes_to_itself_is_corrected_no_more() -> None:
    clock = ReceiverClock(dt.date(2026, 1, 1))
    clock.hear(0.0, tod(12), dt.date(2006, 10, 16))
    assert clock.utc_s(0.0) == unix(DAY, tod(12))
    assert clock.weeks_corrected == 1024
    clock.hear(1.0, tod(12, 0, 1), DAY)
    assert clock.utc_s(1.0) == unix(DAY, tod(12, 0, 1))
    assert clock.weeks_corrected == 0


def test_midnight_goes_on_in_a_cycle_that_is_corrected() -> None:
    """The receiver says 16 and 17 October 2006, 1024 weeks before June 2026."""
    earliest = dt.date(2026, 1, 1)
    old, new = dt.date(2006, 10, 16), dt.date(2006, 10, 17)
    next_day = dt.date(2026, 6, 2)
    assert told(
        (0.0, tod(23, 59, 59), old), (1.0, 0.0, old), (2.0, 1.0, new), earliest=earliest
    ) == [unix(next_day, at) for at in (-1.0, 0.0, 1.0)]


@given(st.dates(dt.date(1980, 1, 6), dt.date(2079, 12, 31)), st.dates(DAY, dt.date(2100, 1, 1)))
def test_a_correction_is_of_whole_cycles_and_no_larger_than_needed(
    date: dt.date, earliest: dt.date
) -> None:
    clock = ReceiverClock(earliest)
    clock.hear(0.0, 0.0, date)
    utc_s = clock.utc_s(0.0)
    assert utc_s is not None
    corrected = dt.datetime.fromtimestamp(utc_s, dt.UTC).date()
    assert (corrected - date).days == 7 * clock.weeks_corrected
    assert clock.weeks_corrected % 1024 == 0
    assert corrected >= earliest
    assert clock.weeks_corrected == 0 or corrected - dt.timedelta(weeks=1024) < earliest


@pytest.mark.real
def test_a_real_receiver_that_started_cold_in_the_night_of_the_rollover(shared_real: Path) -> None:
    """A regression log of gpsd of 7 April 2019, in which the receiver comes to say 22 August 1999.

    Before, it says 7 April 2019, and after power-up dates in 2006 and 2010 that mean nothing.
    """
    with tarfile.open(shared_real / "gpsd-nmea-logs.tar.gz") as tar:
        stream = tar.extractfile("gp-320fw-2019-04-07-coldboot.log")
        assert stream is not None
        lines = re.split(r"[\r\n]+", stream.read().decode("latin-1"))
    clock, decoder = ReceiverClock(dt.date(2019, 1, 1)), Decoder()
    weeks = []
    for number, line in enumerate(lines):
        report = decoder.decode(line)
        if isinstance(report, PositionReport) and report.tod_s is not None:
            clock.hear(number / 10, report.tod_s, report.date)
            weeks.append(clock.weeks_corrected)
    assert weeks[0] == 0
    assert weeks[-1] == 1024
    utc_s = clock.utc_s(len(lines) / 10)
    assert utc_s is not None
    assert dt.datetime.fromtimestamp(utc_s, dt.UTC).date() == dt.date(2019, 4, 7)


# -- logs put together, receivers started anew -------------------------------------------------


@pytest.mark.parametrize("earlier", [DAY_BEFORE, dt.date(2025, 6, 1), dt.date(1994, 11, 19)])
def test_an_older_log_after_a_newer_one_takes_the_date_back(earlier: dt.date) -> None:
    assert told((0.0, tod(14), DAY), (1.0, tod(10), earlier), (2.0, tod(10, 0, 1), earlier)) == [
        unix(DAY, tod(14)),
        unix(earlier, tod(10)),
        unix(earlier, tod(10, 0, 1)),
    ]


def test_an_earlier_log_of_the_same_day_does_not_add_a_day() -> None:
    """First the evening, then the small hours before it: the date says that it is the same day."""
    assert told((0.0, tod(20), DAY), (1.0, tod(2), DAY), (2.0, tod(2, 0, 1), None)) == [
        unix(DAY, tod(20)),
        unix(DAY, tod(2)),
        unix(DAY, tod(2, 0, 1)),
    ]


def test_a_receiver_started_anew_is_believed_again_when_it_has_a_date() -> None:
    """It counts from midnight until it has satellites; this is not the next day."""
    clock = ReceiverClock()
    clock.hear(0.0, tod(14), DAY)
    clock.hear(5.0, 2.0, None)
    clock.hear(60.0, tod(14, 1), DAY)
    assert clock.utc_s(60.0) == unix(DAY, tod(14, 1))


# -- logs that never say a date ----------------------------------------------------------------


def test_a_date_can_be_assumed_for_a_log_that_never_says_one() -> None:
    clock = ReceiverClock()
    clock.assume_date(DAY_BEFORE)
    assert clock.utc_s(0.0) is None
    clock.hear(0.0, tod(23, 59, 59), None)
    assert clock.utc_s(0.0) == unix(DAY_BEFORE, tod(23, 59, 59))
    clock.hear(1.0, 0.0, None)
    assert clock.utc_s(1.0) == unix(DAY, 0.0)


def test_a_date_that_is_told_outweighs_one_that_is_assumed() -> None:
    clock = ReceiverClock()
    clock.assume_date(dt.date(2000, 1, 1))
    clock.hear(0.0, tod(12), DAY)
    assert clock.utc_s(0.0) == unix(DAY, tod(12))
    clock.assume_date(dt.date(2000, 1, 1))
    clock.hear(1.0, tod(12, 0, 1), None)
    assert clock.utc_s(1.0) == unix(DAY, tod(12, 0, 1))
