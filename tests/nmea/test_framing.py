"""The framer, against ``bytes.splitlines``, which was written by others for the same job."""

import tarfile
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.nmea.framing import MAX_LINE_BYTES, LineFramer


def frame(chunks: Sequence[bytes]) -> tuple[list[str], int]:
    """Give the lines of a whole stream, and the overlong count."""
    framer = LineFramer()
    lines = [line for chunk in chunks for line in framer.feed(chunk)]
    return lines + framer.flush(), framer.overlong


def by_splitlines(data: bytes) -> tuple[list[str], int]:
    """Give what the framer should: the same from the library's own splitting."""
    lines = [line for line in data.splitlines() if line]
    kept = [line.decode("latin-1") for line in lines if len(line) <= MAX_LINE_BYTES]
    return kept, len(lines) - len(kept)


def cut(data: bytes, cuts: Sequence[int]) -> list[bytes]:
    """Cut the stream at these places."""
    edges = [0, *sorted(cut_at % (len(data) + 1) for cut_at in cuts), len(data)]
    return [data[start:end] for start, end in pairwise(edges)]


# Mostly line ends and short pieces, and now and then a run around the limit.
PIECES = st.one_of(
    st.sampled_from([b"\r", b"\n", b"\r\n", b"\n\r", b"\0", b"\xff", b"$GPGGA,", b"*47"]),
    st.binary(max_size=8),
    st.builds(lambda n: b"x" * n, st.integers(MAX_LINE_BYTES - 2, MAX_LINE_BYTES + 2)),
)
STREAMS = st.lists(PIECES, max_size=40).map(b"".join)


@given(STREAMS, st.lists(st.integers(0, 50_000), max_size=30))
def test_chunking(data: bytes, cuts: list[int]) -> None:
    """Any chunking of the same bytes gives the lines of splitlines."""
    assert frame(cut(data, cuts)) == by_splitlines(data)


@given(st.binary(max_size=200).filter(lambda data: not set(data) & {10, 13}))
def test_bytes_survive(data: bytes) -> None:
    """Every byte of a line comes back from its text."""
    lines, _overlong = frame([data, b"\r\n"])
    assert b"".join(line.encode("latin-1") for line in lines) == data


@pytest.mark.parametrize("line_end", [b"\r", b"\n", b"\r\n"])
def test_line_at_its_end(line_end: bytes) -> None:
    """A line comes out as soon as its end arrives, not with the next line."""
    framer = LineFramer()
    assert framer.feed(b"$GPGLL,4916.45,N") == []
    assert framer.feed(b",12311.12,W" + line_end) == ["$GPGLL,4916.45,N,12311.12,W"]


def test_greatest_length() -> None:
    """A line of the greatest length is kept and one byte more is dropped."""
    assert frame([b"a" * MAX_LINE_BYTES, b"\n"]) == (["a" * MAX_LINE_BYTES], 0)
    assert frame([b"a" * (MAX_LINE_BYTES + 1), b"\nb\n"]) == (["b"], 1)


def test_flood() -> None:
    """A flood without line end takes bounded memory and counts once."""
    framer = LineFramer()
    for _ in range(1000):
        assert framer.feed(b"\x80" * 4096) == []
        assert len(framer._gathered) <= MAX_LINE_BYTES
    assert framer.feed(b"still the same line\r\n$GPZDA,*\r\n") == ["$GPZDA,*"]
    assert framer.overlong == 1


def test_flush() -> None:
    """A flushed framer starts a new line."""
    framer = LineFramer()
    framer.feed(b"$GPGGA,1235")
    assert framer.flush() == ["$GPGGA,1235"]
    assert framer.flush() == []
    assert framer.feed(b"19\n") == ["19"]


def test_flush_overlong() -> None:
    """Flushing an overlong line gives no line and ends the dropping."""
    framer = LineFramer()
    framer.feed(b"a" * 5000)
    assert framer.flush() == []
    assert framer.feed(b"b\n") == ["b"]


@pytest.mark.real
def test_real_recordings(shared_real: Path) -> None:
    """Real receivers that mix NMEA with binary (logs of the gpsd project), in 7-byte chunks."""
    seen = 0
    with tarfile.open(shared_real / "gpsd-nmea-logs.tar.gz") as tar:
        for name in ("ac12_binary.log", "rx210.log", "ublox-lea-5h.log", "sounder.log"):
            member = tar.extractfile(name)
            assert member is not None
            data = member.read()
            lines, overlong = frame([data[at : at + 7] for at in range(0, len(data), 7)])
            assert (lines, overlong) == by_splitlines(data)
            seen += len(lines)
    assert seen > 500
