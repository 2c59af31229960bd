"""Chance winds: a plan of mean speed and direction for a night, from a few kinds of weather."""

import math
from collections.abc import Callable
from random import Random

from attrs import frozen

from driftlead.simulate.timeline import Timeline
from driftlead.simulate.wind import WindPlan

MIN_S = 60.0
HOUR_S = 3600.0

DRAGGING_MPS = 5.0
"""In less wind than this no drag is drawn: it takes a pull to bring an anchor home."""

_STRONGEST_MPS = 18.0
_CALMEST_MPS = 0.05


@frozen
class Blow:
    """A span of the night in which it blows at least ``least_mps``, for an anchor to drag in."""

    begins_s: float
    ends_s: float
    least_mps: float

    def at(self, t_s: float) -> float:
        """Least wind at ``t_s``: it gets up over the hour before and dies over the hour after."""
        early_s, late_s = self.begins_s - 10 * MIN_S - t_s, t_s - self.ends_s - 10 * MIN_S
        return self.least_mps * max(0.0, 1.0 - max(early_s, late_s, 0.0) / HOUR_S)


def draw_wind(
    random: Random,
    *,
    lasts_s: float,
    blow: Blow | None = None,
    shift: tuple[float, float] | None = None,
    gusts: tuple[tuple[float, float], ...] = (),
) -> WindPlan:
    """Draw the wind of a night.

    ``blow`` keeps it up where it has to; ``shift`` is (when, how long it takes) of a shift there
    has to be; ``gusts`` are (when, seconds) in which it blows half as hard again.
    """
    base, turn = _weather(random, lasts_s)
    shifts = [_shift_at(random, *shift)] if shift is not None else []
    for _ in range(random.choices((0, 1, 2, 3), (40, 35, 20, 5))[0]):
        takes_s = random.uniform(5, 60) * MIN_S
        shifts.append(_shift_at(random, random.uniform(0.05, 0.95) * lasts_s, takes_s))
    squalls = [_squall(random, lasts_s) for _ in range(random.choices((0, 1, 2), (60, 25, 15))[0])]
    factors = [strength for strength, _ in squalls] + [_gust(*gust) for gust in gusts]
    turns = [turn, *shifts, *(kick for _, kick in squalls)]
    first_deg = random.uniform(0.0, 360.0)

    def speed_mps(t_s: float) -> float:
        least_mps = blow.at(t_s) if blow is not None else 0.0
        mean_mps = max(base.at(t_s), least_mps) * math.prod(f.at(t_s) for f in factors)
        return min(_STRONGEST_MPS, max(_CALMEST_MPS, mean_mps))

    def from_deg(t_s: float) -> float:
        return first_deg + sum(t.at(t_s) for t in turns)

    knots = {10 * MIN_S * step for step in range(int(lasts_s / (10 * MIN_S)) + 1)}
    return WindPlan(
        speed_mps=_summed(speed_mps, knots, (base, *factors)),
        from_deg=_summed(from_deg, knots, tuple(turns)),
        gust_fraction=random.uniform(0.08, 0.25),
        gust_s=random.uniform(8.0, 30.0),
        swing_deg=random.uniform(3.0, 10.0),
        swing_s=random.uniform(40.0, 180.0),
        light_swing_deg=random.uniform(10.0, 40.0),
    )


def _summed(
    value: Callable[[float], float], knots: set[float], parts: tuple[Timeline, ...]
) -> Timeline:
    """Read a value off wherever one of its parts bends, and in between."""
    at_s = sorted(knots | {t_s for part in parts for t_s, _ in part.points})
    return Timeline(tuple((t_s, value(t_s)) for t_s in at_s))


def _weather(random: Random, lasts_s: float) -> tuple[Timeline, Timeline]:
    """Draw the mean wind, and by how much it turns, but for shifts and squalls."""
    mean_mps = random.triangular(2.0, 12.0, 6.0)
    kind = random.choices(("steady", "building", "dying", "light"), (35, 25, 30, 10))[0]
    hours = range(math.ceil(lasts_s / HOUR_S) + 1)
    wander = Timeline(tuple((hour * HOUR_S, random.gauss(0.0, 8.0)) for hour in hours))
    if kind == "dying":
        return _dying(random, lasts_s, mean_mps), wander
    if kind == "light":
        first_mps, last_mps = random.uniform(1.0, 3.5), random.uniform(0.5, 3.5)
    elif kind == "building":
        first_mps, last_mps = random.uniform(2.0, 6.0), random.uniform(7.0, 13.0)
    else:
        first_mps = last_mps = mean_mps
    points = []
    for hour in hours:
        part = min(1.0, hour * HOUR_S / lasts_s)
        mps = first_mps + (last_mps - first_mps) * part
        points.append((hour * HOUR_S, mps * random.uniform(0.85, 1.15)))
    return Timeline(tuple(points)), wander


def _dying(random: Random, lasts_s: float, mean_mps: float) -> Timeline:
    """Draw a wind that dies to a calm and comes back."""
    dies_s = random.uniform(0.15, 0.5) * lasts_s
    calm_s = dies_s + random.uniform(20, 90) * MIN_S
    back_s = calm_s + random.uniform(1.0, 3.0) * HOUR_S
    up_s = back_s + random.uniform(10, 60) * MIN_S
    least_mps, later_mps = random.uniform(0.1, 0.8), random.uniform(2.0, 9.0)
    return Timeline(
        (
            (0.0, mean_mps),
            (dies_s, mean_mps * random.uniform(0.7, 1.1)),
            (calm_s, least_mps),
            (back_s, random.uniform(0.1, 0.8)),
            (up_s, later_mps),
        )
    )


def _shift_at(random: Random, begins_s: float, takes_s: float) -> Timeline:
    by_deg = random.choice((-1.0, 1.0)) * random.uniform(40.0, 180.0)
    return Timeline(((begins_s, 0.0), (begins_s + takes_s, by_deg)))


def _squall(random: Random, lasts_s: float) -> tuple[Timeline, Timeline]:
    """Draw a squall: its strength as a factor, and the turn of the wind in it."""
    begins_s = random.uniform(0.05, 0.95) * lasts_s
    full_s = begins_s + random.uniform(1, 3) * MIN_S
    ebbs_s = full_s + random.uniform(4, 25) * MIN_S
    over_s = ebbs_s + random.uniform(3, 15) * MIN_S
    strength, kick_deg = random.uniform(1.4, 2.2), random.uniform(-40.0, 40.0)
    return (
        Timeline(((begins_s, 1.0), (full_s, strength), (ebbs_s, strength), (over_s, 1.0))),
        Timeline(((begins_s, 0.0), (full_s, kick_deg), (ebbs_s, kick_deg), (over_s, 0.0))),
    )


def _gust(begins_s: float, lasts_s: float) -> Timeline:
    rises_s = 0.25 * lasts_s
    ends_s = begins_s + lasts_s
    return Timeline(
        (
            (begins_s - rises_s, 1.0),
            (begins_s, 1.5),
            (ends_s, 1.5),
            (ends_s + rises_s, 1.0),
        )
    )
