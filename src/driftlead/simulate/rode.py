"""How hard the rode pulls a boat that lies a given way off: the catenary, the other way round."""

import math

_STEPS = 400


def _spare(pull: float) -> float:
    """Rode less reach, in drops, for a pull in drops' weights of chain.

    A chain that leaves the bottom level (vertex on the bottom) drops 1 over a length
    sqrt(1 + 2h) and a reach h acosh(1 + 1/h); whatever more is out lies straight on the bottom.
    """
    return math.sqrt(1.0 + 2.0 * pull) - pull * math.acosh(1.0 + 1.0 / pull)


def _inverted() -> tuple[float, ...]:
    """Tabulate the pull for spare = 0, 1/400, ... 1 drops; the spare falls as the pull rises."""
    pulls = []
    for step in range(_STEPS + 1):
        wanted = max(step, 1) / _STEPS
        low, high = 0.0, 1e6
        for _ in range(80):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if _spare(middle) > wanted else (low, middle)
        pulls.append(high)
    return tuple(pulls)


_PULLS = _inverted()


def pull_n(reach_m: float, *, rode_m: float, drop_m: float, weight_n_per_m: float) -> float:
    """Horizontal pull of an all-chain rode on the bow, newtons; 0 while it hangs up and down.

    ``reach_m`` is the horizontal distance from anchor to bow, ``drop_m`` from the bow roller to
    the bottom, ``weight_n_per_m`` the weight of the chain in water.
    """
    spare = (rode_m - reach_m) / drop_m
    if spare >= 1.0:
        return 0.0
    # The last few steps of the table rise without end; no chain is loaded that far in a night.
    place = max(spare, 0.02) * _STEPS
    step = min(int(place), _STEPS - 1)
    part = place - step
    return drop_m * weight_n_per_m * (_PULLS[step] * (1.0 - part) + _PULLS[step + 1] * part)
