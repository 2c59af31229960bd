"""Chance nights are plausible, whatever the seed, and the same for the same seed."""

import math
from itertools import pairwise

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.simulate.anchor import DragMode, DragPlan
from driftlead.simulate.draw import draw_night
from driftlead.simulate.draw_wind import DRAGGING_MPS
from driftlead.simulate.night import manoeuvre_of
from driftlead.simulate.observe import observe
from driftlead.simulate.scenario import Scenario, set_late
from driftlead.simulate.truth import depth_at_m

HOUR_S = 3600.0
SEEDS = st.integers(0, 2**63)
MODES = st.sampled_from(tuple(DragMode))


def way_m(plan: DragPlan, *, until_s: float = math.inf) -> float:
    """The integral of a plan's speed over time: straight lines, so trapezes."""
    legs = [leg for leg in pairwise(plan.speed_mps.points) if leg[1][0] <= until_s]
    return sum(0.5 * (v0 + v1) * (t1 - t0) for (t0, v0), (t1, v1) in legs)


def drag_of(scenario: Scenario) -> DragPlan:
    assert scenario.holding.drag is not None
    return scenario.holding.drag


def moves(plan: DragPlan) -> list[tuple[float, float, float]]:
    """(begins, ends, metres) of each time it moves."""
    seen: list[tuple[float, float, float]] = []
    begins_s = way = 0.0
    for (t0, v0), (t1, v1) in pairwise(plan.speed_mps.points):
        if v0 == 0.0:
            begins_s, way = t0, 0.0
        way += 0.5 * (v0 + v1) * (t1 - t0)
        if v1 == 0.0 and way > 0.0:
            seen.append((begins_s, t1, way))
    return seen


@given(seed=SEEDS, drags=st.booleans())
def test_the_same_seed_draws_the_same_night_and_another_seed_another(
    seed: int, drags: bool
) -> None:
    night = draw_night(seed, drags=drags)
    assert draw_night(seed, drags=drags) == night
    other = evolve(draw_night(seed + 1, drags=drags), seed=seed, name=night.name)
    assert other != night


@given(seed=SEEDS, mode=MODES)
def test_a_drag_changes_nothing_but_the_anchor_and_the_wind(seed: int, mode: DragMode) -> None:
    """So that the same night can be judged with and without."""
    holds, drags = draw_night(seed, drags=False), draw_night(seed, drags=True, mode=mode)
    for part in ("boat", "anchoring", "receiver", "troubles", "instruments", "drop", "start_utc"):
        assert getattr(holds, part) == getattr(drags, part)
    assert holds.holding == evolve(drags.holding, drag=None)


@given(seed=SEEDS, hours=st.floats(1.0, 24.0))
def test_she_lies_afloat_on_a_rode_of_a_usual_scope(seed: int, hours: float) -> None:
    """Depth 3 to 12 m at let go, scope 3.5 to 8 as said, truly up to 8 % more; never aground."""
    night = draw_night(seed, drags=False, hours=hours)
    plan, boat = night.anchoring, night.boat
    depth_m = depth_at_m(night, plan.let_go_s, (0.0, 0.0))
    assert 3.0 <= depth_m <= 12.0
    low_m = min(depth_at_m(night, at_s, (0.0, 0.0)) for at_s in range(0, int(hours * 3600), 300))
    assert low_m > 1.5
    assert 3.4 <= plan.said_m / (depth_m + boat.bow_height_m) <= 8.2
    assert plan.said_m <= plan.rode_m <= 1.08 * plan.said_m
    assert 6.0 <= boat.antenna_aft_m <= 12.0
    assert 15.0 <= boat.sheer_deg[1] <= 45.0
    assert boat.sheer_deg[0] < boat.sheer_deg[1]
    assert 60.0 <= boat.sheer_s[0] < boat.sheer_s[1] <= 200.0
    assert 0.0 <= boat.stretch <= 0.15
    assert 0.0 <= night.holding.settles_m <= 3.0
    # The anchor digs in with this time constant: 95 % of it within half an hour.
    assert night.holding.settle_s <= 600.0
    assert abs(night.drop.lat_deg) < 65.0


@given(seed=SEEDS)
def test_the_watch_would_be_set_late_after_the_boat_has_brought_up(seed: int) -> None:
    """20 to 60 minutes after let go; only ``set_late`` makes it so."""
    night = draw_night(seed, drags=False)
    plan = night.anchoring
    assert plan.late_instead_s is not None
    assert 20 * 60 <= plan.late_instead_s - plan.let_go_s <= 60 * 60
    assert plan.late_instead_s > manoeuvre_of(night).veered_s + 300.0
    assert plan.late_s is None
    assert set_late(night).anchoring.late_s == plan.late_instead_s


@given(seed=SEEDS, mode=st.none() | MODES, hours=st.floats(1.0, 24.0))
def test_the_wind_stays_a_wind_and_there_is_enough_of_it_to_drag_in(
    seed: int, mode: DragMode | None, hours: float
) -> None:
    night = draw_night(seed, drags=True, mode=mode, hours=hours)
    winds = [mps for _, mps in night.wind.speed_mps.points]
    assert min(winds) > 0.0
    assert max(winds) <= 18.0
    plan = drag_of(night)
    last_s = min(plan.ends_s, night.lasts_s)
    for part in range(11):
        at_s = plan.begins_s + 0.1 * part * (last_s - plan.begins_s)
        assert night.wind.speed_mps.at(at_s) >= DRAGGING_MPS


