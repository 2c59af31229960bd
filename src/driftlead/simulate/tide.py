"""The tide over a night: height and stream, as one cosine each."""

import math

from attrs import frozen

from driftlead.simulate.noise import SmoothWander, stream

M2_PERIOD_S = 44714.2
"""The principal lunar semidiurnal constituent, 12.4206 h (Admiralty Tidal Handbook)."""


@frozen(kw_only=True)
class TidePlan:
    """A semidiurnal tide: range in metres, stream in m/s toward ``flood_deg`` true on the flood.

    ``high_water_s`` is high water in seconds since the start of the night; the stream turns
    ``turn_after_s`` seconds after high and low water. ``eddy_mps`` is the size of the wandering
    set that is there even at slack water.
    """

    range_m: float = 0.0
    high_water_s: float = 0.0
    stream_mps: float = 0.0
    flood_deg: float = 0.0
    turn_after_s: float = 0.0
    eddy_mps: float = 0.02
    eddy_s: float = 240.0

    def height_m(self, t_s: float) -> float:
        """Height of the water above its mean level."""
        phase = math.tau * (t_s - self.high_water_s) / M2_PERIOD_S
        return 0.5 * self.range_m * math.cos(phase)

    def stream_en_mps(self, t_s: float) -> tuple[float, float]:
        """Velocity of the stream, east and north; before high water it floods."""
        phase = math.tau * (t_s - self.high_water_s - self.turn_after_s) / M2_PERIOD_S
        rate_mps = -self.stream_mps * math.sin(phase)
        set_rad = math.radians(self.flood_deg)
        return rate_mps * math.sin(set_rad), rate_mps * math.cos(set_rad)


class StreamProcess:
    """The stream of one night, moment by moment: the plan's, and eddies."""

    def __init__(self, plan: TidePlan, *, seed: int) -> None:
        self._plan = plan
        random = stream(seed, "eddies")
        self._eddies = tuple(
            SmoothWander(random, sigma=plan.eddy_mps, scale_s=plan.eddy_s) for _ in range(2)
        )

    def step(self, t_s: float, dt_s: float) -> tuple[float, float]:
        """Let ``dt_s`` pass, up to ``t_s``; return the velocity east and north in m/s."""
        east, north = self._plan.stream_en_mps(t_s)
        return east + self._eddies[0].step(dt_s), north + self._eddies[1].step(dt_s)
