"""Chance drags: how an anchor comes home in each of the modes."""

import math
from itertools import pairwise
from random import Random

from driftlead.simulate.anchor import DragMode, DragPlan
from driftlead.simulate.timeline import Timeline

MIN_S = 60.0

LEAST_M = 120.0
"""A drag goes on until it has come to this or more, or the night is over."""

SPEEDS_MPS = {
    DragMode.CREEP: (0.01, 0.05),
    DragMode.STEADY: (0.05, 0.2),
    DragMode.BREAKOUT: (0.3, 1.0),
    DragMode.IN_SHIFT: (0.02, 0.2),
    DragMode.AFTER_FETCHING_UP: (0.03, 0.2),
}
"""Least and most speed of a drag under way; that of hops comes from their lengths and pauses."""

HOP_M = (1.0, 6.0)
FIRST_M = (5.0, 10.0)
PAUSE_S = (20 * MIN_S, 60 * MIN_S)

Points = list[tuple[float, float]]


def draw_drag(random: Random, mode: DragMode, *, begins_s: float, ends_s: float) -> DragPlan:
    """Draw a drag that begins at ``begins_s`` and is over by ``ends_s``."""
    to_go_m = random.uniform(LEAST_M, 1.6 * LEAST_M)
    points: Points = [(begins_s, 0.0)]
    if mode is DragMode.HOPS:
        while to_go_m > 0.0 and points[-1][0] < ends_s:
            hop_m = random.uniform(*HOP_M)
            _hop(points, hop_m, lasts_s=random.uniform(10.0, 40.0))
            to_go_m -= hop_m
            points.append((points[-1][0] + random.uniform(1.5, 10) * MIN_S, 0.0))
        points.pop()
    else:
        if mode is DragMode.AFTER_FETCHING_UP:
            first_m = random.uniform(*FIRST_M)
            _hop(points, first_m, lasts_s=first_m / _speed(random, mode))
            to_go_m -= first_m
            points.append((points[-1][0] + random.uniform(*PAUSE_S), 0.0))
        _run(random, points, to_go_m, mode)
    return DragPlan(speed_mps=Timeline(_cut(points, ends_s)), mode=mode)


def gusts_of(plan: DragPlan) -> tuple[tuple[float, float], ...]:
    """When each hop begins, and how many seconds it takes: the gusts it happens in."""
    legs = list(pairwise(plan.speed_mps.points))
    starts_s = [at_s for (at_s, mps), (_, later_mps) in legs if mps == 0.0 < later_mps]
    stops_s = [at_s for (_, mps), (at_s, later_mps) in legs if mps > 0.0 == later_mps]
    return tuple((a, b - a) for a, b in zip(starts_s, stops_s, strict=True))


def _speed(random: Random, mode: DragMode) -> float:
    """Draw a speed, each doubling as likely as the next."""
    least_mps, most_mps = SPEEDS_MPS[mode]
    return least_mps * math.pow(most_mps / least_mps, random.random())


def _hop(points: Points, way_m: float, *, lasts_s: float) -> None:
    """Go a way from rest to rest; a quarter of the time goes on either end."""
    at_s, mps = points[-1][0], way_m / (0.75 * lasts_s)
    points += [(at_s + 0.25 * lasts_s, mps), (at_s + 0.75 * lasts_s, mps), (at_s + lasts_s, 0.0)]


def _run(random: Random, points: Points, way_m: float, mode: DragMode) -> None:
    """Go a way from rest to rest at about a speed, now faster and now slower."""
    least_mps, most_mps = SPEEDS_MPS[mode]
    mps = _speed(random, mode)
    builds_s = min(random.uniform(20.0, 120.0), 0.5 * way_m / mps)
    now_mps = mps
    points.append((points[-1][0] + builds_s, mps))
    way_m -= 0.5 * builds_s * mps
    while True:
        leg_s = random.uniform(2, 10) * MIN_S
        next_mps = mps * math.exp(random.uniform(-0.4, 0.4))
        next_mps = max(least_mps, min(most_mps, next_mps))
        leg_m = 0.5 * (now_mps + next_mps) * leg_s
        stop_s = 30.0
        if leg_m + 0.5 * next_mps * stop_s >= way_m:
            last_s = max(1.0, (way_m - 0.5 * now_mps * stop_s) / now_mps)
            points.append((points[-1][0] + last_s, now_mps))
            points.append((points[-1][0] + stop_s, 0.0))
            return
        points.append((points[-1][0] + leg_s, next_mps))
        way_m, now_mps = way_m - leg_m, next_mps


def _cut(points: Points, ends_s: float) -> tuple[tuple[float, float], ...]:
    """End at rest by ``ends_s``."""
    if points[-1][0] <= ends_s:
        return tuple(points)
    kept = [point for point in points if point[0] < ends_s - 1.0]
    if kept[-1][1] == 0.0:
        return tuple(kept) if len(kept) > 1 else (*kept, (ends_s, 0.0))
    return (*kept, (ends_s - 1.0, Timeline(tuple(points)).at(ends_s - 1.0)), (ends_s, 0.0))
