"""The recording format: lossless, strict, and cheap."""

import contextlib
import math
import re
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from driftlead.errors import RecordingError
from driftlead.lines import StampedLine
from driftlead.recording.format import (
    HEADER,
    KINDS,
    RecordedInput,
    format_input,
    format_line,
    is_recording,
    parse_recorded,
    quantise_s,
)

# A place in the open ocean.
SENTENCE = "$GPRMC,225446.00,A,4630.1000,N,03112.2000,W,0.5,054.7,190626,,,A*45"

times_s = st.floats(allow_nan=False, allow_infinity=False).map(quantise_s)
BYTES = "".join(map(chr, range(256)))
# Sampled, as hypothesis takes many seconds to sort all of Unicode on a small machine: a command
# comes from outside and may hold any character, a lone surrogate included. (A pair of them is one
# character in JSON, so no pair can come from there.)
BEYOND = BYTES + "\u0100\u0661\u2028\u20ac\ud800\ufeff\U0001f600"
latin1 = st.text(st.sampled_from(BYTES))
names = st.text(st.sampled_from("abcxyz019-"), min_size=1)
texts = st.text(st.sampled_from(BEYOND), max_size=20)
json_values = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats(allow_nan=False, allow_infinity=False)
    | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=8,
)


def test_a_line_is_recorded_as_seconds_source_and_text() -> None:
    """The layout is a promise to everybody who reads recordings with other tools."""
    line = StampedLine(12.345678, "gps", SENTENCE)
    assert format_line(line) == f"12.345678 gps {SENTENCE}"
    assert parse_recorded(f"12.345678 gps {SENTENCE}\n") == line


def test_an_input_is_recorded_as_compact_json_with_sorted_keys() -> None:
    """Equal inputs must give equal bytes."""
    text = format_input(12.4, "command", {"rode_m": 30.0, "command": "veer"})
    assert text == '12.400000 !command {"command":"veer","rode_m":30.0}'
    assert parse_recorded(text) == RecordedInput(12.4, "command", {"command": "veer", "rode_m": 30})


@pytest.mark.parametrize(
    ("raw", "written"),
    [
        ("\xff\x00", "^FF^00"),
        ("5^", "5^5E"),
        ("a\rb\n", "a^0Db^0A"),
        ("\x7f~ ", "^7F~ "),
        ("", ""),
    ],
)
def test_noise_on_the_wire_is_written_as_its_bytes(raw: str, written: str) -> None:
    """What is not printable ASCII becomes ``^HH``, and nothing else does."""
    assert format_line(StampedLine(0.0, "gps", raw)) == f"0.000000 gps {written}"
    assert parse_recorded(f"0.000000 gps {written}") == StampedLine(0.0, "gps", raw)


@settings(deadline=None)
@given(mono_s=times_s, source=names, text=latin1)
@example(mono_s=-0.0, source="gps", text="")
@example(mono_s=4294967.295001, source="gps", text="^5E ^")
def test_any_line_comes_back_identical(mono_s: float, source: str, text: str) -> None:
    """Any quantised time and any bytes survive, in one line of printable ASCII."""
    line = StampedLine(mono_s, source, text)
    written = format_line(line)
    assert re.fullmatch(r"[ -~]*", written)
    for line_end in ("", "\n", "\r\n"):
        assert parse_recorded(written + line_end) == line


@settings(deadline=None)
@given(
    mono_s=times_s,
    kind=st.sampled_from(sorted(KINDS)),
    data=st.dictionaries(texts, json_values, max_size=5),
)
@example(mono_s=1.0, kind="fault", data={"text": "\x7f^\n\ud800"})
def test_any_input_comes_back_identical(mono_s: float, kind: str, data: dict[str, Any]) -> None:
    """Any JSON object survives, in one line of printable ASCII."""
    written = format_input(mono_s, kind, data)
    assert re.fullmatch(r"[ -~]*", written)
    assert parse_recorded(written + "\n") == RecordedInput(mono_s, kind, data)


