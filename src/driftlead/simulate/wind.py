"""The wind over a night: a planned mean, with gusts and with a direction that wanders."""

import math

from attrs import frozen

from driftlead.simulate.noise import SmoothWander, stream
from driftlead.simulate.timeline import Timeline


@frozen(kw_only=True)
class WindPlan:
    """The mean wind: speed in m/s, and the true bearing it blows *from*, in degrees.

    Write bearings on without wrapping: 220 to 340 is a wind that veers through west.
    ``gust_fraction`` is the standard deviation of the gusts as a share of the mean speed (0.1 to
    0.2 over open water), ``swing_deg`` that of the direction in a breeze; both last about
    ``gust_s`` and ``swing_s`` seconds. In light air the direction wanders much farther.
    """

    speed_mps: Timeline
    from_deg: Timeline
    gust_fraction: float = 0.13
    gust_s: float = 15.0
    swing_deg: float = 5.0
    swing_s: float = 60.0
    light_swing_deg: float = 25.0


@frozen
class Wind:
    """The wind at one moment: m/s, and the true bearing in degrees it blows from."""

    speed_mps: float
    from_deg: float


class WindProcess:
    """The wind of one night, moment by moment."""

    def __init__(self, plan: WindPlan, *, seed: int) -> None:
        self._plan = plan
        random = stream(seed, "wind")
        self._gust = SmoothWander(random, sigma=1.0, scale_s=plan.gust_s)
        self._swing = SmoothWander(random, sigma=1.0, scale_s=plan.swing_s)

    def step(self, t_s: float, dt_s: float) -> Wind:
        """Let ``dt_s`` pass, up to ``t_s``."""
        plan = self._plan
        mean_mps = plan.speed_mps.at(t_s)
        gust = self._gust.step(dt_s) * plan.gust_fraction
        # Below 2 m/s or so air has no settled direction (light and variable airs).
        swing_deg = plan.swing_deg + plan.light_swing_deg * math.exp(-mean_mps / 1.5)
        return Wind(
            max(0.0, mean_mps * (1.0 + gust)),
            (plan.from_deg.at(t_s) + self._swing.step(dt_s) * swing_deg) % 360.0,
        )
