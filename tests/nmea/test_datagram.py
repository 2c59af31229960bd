"""Datagrams, plain and of IEC 61162-450 (headers from memory of the standard)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.nmea.datagram import datagram_lines
from driftlead.nmea.tag_block import split_tag_block

GLL = "$GPGLL,4916.45,N,12311.12,W,225444,A,*1D"
HDT = "$GPHDT,123.456,T*32"


@pytest.mark.parametrize("end", ["", "\r\n", "\n"])
def test_plain_datagram(end: str) -> None:
    """A plain datagram needs no final line end."""
    assert datagram_lines((GLL + end).encode()) == [GLL]


@pytest.mark.parametrize("end", ["", "\r\n"])
def test_several_sentences(end: str) -> None:
    """A datagram may hold several sentences."""
    assert datagram_lines(f"{GLL}\r\n{HDT}{end}".encode()) == [GLL, HDT]


def test_450_tag_blocks_stay() -> None:
    """A 450 datagram keeps its tag blocks in the lines."""
    tagged = [f"\\s:GP0001*5F\\{GLL}", f"\\g:3-3-1234*59\\{HDT}"]
    lines = datagram_lines(b"UdPbC\0" + "".join(line + "\r\n" for line in tagged).encode())
    assert lines == tagged
    assert [split_tag_block(line)[1] for line in lines] == [GLL, HDT]


@pytest.mark.parametrize("header", [b"RaUdP\0", b"RrUdP\0", b"NkPgN\0"])
def test_450_binary(header: bytes) -> None:
    """A 450 datagram that carries no sentences gives no lines, whatever its bytes look like."""
    assert datagram_lines(header + b"\x01\x02\r\n$GPHDT,123.456,T*32\r\n") == []


@pytest.mark.parametrize("data", [b"", b"\r\n", b"UdPbC\0", b"UdPbC\0\r\n"])
def test_empty_datagram(data: bytes) -> None:
    """An empty datagram gives no lines."""
    assert datagram_lines(data) == []


def test_foreign_datagram() -> None:
    """What only resembles a 450 header is a line like any other garbage."""
    assert datagram_lines(b"UdP\0") == ["UdP\0"]
    assert datagram_lines(b"\xffPbC\0\0") == ["\xffPbC\0\0"]


def test_overlong_line() -> None:
    """An overlong line does not hide the sentence after it."""
    assert datagram_lines(b"x" * 2000 + b"\r\n" + HDT.encode()) == [HDT]


@given(st.binary(max_size=300))
def test_any_bytes(data: bytes) -> None:
    """No bytes raise, and no line is empty or holds a line end."""
    assert all(line and "\r" not in line and "\n" not in line for line in datagram_lines(data))
