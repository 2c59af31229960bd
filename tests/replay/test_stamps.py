"""Arrival times for a bare log, from hand-made nights and from a real road."""

import gzip
from functools import reduce
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.replay.stamps import TIMED, BareStamps

PLACE = "4630.1000,N,03112.2000,W"


def sentence(body: str, *, good: bool = True) -> str:
    total = reduce(lambda sofar, char: sofar ^ ord(char), body, 0 if good else 1)
    return f"${body}*{total:02X}"


def timed(kind: str, hhmmss: str, *, talker: str = "GP", good: bool = True) -> str:
    """A sentence of this kind that tells this time."""
    body = {
        "RMC": f"RMC,{hhmmss},A,{PLACE},0.1,,010626,,,A",
        "GGA": f"GGA,{hhmmss},{PLACE},1,09,0.9,0,M,0,M,,",
        "GNS": f"GNS,{hhmmss},{PLACE},A,09,0.9,0,0,,",
        "GLL": f"GLL,{PLACE},{hhmmss},A,A",
        "ZDA": f"ZDA,{hhmmss},01,06,2026,00,00",
    }[kind]
    return sentence(talker + body, good=good)


def stamped(*lines: str) -> list[float]:
    stamps = BareStamps()
    return [stamps.stamp(line) for line in lines]


def at_times(*times: str) -> list[float]:
    return stamped(*(timed("RMC", time) for time in times))


@pytest.mark.parametrize("kind", sorted(TIMED))
def test_each_sentence_that_has_a_time_tells_it(kind: str) -> None:
    assert stamped(timed(kind, "120000"), timed(kind, "120001.50")) == [0.0, 1.5]


def test_a_line_without_a_time_arrived_with_the_one_before_it() -> None:
    assert stamped(
        "# a remark",
        "$GPHDT,123.456,T*32",
        timed("RMC", "120000"),
        "$GPHDT,123.456,T*32",
        timed("GGA", "120000"),
        timed("RMC", "120002"),
        "!AIVDM,1,1,,B,177KQJ5000G?tO`K>RA1wUbN0TKH,0*5C",
        "",
    ) == [0.0, 0.0, 0.0, 0.0, 0.0, 2.0, 2.0, 2.0]


def test_a_receiver_that_does_not_know_the_time_yet_stops_nothing() -> None:
    assert stamped(
        timed("RMC", ""), timed("GLL", ""), timed("RMC", "120000"), timed("RMC", "")
    ) == [0.0, 0.0, 0.0, 0.0]


def test_times_are_whole_microseconds_as_a_recording_keeps_them() -> None:
    times = [f"120000.{tenth}0" for tenth in range(4)]
    assert at_times(*times) == [0.0, 0.1, 0.2, 0.3]


def test_midnight_is_passed() -> None:
    assert at_times("235958", "235959", "000000", "000001") == [0.0, 1.0, 2.0, 3.0]


def test_several_nights_are_counted_on() -> None:
    hours = [f"{hour % 24:02d}0000" for hour in range(22, 22 + 49)]
    assert at_times(*hours) == [3600.0 * hour for hour in range(49)]


def test_a_gap_lasts_as_long_as_the_receiver_was_silent() -> None:
    assert at_times("120000", "122050", "122052") == [0.0, 1250.0, 1252.0]
    assert at_times("120000", "235900") == [0.0, 43_140.0]


def test_two_receivers_a_second_apart_do_not_disturb_each_other() -> None:
    lines = []
    for second in range(10, 20):
        lines += [timed("RMC", f"1200{second}"), timed("RMC", f"1200{second - 1:02d}", talker="II")]
    assert stamped(*lines) == [float(second) for second in range(10) for _ in range(2)]


def test_a_straggler_of_up_to_a_minute_does_not_move_time() -> None:
    assert at_times("120100", "120000", "120101") == [0.0, 0.0, 1.0]


def test_an_older_log_that_follows_begins_a_second_later() -> None:
    assert at_times("140000", "140001", "100000", "100001") == [0.0, 1.0, 2.0, 3.0]
    assert at_times("120100", "115959", "120000") == [0.0, 1.0, 2.0]


def test_a_garbled_time_does_not_leap() -> None:
    """One digit is wrong, and the checksum says so."""
    assert stamped(
        timed("RMC", "120000"),
        timed("RMC", "170001", good=False),
        timed("RMC", "120001"),
        timed("RMC", "020002", good=False),
        timed("RMC", "120002"),
    ) == [0.0, 0.0, 1.0, 1.0, 2.0]


