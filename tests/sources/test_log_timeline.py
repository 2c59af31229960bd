"""The time a log tells, against hand-made days and pynmea2's reading of a real one."""

import gzip
from datetime import timedelta
from functools import reduce
from pathlib import Path

import pynmea2
import pytest

from driftlead.errors import RecordingError
from driftlead.lines import StampedLine
from driftlead.recording.format import HEADER, format_input, format_line
from driftlead.sources.log_timeline import RecordedTimeline, SentenceTimeline, timeline_for


def sentence(body: str, *, good: bool = True) -> str:
    """Write a sentence with its checksum, or a wrong one."""
    total = reduce(lambda sofar, char: sofar ^ ord(char), body, 0 if good else 1)
    return f"${body}*{total:02X}"


def zda(hhmmss: str, *, good: bool = True) -> str:
    """Write a ZDA sentence."""
    return sentence(f"GPZDA,{hhmmss},12,07,2026,00,00", good=good)


def elapsed_s(lines: list[str]) -> list[float]:
    """Tell the elapsed seconds at each line."""
    timeline = SentenceTimeline()
    told = []
    for line in lines:
        assert timeline.take(line) == line
        told.append(timeline.elapsed_s)
    return told


def times_s(*times: str) -> list[float]:
    """Tell the elapsed seconds at ZDA sentences of these times."""
    return elapsed_s([zda(time) for time in times])


def test_each_kind() -> None:
    """RMC, GGA, GLL and ZDA all tell the time; other sentences go with the one before."""
    assert elapsed_s(
        [
            "$GPHDT,123.456,T*32",
            sentence("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W"),
            sentence("GPGLL,4807.038,N,01131.000,E,123520,A"),
            "$GPHDT,123.456,T*32",
            sentence("GPGGA,123522,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"),
            zda("123522.50"),
            "\\s:GP0001*5F\\" + zda("123523"),
        ]
    ) == [0.0, 0.0, 1.0, 1.0, 3.0, 3.5, 4.0]


def test_midnight() -> None:
    """Time goes on over midnight."""
    assert times_s("235959", "000001") == [0.0, 2.0]


def test_straggler() -> None:
    """A sentence that tells an older time, as some receivers interleave, moves nothing."""
    assert times_s("120000", "120001", "120000", "120001", "120002") == [0.0, 1.0, 1.0, 1.0, 2.0]


def test_clock_set_back() -> None:
    """A clock set back goes on from there, and does not stop the log until it has caught up."""
    assert times_s("120000", "113000", "113001") == [0.0, 0.0, 1.0]


def test_clock_set_on() -> None:
    """A clock set on by hours, as after a cold start, is not hours of waiting."""
    assert times_s("000005", "093000", "093001") == [0.0, 0.0, 1.0]


def test_silence() -> None:
    """Minutes in which the receiver said nothing pass as they did."""
    assert times_s("120000", "122100") == [0.0, 1260.0]


def test_damaged_sentence() -> None:
    """A sentence with a bad checksum tells no time."""
    assert elapsed_s([zda("120000"), zda("123000", good=False), zda("120001")]) == [0.0, 0.0, 1.0]


def test_without_checksums() -> None:
    """A log without checksums has its pace all the same."""
    assert elapsed_s(["$GPZDA,120000,12,07,2026,00,00", "$GPZDA,120002,12,07,2026,00,00"]) == [
        0.0,
        2.0,
    ]


@pytest.mark.real
def test_real_log(shared_real: Path) -> None:
    """Three hours of a real receiver last as long as pynmea2 reads from its RMC sentences."""
    with gzip.open(shared_real / "garmin-road-3h-0.5hz.nmea.gz", "rt", encoding="latin-1") as file:
        lines = file.read().splitlines()
    timeline = SentenceTimeline()
    for line in lines:
        timeline.take(line)
    rmc = [pynmea2.parse(line) for line in lines if line.startswith("$GPRMC")]
    lasted: timedelta = rmc[-1].datetime - rmc[0].datetime
    assert lasted > timedelta(hours=3)
    assert timeline.elapsed_s == pytest.approx(lasted.total_seconds(), abs=1e-6)


def recording(*inputs: str) -> list[tuple[float, str | None]]:
    """Take the lines of a recording; elapsed seconds and text at each."""
    timeline = timeline_for(HEADER, only=None)
    assert isinstance(timeline, RecordedTimeline)
    assert timeline.take(HEADER) is None
    told = []
    for line in inputs:
        text = timeline.take(line)
        told.append((timeline.elapsed_s, text))
    return told


def line_at(mono_s: float, text: str = "x", source: str = "gps") -> str:
    """Record a line."""
    return format_line(StampedLine(mono_s, source, text))


def test_recording() -> None:
    """A recording's lines keep their distances, get back their bytes, and leave the rest out."""
    assert recording(
        line_at(50.25, "$a"),
        format_input(50.5, "command", {"command": "weigh"}),
        line_at(50.75, "\x00^\xff"),
    ) == [(0.0, "$a"), (0.0, None), (0.5, "\x00^\xff")]


def test_parts() -> None:
    """A part recorded after a restart follows at once: the clock may have begun anew."""
    part = format_input(3.0, "part", {})
    assert recording(line_at(500.0), part, line_at(7.0), line_at(9.0)) == [
        (0.0, "x"),
        (0.0, None),
        (0.0, "x"),
        (2.0, "x"),
    ]


def test_backwards() -> None:
    """Recorded time that goes back moves nothing."""
    assert [told for told, _text in recording(line_at(5.0), line_at(4.0), line_at(6.0))] == [
        0.0,
        0.0,
        2.0,
    ]


def test_one_source() -> None:
    """One source of several can be picked; the time then starts at its first line."""
    timeline = RecordedTimeline(only="gps")
    lines = [line_at(1.0, "$a", "wind"), line_at(2.0, "$b"), line_at(3.5, "$c")]
    assert [timeline.take(line) for line in lines] == [None, "$b", "$c"]
    assert timeline.elapsed_s == 1.5


def test_damaged_recording() -> None:
    """A damaged line is refused by the format's own words."""
    with pytest.raises(RecordingError, match="Not a line of a recording"):
        RecordedTimeline(only=None).take("what is this")


def test_bare_is_not_recording() -> None:
    """A log that does not begin with the header is bare NMEA, comments or not."""
    assert isinstance(timeline_for("# made by hand", only=None), SentenceTimeline)
