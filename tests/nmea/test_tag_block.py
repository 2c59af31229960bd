r"""TAG blocks.

The blocks with checksum 4A and 59 are published examples of tagged AIS traffic (from memory; the
checksums, which are theirs, agree). The others are made here, their checksums by a plain loop.
"""

from functools import reduce

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.nmea.tag_block import TagBlock, TagGrouping, split_tag_block

SENTENCE = "$GPGLL,4916.45,N,12311.12,W,225444,A,*1D"


def tagged(body: str, sentence: str = SENTENCE) -> str:
    """Put a block with a right checksum before the sentence."""
    total = reduce(lambda sofar, char: sofar ^ ord(char), body, 0)
    return f"\\{body}*{total:02X}\\{sentence}"


def test_published_block() -> None:
    """A published example is read with its own checksum."""
    text = r"\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A\!AIVDM,1,1,,B,15N4cJ,0*13"
    assert split_tag_block(text) == (
        TagBlock(
            valid=True,
            source="r003669945",
            time_unix_s=1241544035.0,
            line_count=157036,
            grouping=TagGrouping(number=1, total=2, group=73874),
        ),
        "!AIVDM,1,1,,B,15N4cJ,0*13",
    )


def test_published_grouping() -> None:
    """A published block with nothing but its place in a group is read."""
    tag, sentence = split_tag_block("\\g:3-3-1234*59\\" + SENTENCE)
    assert tag == TagBlock(valid=True, grouping=TagGrouping(number=3, total=3, group=1234))
    assert sentence == SENTENCE


def test_no_block() -> None:
    """A line without tag block is all sentence."""
    assert split_tag_block(SENTENCE) == (None, SENTENCE)
    assert split_tag_block("") == (None, "")


def test_source_and_destination() -> None:
    """Source and destination are read, and parameters unknown here passed over."""
    tag, _sentence = split_tag_block(tagged("s:GP0001,d:II0002,x:unknown"))
    assert tag == TagBlock(valid=True, source="GP0001", destination="II0002")


def test_lower_case_checksum() -> None:
    """A checksum in lower case is good."""
    tag, _sentence = split_tag_block(r"\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4a\$")
    assert tag is not None
    assert tag.valid


@pytest.mark.parametrize(
    ("text", "time_unix_s"),
    [
        ("1241544035", 1241544035.0),
        ("1241544035.25", 1241544035.25),
        ("1241544035250", 1241544035.25),
        ("yesterday", None),
        ("-5", None),
        ("", None),
        ("9" * 16, None),
    ],
)
def test_time(text: str, time_unix_s: float | None) -> None:
    """Times are in seconds or milliseconds; others are None."""
    tag, _sentence = split_tag_block(tagged(f"c:{text}"))
    assert tag == TagBlock(valid=True, time_unix_s=time_unix_s)


@pytest.mark.parametrize(
    "body", ["n:many", "n:", "g:1-2", "g:1-2-3-4", "n:" + "1" * 10, "", "nogo"]
)
def test_unreadable_parameter(body: str) -> None:
    """A parameter that cannot be read is none and the block still good."""
    assert split_tag_block(tagged(body)) == (TagBlock(valid=True), SENTENCE)


def test_blocks_in_a_row() -> None:
    """Blocks in a row are read as one."""
    text = tagged("s:GP0001", tagged("g:1-1-7"))
    assert split_tag_block(text) == (
        TagBlock(valid=True, source="GP0001", grouping=TagGrouping(number=1, total=1, group=7)),
        SENTENCE,
    )


@pytest.mark.parametrize(
    ("block", "problem"),
    [
        ("s:GP0001*00", "bad checksum"),
        ("s:GP0001*0", "no checksum"),
        ("s:GP0001*XX", "no checksum"),
        ("s:GP0001", "no checksum"),
        ("", "no checksum"),
    ],
)
def test_broken_block(block: str, problem: str) -> None:
    """A broken block is told and the sentence kept."""
    tag, sentence = split_tag_block(f"\\{block}\\{SENTENCE}")
    assert tag == TagBlock(valid=False, problem=problem)
    assert sentence == SENTENCE


def test_broken_block_of_two() -> None:
    """One broken block of two spoils both."""
    tag, sentence = split_tag_block(tagged("s:GP0001", f"\\g:1-1-7*00\\{SENTENCE}"))
    assert tag == TagBlock(valid=False, problem="bad checksum")
    assert sentence == SENTENCE


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("\\s:GP0001*5F" + SENTENCE, SENTENCE),
        ("\\s:GP0001!AIVDM,1", "!AIVDM,1"),
        ("\\s:GP0001", ""),
        ("\\", ""),
    ],
)
def test_block_without_end(text: str, sentence: str) -> None:
    """A block without end leaves the sentence from its start character."""
    tag, rest = split_tag_block(text)
    assert tag == TagBlock(valid=False, problem="no closing backslash")
    assert rest == sentence


@given(st.text(alphabet=st.characters(max_codepoint=255), max_size=60))
def test_any_text(text: str) -> None:
    """No text raises and what is left is the end of the line."""
    tag, sentence = split_tag_block("\\" + text)
    assert tag is not None
    assert text.endswith(sentence)
    assert not sentence.startswith("\\")


@given(st.text(alphabet=st.characters(exclude_characters="\\*,", max_codepoint=255), max_size=30))
def test_any_source(name: str) -> None:
    """Any source name comes through."""
    tag, sentence = split_tag_block(tagged(f"s:{name}"))
    assert tag == TagBlock(valid=True, source=name)
    assert sentence == SENTENCE
