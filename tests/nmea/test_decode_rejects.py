"""Bad lines, each counted under its one reason; and what the decoder remembers of them."""

from functools import reduce

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.nmea.decode import Decoder
from driftlead.nmea.observations import HeadingReport, North, Observation
from driftlead.nmea.rejects import Reject

PLACE = "4630.1000,N,03112.2000,W"
GOOD = "$GPHDT,123.456,T*32"
"""From the tests of go-nmea."""


def total(body: str) -> int:
    """The checksum by a plain loop."""
    return reduce(lambda sofar, char: sofar ^ ord(char), body, 0)


def sentence(body: str) -> str:
    """A sentence with its checksum."""
    return f"${body}*{total(body) & 0xFF:02X}"


def decoded(text: str) -> Observation:
    """The observation in a sentence that is good, and counted as such."""
    decoder = Decoder()
    observation = decoder.decode(text)
    assert observation is not None, (text, decoder.rejected, decoder.unsupported)
    assert counts(decoder) == (1, 0, 0)
    return observation


def counts(decoder: Decoder) -> tuple[int, int, int]:
    """How many lines were accepted, of no use, and rejected."""
    return (
        decoder.accepted.total(),
        decoder.unsupported.total(),
        decoder.rejected.total(),
    )


def rejected(text: str, *, require_checksum: bool = True) -> Reject:
    """The one reason under which a line is counted, and under nothing else."""
    decoder = Decoder(require_checksum=require_checksum)
    assert decoder.decode(text) is None
    assert counts(decoder) == (0, 0, 1), (text, decoder.accepted, decoder.unsupported)
    [reason] = decoder.rejected
    return reason


# -- bad sentences -----------------------------------------------------------------------------


def rmc(time: str = "120000", status: str = "A", place: str = PLACE, sog: str = "0.1",
        cog: str = "10", date: str = "010126", tail: str = ",,,A") -> str:  # fmt: skip
    return f"GPRMC,{time},{status},{place},{sog},{cog},{date}{tail}"