@given(seed=SEEDS, mode=MODES)
def test_a_drag_begins_hours_after_let_go_and_goes_on_until_it_has_come_far(
    seed: int, mode: DragMode
) -> None:
    """1.5 to 6 hours; 120 m, unless the night is over before."""
    night = draw_night(seed, drags=True, mode=mode)
    plan = drag_of(night)
    assert plan.mode is mode
    assert 1.5 * HOUR_S <= plan.begins_s - night.anchoring.let_go_s <= 6 * HOUR_S
    assert plan.ends_s <= night.lasts_s
    speeds = [mps for _, mps in plan.speed_mps.points]
    assert speeds[0] == speeds[-1] == 0.0
    assert min(speeds) >= 0.0
    assert way_m(plan) >= 120.0 - 1e-6 or plan.ends_s >= night.lasts_s - 3600.0
    assert way_m(plan) <= 200.0


@given(seed=SEEDS, hours=st.floats(1.0, 3.0), mode=MODES)
def test_a_short_night_has_its_drag_too(seed: int, hours: float, mode: DragMode) -> None:
    night = draw_night(seed, drags=True, mode=mode, hours=hours)
    plan = drag_of(night)
    assert night.anchoring.let_go_s + 0.2 * HOUR_S < plan.begins_s < plan.ends_s <= night.lasts_s
    assert way_m(plan) > 0.5


# The figures of the modes as they are defined in ``DragMode``.
@pytest.mark.parametrize(
    ("mode", "least_mps", "most_mps"),
    [
        (DragMode.CREEP, 0.01, 0.05),
        (DragMode.STEADY, 0.05, 0.2),
        (DragMode.BREAKOUT, 0.3, 1.0),
    ],
)
@given(seed=SEEDS)
def test_a_drag_has_the_speed_of_its_mode(
    mode: DragMode, least_mps: float, most_mps: float, seed: int
) -> None:
    """Within its limits but for getting up speed and losing it: two minutes and half a minute."""
    plan = drag_of(draw_night(seed, drags=True, mode=mode, hours=24.0))
    mean_mps = way_m(plan) / (plan.ends_s - plan.begins_s)
    assert 0.5 * least_mps <= mean_mps <= most_mps
    under_way = [mps for _, mps in plan.speed_mps.points[1:-1]]
    assert all(least_mps - 1e-9 <= mps <= most_mps + 1e-9 for mps in under_way)


@given(seed=SEEDS)
def test_hops_are_of_metres_and_minutes_apart_and_each_in_a_gust(seed: int) -> None:
    night = draw_night(seed, drags=True, mode=DragMode.HOPS)
    plan = drag_of(night)
    hops = moves(plan)
    assert len(hops) >= 5
    assert all(0.99 <= way <= 6.01 for _, _, way in hops[:-1])
    for (_, ends_s, _), (begins_s, _, _) in pairwise(hops):
        assert 80.0 <= begins_s - ends_s <= 620.0
    before_s, within_s = hops[0][0] - 20.0, 0.5 * (hops[0][0] + hops[0][1])
    wind = night.wind.speed_mps
    assert wind.at(within_s) > 1.2 * wind.at(before_s) or wind.at(within_s) >= 15.0


@given(seed=SEEDS)
def test_after_fetching_up_it_holds_for_a_while_and_goes_on(seed: int) -> None:
    """5 to 10 m, 20 to 60 minutes of holding, then the rest."""
    plan = drag_of(draw_night(seed, drags=True, mode=DragMode.AFTER_FETCHING_UP, hours=24.0))
    first, second = moves(plan)
    assert 4.99 <= first[2] <= 10.01
    assert 20 * 60 <= second[0] - first[1] <= 60 * 60
    assert first[2] + second[2] >= 120.0 - 1e-6


def test_a_drag_in_a_shift_begins_while_the_wind_turns() -> None:
    """It turns more around the beginning than in other nights (another shift may undo it)."""

    def turned_deg(scenario: Scenario) -> float:
        begins_s, turn = drag_of(scenario).begins_s, scenario.wind.from_deg
        return abs(turn.at(begins_s + 150.0) - turn.at(begins_s - 150.0))

    in_shift = [
        turned_deg(draw_night(seed, drags=True, mode=DragMode.IN_SHIFT)) for seed in range(60)
    ]
    steady = [turned_deg(draw_night(seed, drags=True, mode=DragMode.STEADY)) for seed in range(60)]
    # The slowest shift there is, 40 degrees in an hour, turns 3 in the 300 s looked at.
    assert sum(turn > 3.0 for turn in in_shift) >= 54
    assert sum(turn > 3.0 for turn in steady) <= 20


def test_what_is_impossible_is_refused() -> None:
    with pytest.raises(ValueError, match="no mode"):
        draw_night(1, drags=False, mode=DragMode.CREEP)
    with pytest.raises(ValueError, match="an hour"):
        draw_night(1, drags=False, hours=0.5)


@settings(max_examples=6, deadline=None)
@given(seed=SEEDS, mode=MODES)
def test_the_anchor_comes_as_far_as_the_plan_says(seed: int, mode: DragMode) -> None:
    """The way it makes is the plan's integral; straight it is no more; before, it does not drag."""
    scenario = draw_night(seed, drags=True, mode=mode, hours=2.0, interval_s=5.0)
    plan, seen = drag_of(scenario), observe(scenario)
    assert way_m(plan) * 0.9 - 1.0 <= seen.dragged_path_m[-1] <= way_m(plan) * 1.01 + 0.5
    assert all(seen.dragged_m <= seen.dragged_path_m + scenario.holding.settles_m + 1e-6)
    assert all(seen.dragged_m[seen.t_s <= plan.begins_s] == 0.0)
