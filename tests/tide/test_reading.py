"""Tide tables as people write them."""

import datetime as dt
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.tide.reading import parse_height_m, parse_zone, read_tide_csv, read_tide_toml
from driftlead.tide.table import TideTable

EAST = dt.timezone(dt.timedelta(hours=1))

CSV = """# Pellow Sound
time,height

2026-06-14 19:10,4.4m
2026-06-15 01:22, -0.2 m
"2026-06-15T07:31","15ft"
2026-06-15 12:40+00:00,0.9m
"""
TOML = """
zone = "+01:00"
times = ["2026-06-14 19:10", 2026-06-15T01:22:00, 2026-06-15T06:31:00Z, "2026-06-15 13:40"]
heights = ["4.4m", "-0.2 m", "15ft", "0.9m"]
"""


def from_csv(text: str) -> TideTable:
    """Read it as a file of that name."""
    return read_tide_csv(text, name="tides.csv", zone=EAST)


def from_toml(text: str) -> TideTable:
    """Read it as a file of that name, from a ship that keeps UTC."""
    return read_tide_toml(tomllib.loads(text), name="tides.toml", zone=dt.UTC)


def test_both_forms_give_the_same_table() -> None:
    """Headings, comments and empty lines are passed over; an offset of its own counts."""
    table = from_csv(CSV)
    assert table == from_toml(TOML)
    assert [turn.height_m for turn in table.turns] == pytest.approx([4.4, -0.2, 4.572, 0.9])
    assert table.begins == dt.datetime(2026, 6, 14, 18, 10, tzinfo=dt.UTC)
    assert table.ends == dt.datetime(2026, 6, 15, 12, 40, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2026-06-14 19:10,4.4m\n19:99,1m", "line 2: '19:99' is not a date with a time"),
        ("2026-06-14,4.4m", "line 1: '2026-06-14' is not a date with a time"),
        ("time,height\n2026-06-14 19:10,4.4", "line 2: 4.4 has no unit"),
        ("2026-06-14 19:10,4,4m", "line 1: It has 3 columns, not 2"),
        ("2026-06-14 19:10", "line 1: It has 1 columns, not 2"),
        ("2026-06-14 19:10,44m", "line 1: No tide is 44m high"),
        ("2026-06-14 19:10,4.4m\n2026-06-14 12:00,1m", "line 2: 2026-06-14 12:00 does not come"),
        ("", "There are 0 high and low waters"),
        ("x" * 200_000 + ",1m", "line 1: It has 0 columns"),
        ("x" * 900 + ":,1m", "line 1: 'xxx"),
    ],
)
def test_a_fault_of_the_csv_is_told_with_its_line_and_remedy(text: str, says: str) -> None:
    with pytest.raises(UserInputError) as caught:
        from_csv(text)
    assert caught.value.message.startswith("tides.csv")
    assert says in caught.value.message
    assert len(caught.value.message) < 200
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("times = []", "heights is no list"),
        ('times = "2026-06-14 19:10"\nheights = ["1m"]', "times is no list"),
        ('times = ["2026-06-14 19:10"]\nheights = []', "There are 1 times and 0 heights"),
        ('times = ["2026-06-14 19:10"]\nheights = [4.4]', "entry 1: The height 4.4 has no unit"),
        ("times = [2026-06-14]\nheights = ['4m']", "entry 1: '2026-06-14' is not a date with"),
        ("times = []\nheights = []\nzone = 1", "zone is no text"),
        ("times = []\nheights = []\nport = 1", "no such key here: port"),
    ],
)
def test_a_fault_of_the_toml_is_told_with_its_key_and_remedy(text: str, says: str) -> None:
    with pytest.raises(UserInputError) as caught:
        from_toml(text)
    assert caught.value.message.startswith("tides.toml")
    assert says in caught.value.message
    assert caught.value.remedy


@given(st.text() | st.text(alphabet="0123456789-:, .m\n", max_size=120))
def test_any_text_is_a_table_or_a_refusal(text: str) -> None:
    """Nothing else escapes."""
    remedy, turns = "", 0
    try:
        turns = len(from_csv(text).turns)
    except UserInputError as error:
        remedy = error.remedy
    assert remedy or turns >= 2


@pytest.mark.parametrize(
    ("text", "hours"), [("UTC", 0), ("z", 0), ("+01:00", 1), ("UTC-3", -3), ("+0530", 5.5)]
)
def test_zones_are_offsets_from_utc(text: str, hours: float) -> None:
    assert parse_zone(text).utcoffset(None) == dt.timedelta(hours=hours)


@pytest.mark.parametrize("text", ["", "CET", "+25:00", "01:00", "+01:75"])
def test_what_is_no_zone_is_refused(text: str) -> None:
    with pytest.raises(UserInputError, match=r"is not a time zone.*Write UTC, or \+01:00"):
        parse_zone(text)


def test_heights_may_lie_under_chart_datum() -> None:
    assert parse_height_m("-0.3m") == -0.3
    assert parse_height_m("\N{MINUS SIGN}1ft") == pytest.approx(-0.3048)
    assert parse_height_m(" 4.6 m ") == 4.6
    with pytest.raises(UserInputError, match="no unit"):
        parse_height_m("-0.3")
