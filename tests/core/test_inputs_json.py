"""Commands and faults as JSON: nothing is guessed at, and a refusal names what is wrong.

See test_json_contracts for the form of each command.
"""

import contextlib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.core.inputs import Acknowledge, Command, Fault, LetGo, Silence, Transfer, Veer, Weigh
from driftlead.core.inputs_json import (
    MAX_LENGTH_M,
    command_from_json,
    command_to_json,
    fault_from_json,
    fault_to_json,
)
from driftlead.errors import UserInputError
from driftlead.geodesy.position import Position

LENGTHS = st.none() | st.floats(0.001, MAX_LENGTH_M)
PLACES = st.builds(Position, st.floats(-90.0, 90.0), st.floats(-360.0, 360.0))
WORDS = st.none() | st.text()
COMMANDS = st.one_of(
    st.builds(LetGo, rode_m=LENGTHS, depth_m=LENGTHS, drop=st.none() | PLACES, late=st.booleans()),
    st.builds(Veer, rode_m=st.floats(0.001, MAX_LENGTH_M), depth_m=LENGTHS),
    st.builds(Acknowledge, name=WORDS, by=WORDS, where=WORDS),
    st.builds(Silence, name=WORDS, by=WORDS, where=WORDS),
    st.builds(Transfer, to=st.text(), name=WORDS, by=WORDS, where=WORDS),
    st.builds(Weigh),
)
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)


@given(command=COMMANDS)
def test_a_command_comes_back_as_it_was(command: Command) -> None:
    assert command_from_json(command_to_json(command)) == command


@pytest.mark.parametrize("late", ["false", "true", 0, 1, None])
def test_yes_and_no_are_true_and_false_and_nothing_else(late: Any) -> None:
    """Text is never empty, so "false" would be true: and a late set moves the anchor."""
    with pytest.raises(UserInputError, match="late"):
        command_from_json({"command": "let-go", "rode_m": 30.0, "late": late})


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ({"command": "veer", "rode_m": "30 ft"}, ("30 ft", "rode_m")),
        ({"command": "veer"}, ("rode_m", "required")),
        ({"command": "transfer", "name": "drag"}, ("to", "required")),
        ({"command": "silence", "for_s": 600}, ("for_s",)),
        ({"command": "veer", "rode_m": 1000.1}, ("rode_m = 1000.1", "1000")),
        ({"command": "let-go", "depth_m": -2.0}, ("depth_m = -2.0",)),
        ({"command": "let-go", "dorp": 1}, ("dorp",)),
        (
            {"command": "let-go", "drop": {"lat_deg": 99.0, "lon_deg": 0.0}},
            ("Latitude 99.0", "drop"),
        ),
        ({"command": "let-go", "drop": [1.0, 2.0]}, ("drop", "object")),
        ({"command": "reef"}, ("'reef'", "let-go, veer, correct-mark, acknowledge")),
    ],
)
def test_a_refusal_names_the_key_and_the_value(
    data: dict[str, Any], words: tuple[str, ...]
) -> None:
    with pytest.raises(UserInputError) as refused:
        command_from_json(data)
    said = str(refused.value)
    assert refused.value.remedy
    assert "unknown error" not in said
    for word in words:
        assert word in said


@pytest.mark.parametrize("rode_m", [0.001, MAX_LENGTH_M])
def test_lengths_up_to_the_limit_are_lengths(rode_m: float) -> None:
    assert command_from_json({"command": "veer", "rode_m": rode_m}) == Veer(rode_m=rode_m)


@given(fault=st.builds(Fault, name=st.text(), instance=st.text(), text=st.none() | st.text()))
def test_a_fault_comes_back_as_it_was(fault: Fault) -> None:
    assert fault_from_json(fault_to_json(fault)) == fault


@given(data=st.dictionaries(st.sampled_from(["name", "instance", "text", "x"]), ANYTHING))
def test_any_json_is_a_fault_or_a_clear_refusal(data: dict[str, Any]) -> None:
    with contextlib.suppress(UserInputError):
        assert isinstance(fault_from_json(data), Fault)
