"""What the voice says."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import Priority
from driftlead.alerts.catalogue import CATALOGUE
from driftlead.notify.spoken import spoken_line
from driftlead.testing import make_alert


@pytest.mark.parametrize(
    ("bearing_deg", "said"),
    [
        (45.0, "Anchor dragging to the north-east."),
        (0.0, "Anchor dragging to the north."),
        (359.0, "Anchor dragging to the north."),
        (202.5, "Anchor dragging to the south-south-west."),
        (None, "Anchor dragging."),
        (math.nan, "Anchor dragging."),
    ],
)
def test_a_drag_is_said_with_its_direction(bearing_deg: float | None, said: str) -> None:
    """The sixteen points of the compass, in words."""
    assert spoken_line(make_alert(bearing_deg=bearing_deg)) == said


def test_a_drill_is_said_to_be_one() -> None:
    """Nobody who hears it should jump overboard."""
    assert spoken_line(make_alert(name="drill")).startswith("Drill.")


def test_anything_else_is_said_by_its_name_and_priority() -> None:
    """Also what a later version may bring."""
    lost = make_alert(name="fix_lost", priority=Priority.WARNING)
    assert spoken_line(lost) == "Warning. The position is lost."
    assert spoken_line(make_alert(name="squid_attack")) == "Alarm. Squid attack."


@given(
    name=st.sampled_from(sorted(CATALOGUE)) | st.text(max_size=50),
    bearing_deg=st.none() | st.floats(),
    priority=st.sampled_from(Priority),
)
def test_a_line_is_one_short_sentence_or_two_without_figures(
    name: str, bearing_deg: float | None, priority: Priority
) -> None:
    """So there are few of them, and each is over before the next sound."""
    line = spoken_line(make_alert(name=name, bearing_deg=bearing_deg, priority=priority))
    assert line.endswith(".")
    assert len(line.split()) <= 60
    if name in CATALOGUE:
        assert not any(char.isdigit() for char in line)
        assert len(line) < 60
