"""Plans over time."""

import pytest

from driftlead.simulate.timeline import Timeline, steady


@pytest.mark.parametrize(
    ("t_s", "value"),
    [(-5.0, 2.0), (0.0, 2.0), (5.0, 3.0), (10.0, 4.0), (15.0, 1.0), (20.0, -2.0), (99.0, -2.0)],
)
def test_a_timeline_runs_straight_between_its_points_and_level_outside(
    t_s: float, value: float
) -> None:
    """Nothing is extrapolated."""
    assert Timeline(((0.0, 2.0), (10.0, 4.0), (20.0, -2.0))).at(t_s) == pytest.approx(value)


def test_a_steady_plan_never_changes() -> None:
    """One value for all time."""
    assert {steady(7.5).at(t_s) for t_s in (-1.0, 0.0, 1e6)} == {7.5}


@pytest.mark.parametrize("points", [(), ((1.0, 0.0), (1.0, 2.0)), ((2.0, 0.0), (1.0, 2.0))])
def test_points_out_of_order_are_refused(points: tuple[tuple[float, float], ...]) -> None:
    """A plan with two values at one moment means nothing."""
    with pytest.raises(ValueError, match="later than the one before"):
        Timeline(points)
