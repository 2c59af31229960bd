"""An anchor settles, and drags as planned."""

import math

import pytest

from driftlead.simulate.anchor import (
    SLIDES_N,
    Anchor,
    DragPlan,
    Holding,
    drag_steadily,
    drag_through,
)

BOW = (0.0, 1000.0)  # far to the north, so that the pull keeps its direction
TAUT_N = 500.0


def ride(holding: Holding, *, until_s: float, pull_n: float = TAUT_N) -> Anchor:
    anchor = Anchor(holding, let_go_s=0.0, en_m=(0.0, 0.0))
    for step in range(1, round(until_s * 4) + 1):
        anchor.step(step * 0.25, 0.25, bow_en_m=BOW, pull_n=pull_n)
    return anchor


def test_an_anchor_settles_within_the_half_hour_and_that_is_no_drag() -> None:
    """It comes the length it settles by, toward the bow, and says it has not dragged."""
    anchor = ride(Holding(settles_m=2.5), until_s=1800.0)
    assert anchor.settled_m == pytest.approx(2.5, abs=0.05)
    assert (anchor.e_m, anchor.n_m) == pytest.approx((0.0, 2.5), abs=0.05)
    assert anchor.dragged_en_m == (0.0, 0.0)


@pytest.mark.parametrize(
    ("plan", "metres"),
    [
        (drag_steadily(begins_s=100.0, lasts_s=1000.0, mps=0.01), 9.4),
        (drag_steadily(begins_s=100.0, lasts_s=1000.0, mps=0.1), 94.0),
        (drag_steadily(begins_s=100.0, lasts_s=200.0, mps=0.8, builds_s=20.0), 144.0),
        (drag_through(begins_s=50.0, steps=((0, 0.0), (100, 0.1), (300, 0.0))), 15.0),
    ],
    ids=["creep", "steady", "breakout", "through points"],
)
def test_a_drag_goes_the_length_under_its_plan(plan: DragPlan, metres: float) -> None:
    """Area under the speeds, by hand; it begins and ends when it says."""
    anchor = ride(Holding(settles_m=0.0, drag=plan), until_s=plan.ends_s + 10.0)
    assert math.hypot(*anchor.dragged_en_m) == pytest.approx(metres, rel=0.01)
    assert anchor.speed_mps == 0.0
    before = ride(Holding(settles_m=0.0, drag=plan), until_s=plan.begins_s)
    assert (before.e_m, before.n_m) == (0.0, 0.0)


def test_a_drag_that_never_starts_or_stops_is_refused() -> None:
    """Speeds begin and end at nothing, so that positions and speeds are continuous."""
    with pytest.raises(ValueError, match="at rest"):
        drag_through(begins_s=0.0, steps=((0.0, 0.1), (10.0, 0.0)))
    with pytest.raises(ValueError, match="at rest"):
        drag_through(begins_s=0.0, steps=((0.0, 0.0), (10.0, 0.1)))


def test_an_anchor_right_under_the_bow_is_not_pulled_along() -> None:
    """Nothing gives it a direction."""
    plan = drag_steadily(begins_s=0.0, lasts_s=500.0, mps=0.5)
    anchor = Anchor(Holding(drag=plan), let_go_s=0.0, en_m=(3.0, 4.0))
    anchor.step(100.0, 0.25, bow_en_m=(3.0, 4.2), pull_n=TAUT_N)
    assert (anchor.e_m, anchor.n_m) == (3.0, 4.0)


@pytest.mark.parametrize(("pull_n", "part"), [(0.0, 0.0), (0.4 * SLIDES_N, 0.4), (SLIDES_N, 1.0)])
def test_a_slack_rode_drags_no_anchor_and_a_weak_pull_a_slow_one(
    pull_n: float, part: float
) -> None:
    """However fast the plan says it goes; what it settles by is no drag and is not slowed."""
    plan = drag_steadily(begins_s=100.0, lasts_s=300.0, mps=0.5)
    anchor = ride(Holding(settles_m=2.0, drag=plan), until_s=500.0, pull_n=pull_n)
    assert anchor.dragged_path_m == pytest.approx(part * 0.5 * 240.0, abs=0.2)
    assert anchor.settled_m == pytest.approx(1.43, abs=0.02)
