"""Whatever a file holds, it is a configuration or a list of its problems."""

import datetime as dt
import decimal
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.config.load import build_config, load_config
from driftlead.config.model import Config
from driftlead.config.tables import BUTTON, CREW, NOTIFIER, single_tables, source_tables
from driftlead.errors import ConfigError

FILE = Path("/etc/driftlead/boat.toml")
SINGLES = single_tables(FILE.parent)
SOURCES = source_tables(FILE.parent)

# Values near to right ones, so that the fuzz gets past the first check of a key.
LIKELY = st.sampled_from(
    ["10m", "30s", "2GB", "0660", "/dev/x", "gps", "sound", "alarm", "weigh", "239.192.0.1", "-1m"]
) | st.integers(min_value=-1, max_value=70_000)
ANYTHING = st.recursive(
    st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=20)
    | st.dates()
    | st.times()
    | st.datetimes(timezones=st.none() | st.just(dt.UTC))
    | LIKELY,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=6,
)


def table_of(names: list[str]) -> st.SearchStrategy[dict[str, Any]]:
    """Tables of these keys and now and then a strange one."""
    keys = st.sampled_from(names) | st.text(max_size=8)
    return st.dictionaries(keys, LIKELY | ANYTHING, max_size=6)


SOURCE = st.one_of(
    *(
        st.builds(
            lambda rest, kind: {**rest, "kind": kind},
            table_of([key.name for key in table.keys]),
            st.just(kind) | ANYTHING,
        )
        for kind, table in SOURCES.items()
    )
)
FILES = st.fixed_dictionaries(
    {},
    optional={
        **{
            name: table_of([key.name for key in table.keys]) | ANYTHING
            for name, table in SINGLES.items()
        },
        "source": st.lists(SOURCE | ANYTHING, max_size=3) | ANYTHING,
        "notifier": st.lists(table_of([key.name for key in NOTIFIER.keys]), max_size=3),
        "crew": st.lists(table_of([key.name for key in CREW.keys]), max_size=3),
        "button": st.lists(table_of([key.name for key in BUTTON.keys]), max_size=3),
        "unknown": ANYTHING,
    },
)


# A right file, of which the fuzz takes pieces away and puts others in.
RIGHT = """
[boat]
name = "Corvid"
length = "9.6m"
[limits]
lost_alarm = "5min"
[[source]]
name = "gps"
kind = "serial"
device = "/dev/ttyUSB0"
[[notifier]]
kind = "sound"
at_least = "warning"
[[button]]
pin = 17
command = "acknowledge"
[control]
mode = "0660"
[time]
earliest_date = 2026-01-01
"""


@st.composite
def damaged(draw: st.DrawFn) -> bytes:
    """Give the right file with one stretch of it replaced by other bytes."""
    start = draw(st.integers(0, len(RIGHT)))
    end = draw(st.integers(start, min(len(RIGHT), start + 12)))
    piece = draw(st.binary(max_size=6) | st.text(max_size=6).map(str.encode))
    return RIGHT[:start].encode() + piece + RIGHT[end:].encode()


def outcome(load: Callable[[], Config]) -> Config | ConfigError:
    """Whichever of the two came out; any other error is a failure."""
    try:
        return load()
    except ConfigError as error:
        return error


def check(result: Config | ConfigError, file: Path) -> None:
    """Hold the outcome to be a configuration, or problems of a line each that name the file."""
    if isinstance(result, ConfigError):
        assert result.problems
        assert all(line.startswith(f"{file}: ") for line in result.problems)
        assert all(line.isprintable() for line in result.problems)
    else:
        assert isinstance(result, Config)


@given(raw=FILES)
@settings(deadline=None)
def test_any_content_gives_a_configuration_or_a_line_for_each_problem(
    raw: Mapping[str, Any],
) -> None:
    """Whatever values TOML can hold, under right and wrong names."""
    check(outcome(lambda: build_config(raw, FILE)), FILE)


WILD: list[Any] = [
    *("", " ", "x", "10", "-1", "10m", "nan", "\0", "\n", "é" * 100, "9600", "..", "~", "/"),
    *(True, False, 0, -1, 1, 10**30, -(2**20000), 0.5, -0.0, 1e300),
    *(float("nan"), float("inf"), float("-inf")),
    *([], [1], ["x"], {}, {"x": 1}),
    *(
        dt.date(1, 1, 1),
        dt.time(1, 2),
        dt.datetime(2026, 1, 1),  # noqa: DTZ001 - TOML has local ones
        dt.datetime(1, 1, 1, tzinfo=dt.UTC),
    ),
]


@pytest.mark.parametrize("value", WILD, ids=range(len(WILD)))
def test_no_key_breaks_on_any_kind_of_value(value: object) -> None:
    """Every key of every table has the value at once; each is taken or is a problem."""
    raw: dict[str, Any] = {
        name: {key.name: value for key in table.keys} for name, table in SINGLES.items()
    }
    raw["source"] = [
        {"kind": kind} | {key.name: value for key in table.keys} for kind, table in SOURCES.items()
    ]
    raw["notifier"] = [{key.name: value for key in NOTIFIER.keys}]
    raw["button"] = [{key.name: value for key in BUTTON.keys}]
    result = outcome(lambda: build_config(raw, FILE))
    check(result, FILE)
    assert isinstance(result, ConfigError)  # nothing is right for all of them


@given(data=damaged() | st.binary(max_size=40) | st.text(max_size=40).map(str.encode))
@settings(deadline=None)
def test_any_bytes_give_a_configuration_or_a_line_for_each_problem(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    """Files cut short, overwritten and not even text."""
    file = tmp_path_factory.getbasetemp() / "fuzz.toml"
    file.write_bytes(data)
    check(outcome(lambda: load_config(file)), file)


def test_undamaged_file_of_the_fuzz_is_right() -> None:
    """Otherwise the damage would prove nothing."""
    assert isinstance(build_config(tomllib.loads(RIGHT), FILE), Config)


@given(length_m=st.decimals(2, 100, places=2), dwell_s=st.integers(30, 600))
def test_any_quantity_within_the_limits_is_taken_as_written(
    length_m: decimal.Decimal, dwell_s: int
) -> None:
    """Limits included."""
    raw = {
        **tomllib.loads(RIGHT),
        "boat": {"length": f"{length_m}m"},
        "detector": {"dwell": f"{dwell_s} s"},
    }
    watch = build_config(raw, FILE).watch
    assert watch.boat.length_m == float(length_m)
    assert watch.detector.dwell_s == dwell_s
