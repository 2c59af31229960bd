"""The settings of journal and recordings are checked where they are made."""

import math
from pathlib import Path

import pytest

from driftlead.errors import UserInputError
from driftlead.journal.settings import RecordingSettings


def test_the_smallest_sensible_settings_are_taken() -> None:
    """A cap of exactly one part leaves room for the open one."""
    settings = RecordingSettings(directory=Path("nights"), cap_bytes=100, part_bytes=100)
    assert settings.part_s == 3600.0


@pytest.mark.parametrize(
    ("cap_bytes", "part_bytes", "part_s", "named"),
    [
        (100, 0, 60.0, "part_bytes = 0"),
        (99, 100, 60.0, "cap_bytes = 99"),
        (-1, 100, 60.0, "cap_bytes = -1"),
        (100, 100, 0.0, "part_s = 0.0"),
        (100, 100, math.nan, "part_s = nan"),
        (100, 100, math.inf, "part_s = inf"),
    ],
)
def test_a_size_that_cannot_be_is_named_with_its_value(
    cap_bytes: int, part_bytes: int, part_s: float, named: str
) -> None:
    """The person reads which key is wrong and what to write instead."""
    with pytest.raises(UserInputError, match=named) as caught:
        RecordingSettings(
            directory=Path("nights"), cap_bytes=cap_bytes, part_bytes=part_bytes, part_s=part_s
        )
    assert "Give" in caught.value.remedy