def test_a_garbled_sentence_does_not_begin_the_log() -> None:
    assert stamped(
        timed("RMC", "020000", good=False), timed("RMC", "120000"), timed("RMC", "120001")
    ) == [0.0, 0.0, 1.0]


@pytest.mark.parametrize("time", ["12.519", "1.2345", "126000", "246060", "99", "12:00:05",
                                  "............", "\u0661\u0662\u0660\u0660\u0660\u0665",
                                  "120005x", "-12000"])  # fmt: skip
@pytest.mark.parametrize("good", [True, False])
def test_what_is_no_time_is_none(time: str, good: bool) -> None:
    """Nor does it stop the replay."""
    for kind in sorted(TIMED):
        body = timed(kind, "T")[1:-3].replace(",T,", f",{time},")
        total = reduce(lambda sofar, char: sofar ^ (ord(char) & 255), body, 0 if good else 1)
        assert stamped(
            timed("RMC", "120000"), f"${body}*{total:02X}", timed("RMC", "120001")
        ) == [0.0, 0.0, 1.0]  # fmt: skip


@pytest.mark.parametrize(
    "line",
    ["$GPRMC", "$GPRMC,", "$GPRMC,120005", "$GPGLL", "$GPGLL,,,,", "$GPZDA,1200055", "\\", "\\$",
     "\\s:x*00\\", "xxxGGA,120005,"],
)  # fmt: skip
def test_a_sentence_cut_short_is_taken_for_what_is_left_of_it(line: str) -> None:
    """It moves time by no more than some seconds, and never stops the replay."""
    first, middle, last = stamped(timed("RMC", "120000"), line, timed("RMC", "120006"))
    assert first == 0.0
    assert 0.0 <= middle <= 5.0
    assert last == 6.0


def test_a_tag_block_hides_no_time() -> None:
    tag = "\\s:GP0001,n:5*2E\\"
    assert stamped(tag + timed("RMC", "120000"), tag + "$GPHDT,123.456,T*32",
                   tag + timed("GGA", "120003")) == [0.0, 0.0, 3.0]  # fmt: skip


def test_line_ends_do_not_matter() -> None:
    assert stamped(timed("RMC", "120000") + "\r\n", timed("RMC", "130000") + "\r") == [0.0, 3600.0]


@given(st.lists(st.floats(0.01, 43_000.0), max_size=50))
def test_any_receiver_that_goes_on_is_followed_exactly(steps: list[float]) -> None:
    """To the hundredth, as it is written."""
    stamps, now = BareStamps(), 4_000_000
    begun = now
    for step_s in [0.0, *steps]:
        now += round(step_s * 100)
        seconds, hundredths = divmod(now % 8_640_000, 100)
        time = f"{seconds // 3600:02d}{seconds // 60 % 60:02d}{seconds % 60:02d}.{hundredths:02d}"
        mono_s = stamps.stamp(timed("GGA", time))
        assert mono_s == pytest.approx((now - begun) / 100, abs=1e-4)


@given(
    st.lists(
        st.one_of(
            st.text(max_size=40),
            st.tuples(st.sampled_from(sorted(TIMED)), st.text("0123456789.", max_size=9)).map(
                lambda pair: timed(*pair)
            ),
        ),
        max_size=40,
    )
)
def test_it_never_raises_and_never_runs_backwards(lines: list[str]) -> None:
    told = stamped(*lines)
    assert all(later >= earlier for earlier, later in pairwise(told))
    assert all(mono_s == round(mono_s, 6) for mono_s in told)


@pytest.mark.real
def test_three_real_hours_last_three_hours(shared_real: Path) -> None:
    """Sample data of NmeaParser (Apache-2.0): 184 minutes, over midnight, one gap of 21 minutes."""
    stamps = BareStamps()
    with gzip.open(shared_real / "garmin-road-3h-0.5hz.nmea.gz", "rt", encoding="latin-1") as log:
        told = [stamps.stamp(line) for line in log]
    assert told[0] == 0.0
    assert told[-1] / 60 == pytest.approx(184, abs=0.5)
    gaps = [later - earlier for earlier, later in pairwise(told) if later - earlier > 1200]
    assert gaps == [pytest.approx(21 * 60, abs=30)]
