"""Stationary random walks that keep their statistics whatever the step of time."""

import math
from random import Random


def stream(seed: int, name: str) -> Random:
    """Give each part of a night its own generator, so that a change in one leaves the rest as is.

    Seeding with text goes through SHA-512 and is therefore the same on every machine.
    """
    return Random(f"driftlead {seed} {name}")  # noqa: S311 - a model, nothing is kept secret


class Wander:
    """An Ornstein-Uhlenbeck process with mean 0: standard deviation ``sigma``, time ``tau_s``.

    Stepped with its exact transition (Gillespie 1996, Phys. Rev. E 54:2084), it starts stationary.
    """

    def __init__(self, random: Random, *, sigma: float, tau_s: float) -> None:
        self._random = random
        self._sigma = sigma
        self._tau_s = tau_s
        self._dt_s = math.nan
        self._keep = 0.0
        self._kick = 0.0
        self.value = random.gauss(0.0, sigma)

    def step(self, dt_s: float) -> float:
        """Let ``dt_s`` seconds pass and return the new value."""
        if dt_s != self._dt_s:
            self._dt_s = dt_s
            self._keep = math.exp(-dt_s / self._tau_s)
            self._kick = self._sigma * math.sqrt(-math.expm1(-2.0 * dt_s / self._tau_s))
        self.value = self.value * self._keep + self._kick * self._random.gauss(0.0, 1.0)
        return self.value


class SmoothWander:
    """A Matern 3/2 process with mean 0: like ``Wander``, but with a continuous rate of change.

    It is what a filter makes of a random walk: nearly still from one moment to the next.
    Autocorrelation (1 + t/scale) exp(-t/scale). The transition is that of the equivalent linear
    stochastic differential equation (Hartikainen & Sarkka 2010, IEEE MLSP), exact for any step.
    """

    def __init__(self, random: Random, *, sigma: float, scale_s: float) -> None:
        self._random = random
        self._sigma = sigma
        self._rate = 1.0 / scale_s
        self._dt_s = math.nan
        self._transition = (1.0, 0.0, 0.0, 1.0)
        self._root = (0.0, 0.0, 0.0)
        self.value = random.gauss(0.0, sigma)
        self._slope = random.gauss(0.0, sigma * self._rate)

    def step(self, dt_s: float) -> float:
        """Let ``dt_s`` seconds pass and return the new value."""
        if dt_s != self._dt_s:
            self._prepare(dt_s)
        a, b, c, d = self._transition
        root_aa, root_ab, root_bb = self._root
        first, second = self._random.gauss(0.0, 1.0), self._random.gauss(0.0, 1.0)
        value, slope = self.value, self._slope
        self.value = a * value + b * slope + root_aa * first
        self._slope = c * value + d * slope + root_ab * first + root_bb * second
        return self.value

    def _prepare(self, dt_s: float) -> None:
        """Work out the transition and a Cholesky root of what noise must add in one step."""
        rate, step = self._rate, self._rate * dt_s
        decay = math.exp(-step)
        a, b = decay * (1.0 + step), decay * dt_s
        c, d = -decay * rate * step, decay * (1.0 - step)
        var_value = self._sigma**2
        var_slope = var_value * rate**2
        q_aa = max(0.0, var_value - a * a * var_value - b * b * var_slope)
        q_ab = -(a * c * var_value + b * d * var_slope)
        q_bb = max(0.0, var_slope - c * c * var_value - d * d * var_slope)
        root_aa = math.sqrt(q_aa)
        root_ab = q_ab / root_aa if root_aa > 0.0 else 0.0
        self._dt_s = dt_s
        self._transition = (a, b, c, d)
        self._root = (root_aa, root_ab, math.sqrt(max(0.0, q_bb - root_ab**2)))
