"""The checksum, against published sentences and a plain loop over the characters."""

from functools import reduce

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.nmea.checksum import checksum

PUBLISHED = [
    # classic GGA and RMC, printed in every introduction (from memory)
    "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
    "$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68",
    "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
    "$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48",
    "$WIMWV,214.8,R,0.1,K,A*28",
    "!AIVDM,1,1,,B,177KQJ5000G?tO`K>RA1wUbN0TKH,0*5C",
    # tests of pynmea2
    "$GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000*6D",
    "$GPGLL,4916.45,N,12311.12,W,225444,A,*1D",
    "$GPGLL,4916.45,N,12311.12,W,225444,A*31",
    "$GPVTG,108.53,T,,M,0.04,N,0.07,K,A*31",
    "$GPGSA,A,3,02,,,07,,09,24,26,,,,,1.6,1.6,1.0*3D",
    "$IIMWV,271.0,R,000.2,N,A*3B",
    "$AIALR,,006,V,V,AIS:general failure*1A",
    # README of the Elixir package nmea
    "$GPRMC,092751.000,A,5321.6802,N,00630.3371,W,0.06,31.66,280511,,,A*45",
    # tests of go-nmea; the small letters are theirs
    "$GPZDA,172809.456,12,07,1996,00,00*57",
    "$GPHDT,123.456,T*32",
    "$HCHDG,98.3,0.1,E,12.6,W*56",
    "$IIDBT,032.93,f,010.04,M,005.42,F*2C",
    "$SDDPT,0.5,0.5,*7B",
    "$WIMWD,10.1,T,10.1,M,12,N,40,M*5D",
    "$RAALR,220516,001,A,A,Bilge pump alarm1*4c",
    "$VRACK,001*50",
    "$VDALF,1,0,1,220516,B,A,S,SAL,001,1,2,0,My alarm*2c",
]


def body_and_sum(line: str) -> tuple[str, int]:
    """What stands between the start and the star, and the number after it."""
    body, star, digits = line[1:].partition("*")
    assert star
    return body, int(digits, 16)


@pytest.mark.parametrize("line", PUBLISHED)
def test_published_sentences_prove_their_own_checksum(line: str) -> None:
    body, claimed = body_and_sum(line)
    assert checksum(body) == claimed


def test_a_published_wrong_checksum_is_wrong() -> None:
    """A test of pyais keeps this one as bad: it claims 5C and sums to 5F."""
    body, claimed = body_and_sum("!AIVDM,1,1,,A,15M67FC000G?ufbE`FepT@3n00Sa,0*5C")
    assert claimed == 0x5C
    assert checksum(body) == 0x5F


def test_nothing_sums_to_nothing() -> None:
    assert checksum("") == 0


@given(st.text(st.characters(max_codepoint=255), max_size=90))
def test_equals_a_loop_over_the_characters(body: str) -> None:
    assert checksum(body) == reduce(lambda total, char: total ^ ord(char), body, 0)


@pytest.mark.parametrize("length", [1, 2, 3, 63, 64, 127, 128, 129, 255, 256, 257, 1024, 5000])
@pytest.mark.parametrize("where", ["first", "middle", "last"])
def test_every_character_counts_at_any_length(length: int, where: str) -> None:
    """A fold that forgets a part would not see the one character that differs."""
    at = {"first": 0, "middle": length // 2, "last": length - 1}[where]
    body = "A" * at + "B" + "A" * (length - at - 1)
    others = 0x41 if (length - 1) % 2 else 0
    assert checksum(body) == others ^ 0x42


@given(st.text(max_size=300))
def test_takes_any_text_and_stays_a_byte(body: str) -> None:
    """Characters beyond latin-1, which no wire can send, count as a question mark."""
    plain = "".join(char if ord(char) < 256 else "?" for char in body)
    assert checksum(body) == reduce(lambda total, char: total ^ ord(char), plain, 0)
