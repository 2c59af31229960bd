"""From a table of options to a frozen class."""

import enum
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from attrs import frozen
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import ConfigError
from driftlead.notify.options import Commands, Seconds, structure_options


class Colour(enum.StrEnum):
    """A choice."""

    RED = "red"
    GREEN = "green"


@frozen(kw_only=True)
class Lamp:
    """One option of every type."""

    pin: int
    label: str = "masthead"
    lit: bool = False
    colour: Colour = Colour.RED
    file: Path | None = None
    wait_s: Seconds = 1.0
    programs: Commands | None = None

    def problems(self) -> Iterator[str]:
        """A contradiction to find."""
        if self.lit and self.pin == 0:
            yield "options 'lit' and 'pin' exclude each other."
        if self.lit and self.label == "none":
            yield "options 'lit' and 'label' exclude each other."


def refused(options: dict[str, Any]) -> ConfigError:
    """Return the error the options give."""
    with pytest.raises(ConfigError) as caught:
        structure_options(Lamp, options, notifier="lamp")
    return caught.value


def test_every_type_is_read() -> None:
    """Texts become paths, choices and seconds; a duration loses its ending in the table."""
    options = {
        "pin": 3,
        "label": "stern",
        "lit": True,
        "colour": "green",
        "file": "/tmp/x",  # noqa: S108 - only a name
        "wait": "500ms",
        "programs": [["aplay", "-q"], ["other"]],
    }
    assert structure_options(Lamp, options, notifier="lamp") == Lamp(
        pin=3,
        label="stern",
        lit=True,
        colour=Colour.GREEN,
        file=Path("/tmp/x"),  # noqa: S108
        wait_s=0.5,
        programs=(("aplay", "-q"), ("other",)),
    )


def test_defaults_stand_for_what_is_not_given() -> None:
    """Only what has no default must be given."""
    assert structure_options(Lamp, {"pin": 3}, notifier="lamp") == Lamp(pin=3)
    assert refused({}).problems == ("notifier 'lamp': option 'pin' is required.",)


def test_all_problems_are_told_at_once() -> None:
    """Nobody has to correct a file fault by fault."""
    error = refused({"lit": "yes", "colour": "blue", "wait": "5", "clour": 1})
    told = "\n".join(error.problems)
    assert len(error.problems) == 5
    assert "'pin' is required" in told
    assert "'lit': 'yes' is not true or false" in told
    assert "'colour': 'blue' is not one of red, green" in told
    assert "'wait': 5 has no unit" in told
    assert "'clour' is not known. Did you mean 'colour'?" in told
    assert all(line.startswith("notifier 'lamp': ") for line in error.problems)
    assert error.remedy == "Its options are: pin, label, lit, colour, file, wait, programs."


def test_contradictions_are_told_all_at_once_too() -> None:
    """Options that are each right may be wrong together."""
    error = refused({"pin": 0, "lit": True, "label": "none"})
    assert len(error.problems) == 2


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("pin", "3"),
        ("pin", 3.0),
        ("pin", True),
        ("label", 3),
        ("label", ""),
        ("lit", 1),
        ("file", ""),
        ("file", 3),
        ("wait", 2),
        ("wait", "0s"),
        ("wait", "-1s"),
        ("wait_s", "1s"),
        ("programs", "aplay -q"),
        ("programs", ["aplay", "-q"]),
        ("programs", []),
        ("programs", [[]]),
        ("programs", [["aplay", 3]]),
        ("colour", 1),
        ("colour", ["red"]),
    ],
)
def test_a_value_of_another_type_is_refused_and_not_converted(key: str, value: object) -> None:
    """The key is named, and so is the remedy."""
    (problem,) = refused({"pin": 3, key: value}).problems
    assert f"option {key!r}" in problem


def test_an_unknown_option_does_not_repeat_its_value() -> None:
    """It may be a secret that was written into the wrong place."""
    error = refused({"pin": 3, "secret": "s3cr3t"})
    assert "secret" in str(error)
    assert "s3cr3t" not in str(error) + "".join(error.problems)


_JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=8,
)


@given(
    st.dictionaries(
        st.sampled_from(["pin", "label", "lit", "colour", "file", "wait", "programs"]) | st.text(),
        _JUNK,
    )
)
def test_any_table_is_either_read_or_refused(options: dict[str, Any]) -> None:
    """No value brings out another error than ConfigError."""
    try:
        assert isinstance(structure_options(Lamp, options, notifier="lamp"), Lamp)
    except ConfigError as error:
        told = error.problems
        assert told