BAD_BODIES = [
    # positions
    ("GPGGA,120000,37.352387,N,122.062100,W,1,08,0.9,0,M,0,M,,", Reject.MALFORMED_POSITION),
    (rmc(place="4660.000,N,03112.2000,W"), Reject.MALFORMED_POSITION),
    (rmc(place="4630.1000,N,03160.0000,W"), Reject.MALFORMED_POSITION),
    (rmc(place="4630.1000,N,3112.2000,W"), Reject.MALFORMED_POSITION),
    (rmc(place=",,,"), Reject.MALFORMED_POSITION),
    (rmc(place="-4630.1000,N,03112.2000,W"), Reject.MALFORMED_POSITION),
    (rmc(place="9000.001,N,03112.2000,W"), Reject.IMPOSSIBLE_VALUE),
    (rmc(place="9530.1000,N,03112.2000,W"), Reject.IMPOSSIBLE_VALUE),
    (rmc(place="4630.1000,N,18000.0001,W"), Reject.IMPOSSIBLE_VALUE),
    (rmc(place="4630.1000,,03112.2000,W"), Reject.UNKNOWN_CODE),
    (rmc(place="4630.1000,E,03112.2000,W"), Reject.UNKNOWN_CODE),
    (rmc(place="4630.1000,N,03112.2000,S"), Reject.UNKNOWN_CODE),
    ("GPGLL,4630.1000,X,03112.2000,W,120000,A", Reject.UNKNOWN_CODE),
    # times and dates
    (rmc(time="246060"), Reject.MALFORMED_TIME),
    (rmc(time="12000"), Reject.MALFORMED_TIME),
    (rmc(time="12:00:00"), Reject.MALFORMED_TIME),
    ("GPZDA,246060,12,07,1996,00,00", Reject.MALFORMED_TIME),
    (f"GPGGA,126000,{PLACE},1,08,0.9,0,M,0,M,,", Reject.MALFORMED_TIME),
    (f"GPGLL,{PLACE},12000x,A,A", Reject.MALFORMED_TIME),
    (rmc(date="310226"), Reject.MALFORMED_DATE),
    (rmc(date="10126"), Reject.MALFORMED_DATE),
    ("GPZDA,172809,31,02,2026,00,00", Reject.MALFORMED_DATE),
    ("GPZDA,172809,12,07,96,00,00", Reject.MALFORMED_DATE),
    ("GPZDA,172809,99999999999999999999,07,1996,00,00", Reject.MALFORMED_DATE),
    # numbers
    (rmc(sog="-0.1"), Reject.IMPOSSIBLE_VALUE),
    (rmc(sog="400"), Reject.IMPOSSIBLE_VALUE),
    (rmc(sog="0,1"), Reject.MALFORMED_DATE),  # a comma for a point shifts what follows
    (rmc(sog="1e1"), Reject.MALFORMED_NUMBER),
    (rmc(sog="nan"), Reject.MALFORMED_NUMBER),
    (rmc(cog="361"), Reject.IMPOSSIBLE_VALUE),
    (rmc(cog="-10"), Reject.IMPOSSIBLE_VALUE),
    (rmc(tail=",200,E,A"), Reject.IMPOSSIBLE_VALUE),
    (f"GPGGA,120000,{PLACE},1,8.0,0.9,0,M,0,M,,", Reject.MALFORMED_NUMBER),
    (f"GPGGA,120000,{PLACE},1,-8,0.9,0,M,0,M,,", Reject.MALFORMED_NUMBER),
    (f"GPGGA,120000,{PLACE},1,08,-0.9,0,M,0,M,,", Reject.IMPOSSIBLE_VALUE),
    (f"GPGGA,120000,{PLACE},1,08,x,0,M,0,M,,", Reject.MALFORMED_NUMBER),
    ("GPHDT,361,T", Reject.IMPOSSIBLE_VALUE),
    ("GPHDT,-1,T", Reject.IMPOSSIBLE_VALUE),
    ("GPHDT,north,T", Reject.MALFORMED_NUMBER),
    ("HCHDG,98.3,181,E,,", Reject.IMPOSSIBLE_VALUE),
    ("HCHDG,98.3,,,-7.1,E", Reject.IMPOSSIBLE_VALUE),
    ("WIMWV,361.0,R,10.0,N,A", Reject.IMPOSSIBLE_VALUE),
    ("WIMWV,045.0,R,-1.0,N,A", Reject.IMPOSSIBLE_VALUE),
    ("WIMWV,045.0,R,250.0,N,A", Reject.IMPOSSIBLE_VALUE),
    ("WIMWV,045.0,R,ten,N,A", Reject.MALFORMED_NUMBER),
    ("WIMWD,225.0,T,,M,,N,120.0,M", Reject.IMPOSSIBLE_VALUE),
    ("SDDPT,-0.5,0.5", Reject.IMPOSSIBLE_VALUE),
    ("SDDPT,20000,0.5", Reject.IMPOSSIBLE_VALUE),
    ("SDDPT,5.0,1000000", Reject.IMPOSSIBLE_VALUE),
    ("SDDPT,5.0,x", Reject.MALFORMED_NUMBER),
    ("IIDBT,,f,-1.0,M,,F", Reject.IMPOSSIBLE_VALUE),
    # two units that contradict one another
    ("GPVTG,054.7,T,034.4,M,005.5,N,005.5,K", Reject.CONTRADICTING_UNITS),
    ("IIVHW,,T,,M,5.0,N,5.0,K", Reject.CONTRADICTING_UNITS),
    ("IIDBT,32.9,f,32.9,M,5.4,F", Reject.CONTRADICTING_UNITS),
    ("IIDBT,32.9,f,10.0,M,10.0,F", Reject.CONTRADICTING_UNITS),
    # letters
    (rmc(status="X"), Reject.UNKNOWN_CODE),
    (rmc(tail=",,,Z"), Reject.UNKNOWN_CODE),
    (f"GPGGA,120000,{PLACE},A,08,0.9,0,M,0,M,,", Reject.UNKNOWN_CODE),
    (f"GPGLL,{PLACE},120000,N,V", Reject.UNKNOWN_CODE),
    (f"GPGLL,{PLACE},120000,A,Q", Reject.UNKNOWN_CODE),
    (f"GNGNS,120000,{PLACE},AZ,14,1.3,2.5,50.0,,", Reject.UNKNOWN_CODE),
    ("GPGSA,A,4,,,,,,,,,,,,,1.6,1.6,1.0", Reject.UNKNOWN_CODE),
    ("GPGSA,A,,,,,,,,,,,,,,1.6,1.6,1.0", Reject.UNKNOWN_CODE),
    ("GPHDT,123.4,M", Reject.UNKNOWN_CODE),
    ("HCHDM,123.4,T", Reject.UNKNOWN_CODE),
    ("HCHDG,98.3,1.0,X,,", Reject.UNKNOWN_CODE),
    ("HCHDG,98.3,1.0,,,", Reject.UNKNOWN_CODE),
    ("HCHDG,98.3,,,7.1,", Reject.UNKNOWN_CODE),
    ("HETHS,123.4,T", Reject.UNKNOWN_CODE),
    ("WIMWV,045.0,R,10.0,X,A", Reject.UNKNOWN_CODE),
    ("WIMWV,045.0,X,10.0,N,A", Reject.UNKNOWN_CODE),
    ("WIMWV,045.0,R,10.0,N,X", Reject.UNKNOWN_CODE),
    ("WIMWD,225.0,T,,M,19.4,M,10.0,N", Reject.UNKNOWN_CODE),
    ("IIDBT,10.0,M,32.9,f,5.4,F", Reject.UNKNOWN_CODE),
    ("GPVTG,054.7,M,,T,005.5,N,010.2,K", Reject.UNKNOWN_CODE),
    ("GPVTG,054.7,T,,M,005.5,K,010.2,N", Reject.UNKNOWN_CODE),
    ("GPVTG,054.7,T,,M,005.5,N,010.2,N", Reject.UNKNOWN_CODE),
    ("GPVTG,054.7,T,,M,005.5,N,010.2,K,Z", Reject.UNKNOWN_CODE),
    ("GPVTG,054.7,034.4,005.5,010.2", Reject.UNKNOWN_CODE),  # VTG of version 1 had no letters
    ("IIVHW,1.0,M,2.0,M,5.0,N,9.3,K", Reject.UNKNOWN_CODE),
    ("IIVHW,1.0,T,2.0,T,5.0,N,9.3,K", Reject.UNKNOWN_CODE),
    ("IIVHW,1.0,T,2.0,M,5.0,K,9.3,K", Reject.UNKNOWN_CODE),
    ("IIVHW,1.0,T,2.0,M,5.0,N,9.3,N", Reject.UNKNOWN_CODE),
    # cut short, with a checksum that fits
    (f"GPRMC,120000,A,{PLACE},0.1,10", Reject.TOO_FEW_FIELDS),
    ("GPRMC", Reject.TOO_FEW_FIELDS),
    (f"GPGGA,120000,{PLACE},1,08", Reject.TOO_FEW_FIELDS),
    ("GPGGA,120000,4630.1000,N", Reject.TOO_FEW_FIELDS),
    (f"GNGNS,120000,{PLACE},A", Reject.TOO_FEW_FIELDS),
    ("GPVTG,054.7,T", Reject.TOO_FEW_FIELDS),
    ("GPZDA,172809", Reject.TOO_FEW_FIELDS),
    ("GPZDA,172809,12", Reject.TOO_FEW_FIELDS),
    ("GPZDA,172809,12,07", Reject.TOO_FEW_FIELDS),
    ("GPGSA,A,1,,,,", Reject.TOO_FEW_FIELDS),
    ("GPHDT,123.4", Reject.TOO_FEW_FIELDS),
    ("HETHS,123.4", Reject.TOO_FEW_FIELDS),
    ("HCHDG,98.3,1.0", Reject.TOO_FEW_FIELDS),
    ("WIMWV,045.0,R,10.0", Reject.TOO_FEW_FIELDS),
    ("WIMWD,225.0,T,,M", Reject.TOO_FEW_FIELDS),
    ("SDDPT", Reject.TOO_FEW_FIELDS),
    ("IIDBT,32.9,f", Reject.TOO_FEW_FIELDS),
    ("IIVHW,1.0,T", Reject.TOO_FEW_FIELDS),
    # addresses
    ("gprmc,120000,A", Reject.BAD_ADDRESS),
    ("GPrmc,120000,A", Reject.BAD_ADDRESS),
    ("GPRM,120000,A", Reject.BAD_ADDRESS),
    ("GPGGAX,120000", Reject.BAD_ADDRESS),
    ("GP-GA,120000", Reject.BAD_ADDRESS),
    ("12345,120000", Reject.BAD_ADDRESS),
    ("", Reject.BAD_ADDRESS),
    (",", Reject.BAD_ADDRESS),
    ("G\xc9GGA,1", Reject.BAD_ADDRESS),
    ("PSRFTXTWK:   1488", Reject.BAD_ADDRESS),  # a real receiver's free text
]  # fmt: skip


