"""What the instruments aboard make of the truth, before they put it into words."""

import math

from attrs import evolve, frozen

from driftlead.simulate.noise import Wander, stream
from driftlead.simulate.receiver import Fix, PositionError, Receiver
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.truth import TruthSample
from driftlead.simulate.wind import Wind


@frozen
class Reading:
    """One moment as it is measured; ``fix`` is None while the receiver is silent.

    ``wind`` is the wind over the ground, and ``depth_m`` the depth of water under the bow.
    """

    heading_deg: float
    wind: Wind
    depth_m: float
    fix: Fix | None


class Measuring:
    """The receiver, compass, vane and sounder of one night."""

    def __init__(self, scenario: Scenario, *, error: PositionError | None = None) -> None:
        instruments = scenario.instruments
        random = stream(scenario.seed, "instruments")
        self._interval_s = scenario.fix_interval_s
        self._instruments = instruments
        self._compass = Wander(random, sigma=instruments.compass_deg, tau_s=30.0)
        self._sounder = Wander(random, sigma=instruments.sounder_m, tau_s=5.0)
        self._receiver = Receiver(
            scenario.receiver, seed=scenario.seed, troubles=scenario.troubles, error=error
        )

    def step(self, truth: TruthSample) -> Reading:
        """Measure the next fix interval; call it for every one."""
        interval_s, instruments = self._interval_s, self._instruments
        heading_deg = truth.heading_deg + instruments.compass_off_deg
        if instruments.compass_deviation_deg:
            heading_rad = math.radians(truth.heading_deg)
            heading_deg += instruments.compass_deviation_deg * math.sin(heading_rad)
        wind = truth.wind
        if instruments.vane_off_deg:
            wind = evolve(wind, from_deg=wind.from_deg + instruments.vane_off_deg)
        return Reading(
            heading_deg + self._compass.step(interval_s),
            wind,
            truth.depth_m + self._sounder.step(interval_s),
            self._receiver.fix(
                truth.t_s, interval_s, en_m=truth.antenna_en_m, v_mps=truth.antenna_v_mps
            ),
        )
