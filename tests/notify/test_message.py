"""The one line a woken person reads."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import AlertState, Priority
from driftlead.notify.message import describe
from driftlead.testing import make_alert


def test_a_drag_tells_how_far_which_way_and_how_fast() -> None:
    """Metres, a point of the compass with its bearing, and the rate in m/s and knots."""
    alert = make_alert(moved_m=18.2, bearing_deg=131.0, rate_mps=0.12)
    assert describe(alert) == (
        "ALARM. DRAGGING: the anchor has moved 18 m to the south-east (131°), 0.12 m/s (0.2 kn)."
    )


def test_unknown_figures_are_left_out() -> None:
    """Nothing is said of what is not known."""
    assert describe(make_alert(moved_m=40.0)) == "ALARM. DRAGGING: the anchor has moved 40 m."
    assert describe(make_alert()) == "ALARM. The anchor is dragging."


@pytest.mark.parametrize("nothing", [math.nan, math.inf, -math.inf])
def test_figures_that_are_no_numbers_count_as_unknown(nothing: float) -> None:
    """A broken instrument does not make nonsense of the line."""
    alert = make_alert(moved_m=18.0, bearing_deg=nothing, rate_mps=nothing)
    assert describe(alert) == "ALARM. DRAGGING: the anchor has moved 18 m."
    assert describe(make_alert(moved_m=nothing)) == "ALARM. The anchor is dragging."


# The sixteen points in degrees, as on any compass rose (common practice).
@pytest.mark.parametrize(
    ("bearing_deg", "words"),
    [
        (0.0, "north (000°)"),
        (22.5, "north-north-east (022°)"),
        (45.0, "north-east (045°)"),
        (67.5, "east-north-east (068°)"),
        (112.0, "east-south-east (112°)"),
        (180.0, "south (180°)"),
        (247.5, "west-south-west (248°)"),
        (315.0, "north-west (315°)"),
        (359.9, "north (000°)"),
    ],
)
def test_directions_are_named_by_the_nearest_of_sixteen_points(
    bearing_deg: float, words: str
) -> None:
    """The point and three figures of bearing agree."""
    line = describe(make_alert(moved_m=30.0, bearing_deg=bearing_deg))
    assert line.endswith(f"to the {words}.")


@pytest.mark.parametrize(
    ("state", "lead"),
    [
        (AlertState.ACTIVE_UNACKNOWLEDGED, "WARNING. "),
        (AlertState.SILENCED, "WARNING silenced. "),
        (AlertState.ACTIVE_ACKNOWLEDGED, "WARNING acknowledged. "),
        (AlertState.RESPONSIBILITY_TRANSFERRED, "WARNING handed over. "),
        (AlertState.RECTIFIED_UNACKNOWLEDGED, "WARNING over, not acknowledged. "),
        (AlertState.NORMAL, "WARNING over. "),
    ],
)
def test_the_line_begins_with_priority_and_state(state: AlertState, lead: str) -> None:
    """Nobody takes an answered alert for a new one."""
    alert = make_alert(
        name="fix_lost", priority=Priority.WARNING, state=state, text="No fix for 60 s"
    )
    assert describe(alert) == f"{lead}No fix for 60 s."


@given(
    text=st.text(),
    name=st.text(),
    figure=st.none() | st.floats(),
    state=st.sampled_from(AlertState),
)
def test_any_alert_is_one_line(
    text: str, name: str, figure: float | None, state: AlertState
) -> None:
    """Whatever it holds, it never fails, and it ends as a sentence on the same line."""
    line = describe(
        make_alert(
            name=name,
            text=text,
            state=state,
            moved_m=figure,
            bearing_deg=figure,
            rate_mps=figure,
        )
    )
    assert line.isprintable()
    assert line[-1] in ".!?"