@pytest.mark.parametrize(("body", "reason"), BAD_BODIES)
def test_bad_sentences_are_counted_under_their_reason(body: str, reason: Reject) -> None:
    assert rejected(sentence(body)) is reason


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("", Reject.NO_START),
        ("# a comment", Reject.NO_START),
        ("GPHDT,123.456,T*32", Reject.NO_START),
        ("\xb5b\x01\x07", Reject.NO_START),
        ("$", Reject.NO_CHECKSUM),
        ("$GPHDT,123.456,T", Reject.NO_CHECKSUM),
        ("$GPHDT,123.4", Reject.NO_CHECKSUM),
        ("$GPHDT,123.456,T*", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T*3", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T*33", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.457,T*32", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T*G2", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T* 2", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T*+2", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T*322", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T*32 and more", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T*32\\x", Reject.BAD_CHECKSUM),
        ("$*", Reject.BAD_CHECKSUM),
        ("$*00", Reject.BAD_ADDRESS),
        ("$**2A", Reject.BAD_ADDRESS),
        ("$" + "GPTXT," + "x" * 114, Reject.TOO_LONG),
        (GOOD + "$GPHDT,1", Reject.NO_CHECKSUM),
    ],
)
def test_bad_lines_are_counted_under_their_reason(line: str, reason: Reject) -> None:
    assert rejected(line) is reason


