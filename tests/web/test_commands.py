"""Commands of the page, and the core's."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.core.inputs import (
    Acknowledge,
    Command,
    CorrectMark,
    Drill,
    LetGo,
    Silence,
    Slip,
    Transfer,
    Veer,
    Weigh,
)
from driftlead.errors import UserInputError
from driftlead.geodesy.position import Position
from driftlead.web.commands import parse_command
from driftlead.web.problem import ProblemError

NO_LENGTHS: list[Any] = ["30", True, -3, 1e9, math.inf, math.nan, [], 10**400]
ENVELOPE = {"key": "a-key-of-16-chars", "run_id": "5f1c09ab", "run_s": 21_632.118}


@pytest.mark.parametrize(
    ("fields", "command"),
    [
        ({"command": "let_go"}, LetGo()),
        (
            {"command": "let_go", "depth_m": 6, "rode_m": 30.5},
            LetGo(depth_m=6.0, rode_m=30.5),
        ),
        (
            {"command": "let_go", "lat": 46.5, "lon": -31.2, "rode_m": None},
            LetGo(drop=Position(46.5, -31.2)),
        ),
        ({"command": "let_go", "late": True, "rode_m": 30}, LetGo(late=True, rode_m=30.0)),
        ({"command": "veer", "rode_m": 35}, Veer(rode_m=35.0)),
        (
            {"command": "move_anchor", "lat": 46.5, "lon": 1},
            CorrectMark(position=Position(46.5, 1.0)),
        ),
        ({"command": "weigh"}, Weigh()),
        ({"command": "acknowledge"}, Acknowledge(by="Phone", where="page")),
        (
            {"command": "acknowledge", "name": "drag"},
            Acknowledge(name="drag", by="Phone", where="page"),
        ),
        ({"command": "silence"}, Silence(by="Phone", where="page")),
        (
            {"command": "transfer", "to": "Mate", "name": None},
            Transfer(to="Mate", by="Phone", where="page"),
        ),
        ({"command": "slip"}, Slip()),
        ({"command": "drill"}, Drill()),
        ({"command": "drill", "over": True}, Drill(over=True)),
    ],
)
def test_each_command_becomes_the_cores_and_is_signed(
    fields: dict[str, Any], command: Command
) -> None:
    asked = parse_command({**ENVELOPE, **fields}, by="Phone")
    assert asked.command == command
    assert (asked.key, asked.run_id, asked.run_s) == tuple(ENVELOPE.values())


@pytest.mark.parametrize(
    "fields",
    [
        *({}, {"command": None}, {"command": "let-go"}, {"command": ["weigh"]}),
        *({"command": "weigh", "now": True}, {"command": "veer"}, {"command": "veer", "rode_m": 0}),
        *({"command": "veer", "rode_m": value} for value in NO_LENGTHS),
        {"command": "let_go", "lat": 46.5},
        {"command": "let_go", "lat": 91, "lon": 0},
        {"command": "let_go", "lat": 46.5, "lon": -31.2, "late": True},
        {"command": "let_go", "late": "false"},
        {"command": "move_anchor"},
        {"command": "move_anchor", "lat": 0, "lon": 181},
        {"command": "acknowledge", "name": ""},
        {"command": "acknowledge", "name": "a\nb"},
        {"command": "acknowledge", "name": "x" * 65},
        {"command": "acknowledge", "by": "the skipper"},
        *({"command": "transfer", "to": to} for to in (None, "", 7, "x" * 65, "a\nb")),
        {"command": "slip", "rode_m": 30},
        {"command": "drill", "over": 1},
        {"command": "weigh", "key": "short"},
        {"command": "weigh", "key": "x" * 65},
        {"command": "weigh", "key": "blanks in the key"},
        {"command": "weigh", "run_id": ""},
        {"command": "weigh", "run_s": "soon"},
        {"command": "weigh", "run_s": None},
    ],
)
def test_anything_else_is_refused_with_a_remedy(fields: dict[str, Any]) -> None:
    with pytest.raises((ProblemError, UserInputError)) as error:
        parse_command({**ENVELOPE, **fields}, by="Phone")
    remedy: str = getattr(error.value, "remedy", "")
    assert remedy


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=8,
)
fields_known = st.sampled_from(
    [*ENVELOPE, "command", "rode_m", "depth_m", "lat", "lon", "late", "name", "over"]
)
words = st.sampled_from(
    ["let_go", "veer", "weigh", "acknowledge", "silence", "move_anchor", "transfer", "slip"]
)


@given(st.dictionaries(fields_known | st.text(), json_values | words))
def test_whatever_is_sent_is_a_command_or_refused_in_words(data: dict[str, Any]) -> None:
    for sent in (data, {**ENVELOPE, **data}):
        try:
            parse_command(sent, by="Phone")
        except (ProblemError, UserInputError) as error:
            assert str(error)  # noqa: PT017  # that it is one of these is what is tested
