"""Chance receivers: how good one is, and what goes wrong with it through a night."""

import math
from random import Random

from driftlead.simulate.receiver import (
    Held,
    Multipath,
    ReceiverFigures,
    Silence,
    StartUp,
    Trouble,
    Void,
)

MIN_S = 60.0
HOUR_S = 3600.0


def draw_receiver(random: Random) -> ReceiverFigures:
    """Draw a receiver, from a good one under open sky to a poor one."""
    badness = random.random()

    def between(good: float, poor: float) -> float:
        part = min(1.0, max(0.0, badness + random.uniform(-0.25, 0.25)))
        return good + (poor - good) * part

    holds = random.random() < 0.15
    return ReceiverFigures(
        quick_m=between(0.35, 1.1),
        quick_s=random.uniform(6.0, 16.0),
        middling_m=between(0.4, 1.4),
        middling_s=random.uniform(150.0, 450.0),
        slow_m=between(0.8, 2.5),
        slow_s=random.uniform(1200.0, 4500.0),
        velocity_mps=between(0.02, 0.10),
        velocity_s=random.uniform(1.0, 4.0),
        course_above_mps=random.choice((0.0, 0.1, 0.1, 0.25, 0.5)),
        hdop=between(0.7, 1.6),
        satellites=random.randint(7, 12),
        holds_below_mps=random.uniform(0.15, 0.6) if holds else 0.0,
        holds_within_m=random.uniform(3.0, 10.0) if holds else 0.0,
    )


def draw_troubles(random: Random, *, lasts_s: float, let_go_s: float) -> tuple[Trouble, ...]:
    """Draw what goes wrong: nothing in three nights of ten, one thing after the other in 15 %."""
    kind = random.choices(("none", "some", "many"), (30, 55, 15))[0]
    if kind == "none":
        return ()
    per_hour = random.uniform(0.15, 1.5) if kind == "some" else random.uniform(4.0, 15.0)
    troubles: list[Trouble] = []
    if random.random() < 0.4:
        troubles.append(
            StartUp(
                begins_s=random.uniform(-5 * MIN_S, let_go_s - 1 * MIN_S),
                offset_m=random.uniform(3.0, 19.0),
                bearing_deg=random.uniform(0.0, 360.0),
            )
        )
    at_s = random.expovariate(per_hour / HOUR_S)
    while at_s < lasts_s:
        troubles.append(_trouble(random, at_s))
        at_s += random.expovariate(per_hour / HOUR_S)
    return tuple(troubles)


def _trouble(random: Random, begins_s: float) -> Trouble:
    match random.choices(("multipath", "held", "void", "silence"), (60, 14, 13, 13))[0]:
        case "multipath":
            return Multipath(
                begins_s=begins_s,
                lasts_s=_long(random, 5.0, 120.0),
                offset_m=_jump_m(random),
                bearing_deg=random.uniform(0.0, 360.0),
                hdop=round(_long(random, 2.3, 20.0), 1) if random.random() < 0.5 else None,
            )
        case "held":
            return Held(begins_s=begins_s, lasts_s=_long(random, 10.0, 300.0))
        case "void":
            return Void(begins_s=begins_s, lasts_s=_long(random, 3.0, 240.0))
        case _:
            return Silence(begins_s=begins_s, lasts_s=_long(random, 3.0, 240.0))


def _long(random: Random, least: float, most: float) -> float:
    """Draw a figure, each doubling as likely as the next."""
    return least * math.pow(most / least, random.random())


def _jump_m(random: Random) -> float:
    """Draw the size of a jump: of 74 over 10 m seen in five hours, 15 were over 30, 3 over 100 m.

    That is a Pareto tail with exponent 1.4; here from 5 m on, and never more than 300 m.
    """
    return min(300.0, 5.0 * random.paretovariate(1.4))