def test_a_sentence_may_be_longer_than_the_standard_says_up_to_a_limit() -> None:
    """The standard says 82; real receivers send 100 and more."""
    longest = sentence("GPHDT,123.456,T," + "x" * 100)
    assert len(longest) == 120
    assert decoded(longest)
    assert rejected(sentence("GPHDT,123.456,T," + "x" * 101)) is Reject.TOO_LONG


@pytest.mark.parametrize("end", ["", "\r", "\n", "\r\n", "  "])
def test_line_ends_and_blanks_after_the_sentence_do_not_matter(end: str) -> None:
    assert decoded(GOOD + end) == HeadingReport("GP", 123.456, North.TRUE)


@pytest.mark.parametrize("digits", ["2F", "2f"])
def test_the_checksum_may_be_in_small_letters(digits: str) -> None:
    """The tests of go-nmea have both."""
    assert decoded(f"$GPHDT,4,T*{digits}") == HeadingReport("GP", 4.0, North.TRUE)


@pytest.mark.parametrize(
    "before", ["\xb5b\x01\x07\x00", "$GPGGA,1200", "$GPGGA,120000*11", "!AIVDM,1,1", "garbage "]
)
def test_the_last_sentence_in_a_line_is_the_one_that_can_be_whole(before: str) -> None:
    """A receiver starts anew in mid-sentence, or sends binary in between."""
    assert decoded(before + GOOD) == HeadingReport("GP", 123.456, North.TRUE)


def test_no_checksum_is_taken_where_the_config_says_so() -> None:
    decoder = Decoder(require_checksum=False)
    assert decoder.decode("$GPHDT,123.456,T") == HeadingReport("GP", 123.456, North.TRUE)
    assert decoder.decode("$GPHDT,123.456,T\r\n") == HeadingReport("GP", 123.456, North.TRUE)
    assert decoder.accepted == {"HDT": 2}


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("$GPHDT,123.456,T*33", Reject.BAD_CHECKSUM),
        ("$GPHDT,123.456,T*3", Reject.BAD_CHECKSUM),
        ("$GPHDT,361,T", Reject.IMPOSSIBLE_VALUE),
        ("$GPHDT", Reject.TOO_FEW_FIELDS),
        ("$", Reject.BAD_ADDRESS),
        ("GPHDT,123.456,T", Reject.NO_START),
    ],
)
def test_a_checksum_that_is_there_must_be_right_all_the_same(line: str, reason: Reject) -> None:
    assert rejected(line, require_checksum=False) is reason


def tagged(body: str, text: str, *, good: bool = True) -> str:
    return f"\\{body}*{total(body) ^ (0 if good else 1):02X}\\{text}"