@settings(deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_quantised_time_is_its_own_text_again(mono_s: float) -> None:
    """Six decimals give back the identical float, and quantising twice changes nothing."""
    quantised_s = quantise_s(mono_s)
    assert float(f"{quantised_s:.6f}") == quantised_s
    assert quantise_s(quantised_s) == quantised_s


@settings(deadline=None)
@given(texts | st.text(st.sampled_from('0123456789. !gpsend#^{}"\n-_eE')))
def test_wild_text_is_refused_by_our_error_or_read(text: str) -> None:
    """Parsing raises nothing but RecordingError, and what it reads has a finite time."""
    with contextlib.suppress(RecordingError):
        read = parse_recorded(text)
        assert read is None or math.isfinite(read.mono_s)


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("12.345678", "three fields"),
        ("12.345678 gps", "three fields"),
        ("12.34567 gps $GPRMC", "'12.34567' is not seconds with six decimals"),
        ("1e3 gps $GPRMC", "'1e3' is not seconds"),
        ("nan gps $GPRMC", "'nan' is not seconds"),
        ("1_2.345678 gps $GPRMC", "is not seconds"),
        ("\u0661.345678 gps $GPRMC", "is not seconds"),  # an Arabic digit
        ("9" * 400 + ".000000 gps $GPRMC", "too large"),
        (" 12.345678 gps $GPRMC", "is not seconds"),
        ("12.345678  gps $GPRMC", "'' is not the name of a source"),
        ("12.345678 #gps $GPRMC", "'#gps' is not the name of a source"),
        ("12.345678 gps $GP^5", "'^5' is not an escape"),
        ("12.345678 gps $GP^5e", "'^5e' is not an escape"),
        ("12.345678 gps $GP^", "'^' is not an escape"),
        ("12.345678 gps a\tb", r"'\t' should be escaped"),
        ("12.345678 gps ^41\xe9", "'\xe9' should be escaped"),
        ("12.345678 gps one\n12.345679 gps two", r"'\n' should be escaped"),
        ("12.345678 !weather {}", "'!weather' is not a kind of input"),
        ("12.345678 !command {", "not JSON"),
        ("12.345678 !command [1]", "not a JSON object"),
        ('12.345678 !command {"rode_m":NaN}', "NaN is not a number"),
        ("12.345678 !command " + "[" * 100_000, "not JSON"),
        ("# driftlead recording, format one", "'one' is not a format number"),
    ],
)
def test_a_malformed_line_is_refused_and_the_fault_named(text: str, named: str) -> None:
    """The error says which field is wrong, what stands there, and what to do."""
    with pytest.raises(RecordingError) as caught:
        parse_recorded(text)
    assert named in caught.value.message
    assert caught.value.remedy
    assert len(str(caught.value)) < 400


def test_a_newer_format_is_refused_with_a_remedy() -> None:
    """An old driftlead does not guess at what a newer one wrote."""
    newer = "# driftlead recording, format 2"
    assert is_recording(newer)
    with pytest.raises(RecordingError, match="format 2") as caught:
        parse_recorded(newer)
    assert "newer" in caught.value.remedy


@pytest.mark.parametrize("text", [HEADER, HEADER + "\r\n", "# 12 lines lost", "#", "", "\n", "  "])
def test_comments_and_blank_lines_say_nothing(text: str) -> None:
    """A recording may be annotated, and parts may be joined with their headers."""
    assert parse_recorded(text) is None


def test_a_recording_is_known_by_its_first_line() -> None:
    """Nothing else is mistaken for one."""
    assert is_recording(HEADER)
    assert is_recording(HEADER + "\n")
    for other in ("", SENTENCE, "# some notes", "12.345678 gps $GPRMC"):
        assert not is_recording(other)


@pytest.mark.parametrize("source", ["", "a b", "!tick", "#gps", "gps\n", "m\xe2t"])
def test_a_source_name_that_would_read_as_something_else_is_refused(source: str) -> None:
    """Otherwise the recording would give back another line than was heard."""
    with pytest.raises(RecordingError, match="source name"):
        format_line(StampedLine(1.0, source, "x"))


def test_what_cannot_be_recorded_is_refused_with_the_value() -> None:
    """Times that are no numbers, text beyond latin-1, unknown kinds, data that is not JSON."""
    with pytest.raises(RecordingError, match="nan"):
        format_line(StampedLine(math.nan, "gps", "x"))
    with pytest.raises(RecordingError, match="\u20ac"):
        format_line(StampedLine(1.0, "gps", "\u20ac"))
    with pytest.raises(RecordingError, match="inf"):
        format_input(math.inf, "tick", {})
    with pytest.raises(RecordingError, match="weather"):
        format_input(1.0, "weather", {})
    with pytest.raises(RecordingError, match="JSON"):
        format_input(1.0, "command", {"rode_m": math.nan})
    with pytest.raises(RecordingError, match="JSON"):
        format_input(1.0, "command", {"rode_m": object()})