def test_a_tag_block_is_proved_and_taken_off() -> None:
    assert decoded(tagged("s:GP0001,n:5,c:1241544035", GOOD)) == decoded(GOOD)
    assert decoded(tagged("g:1-2-1234", tagged("s:GP0001", GOOD))) == decoded(GOOD)


@pytest.mark.parametrize(
    "line",
    [
        tagged("s:GP0001", GOOD, good=False),
        "\\s:GP0001\\" + GOOD,
        "\\s:GP0001*5F" + GOOD,
        "\\" + GOOD,
        tagged("s:GP0001", tagged("n:5", GOOD, good=False)),
    ],
)
def test_a_broken_tag_block_costs_the_sentence(line: str) -> None:
    assert rejected(line) is Reject.BAD_TAG_BLOCK


def test_a_good_tag_block_proves_nothing_of_the_sentence() -> None:
    assert rejected(tagged("s:GP0001", "$GPHDT,123.457,T*32")) is Reject.BAD_CHECKSUM
    assert rejected(tagged("s:GP0001", "")) is Reject.NO_START


# -- what the decoder remembers ----------------------------------------------------------------


def test_a_sentence_heard_again_is_counted_again() -> None:
    decoder = Decoder()
    reports = [decoder.decode(GOOD) for _ in range(3)]
    assert reports == [HeadingReport("GP", 123.456, North.TRUE)] * 3
    assert decoder.accepted == {"HDT": 3}


def test_a_bad_sentence_heard_again_is_rejected_again() -> None:
    decoder = Decoder()
    for _ in range(3):
        assert decoder.decode("$GPHDT,123.456,T*33") is None
        assert decoder.decode(sentence("GPHDT,361,T")) is None
    assert decoder.rejected == {Reject.BAD_CHECKSUM: 3, Reject.IMPOSSIBLE_VALUE: 3}


def test_a_refused_field_leaves_no_trace_in_the_next_sentence() -> None:
    decoder = Decoder()
    good = sentence(rmc())
    assert decoder.decode(sentence(rmc(time="246060"))) is None
    assert decoder.decode(sentence(rmc(place="9530.1000,N,03112.2000,W"))) is None
    first = decoder.decode(good)
    assert decoder.decode(sentence(rmc(time="246060"))) is None
    assert decoder.decode(sentence(rmc(place="4630.1000,X,03112.2000,W"))) is None
    assert decoder.decode(good) == first == decoded(good)
    assert decoder.decode(sentence(rmc(place="4630.1000,X,03112.2000,W"))) is None


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["RMC", "GGA", "GLL", "ZDA"]),
            st.sampled_from(["", "000000", "120000", "120000.00", "120001"]),
            st.sampled_from(["4630.1000", "4630.1001", "4630.100"]),
            st.sampled_from(["N", "S"]),
            st.sampled_from(["03112.2000", "03112.2001"]),
            st.sampled_from(["E", "W"]),
        ),
        max_size=12,
    )
)
def test_what_it_remembers_changes_nothing(talk: list[tuple[str, ...]]) -> None:
    """A decoder that has heard much gives what a new one gives."""
    old = Decoder()
    for kind, time, lat, north, lon, east in talk:
        place = f"{lat},{north},{lon},{east}"
        text = sentence(
            {
                "RMC": f"GPRMC,{time},A,{place},0.1,10,010126,,,A",
                "GGA": f"GPGGA,{time},{place},1,08,0.9,0,M,0,M,,",
                "GLL": f"GPGLL,{place},{time},A,A",
                "ZDA": f"GPZDA,{time},01,01,2026,00,00",
            }[kind]
        )
        assert old.decode(text) == Decoder().decode(text)


def test_a_flood_of_different_sentences_does_not_grow_the_memory() -> None:
    decoder = Decoder()
    for number in range(9000):
        talker = f"{chr(65 + number % 15)}{chr(65 + number // 15 % 26)}"
        assert decoder.decode(sentence(f"{talker}HDT,{number / 25:.2f},T")) is not None
        assert decoder.decode(sentence(f"GP{number % 1000:03d},1")) is None
    assert decoder.accepted == {"HDT": 9000}
    assert decoder.unsupported == {"?": 9000}
    assert len(decoder._seen) <= 4096
    assert len(decoder._addresses) <= 4096
