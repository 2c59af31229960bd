"""What the crew do with boat, engine and windlass around an anchoring, moment by moment."""

import math

from driftlead.simulate.scenario import Anchoring
from driftlead.simulate.timeline import Timeline

_SHORT_M = 1.5  # rode beyond up and down when the anchor touches, and again when it breaks out
_HEAVE_MPS = 0.25


class Manoeuvre:
    """The plan of one night, worked out from its ``Anchoring``."""

    def __init__(self, plan: Anchoring, *, drop_m: float, into_wind_deg: float) -> None:
        """``drop_m`` is from bow roller to bottom; she comes up on ``into_wind_deg`` true."""
        self._plan = plan
        self._into_wind_deg = into_wind_deg
        short_m = drop_m + _SHORT_M
        self.veered_s = plan.let_go_s + 5.0 + (plan.rode_m - short_m) / plan.veer_mps
        rode = [(plan.let_go_s + 5.0, short_m), (self.veered_s, plan.rode_m)]
        if plan.weigh_s is not None:
            heave_s = (plan.rode_m - short_m) / _HEAVE_MPS
            rode += [(plan.weigh_s - heave_s, plan.rode_m), (plan.weigh_s, short_m)]
        self._rode_m = Timeline(tuple(rode))
        self._thrust_n = Timeline(self._engine())

    def rode_m(self, t_s: float) -> float:
        """Rode out at ``t_s``."""
        return self._rode_m.at(t_s)

    def thrust_n(self, t_s: float) -> float:
        """Thrust of the engine, positive ahead: astern to lay back and dig in, ahead to leave."""
        return self._thrust_n.at(t_s)

    def approach(self, t_s: float) -> tuple[tuple[float, float], tuple[float, float], float]:
        """Bow (east, north), its velocity, and heading while she comes up to the drop point.

        A knot and a half into the wind, losing way over the last minute and a half, stopped for
        ten seconds before the anchor goes.
        """
        full_mps, slowing_s = 0.75, 90.0
        stop_s = self._plan.let_go_s - 10.0
        left_s = max(0.0, stop_s - t_s)
        braked_s = min(left_s, slowing_s)
        speed_mps = full_mps * braked_s / slowing_s
        to_go_m = 0.5 * speed_mps * braked_s + full_mps * (left_s - braked_s)
        ahead = math.radians(self._into_wind_deg)
        sin_h, cos_h = math.sin(ahead), math.cos(ahead)
        bow = (-to_go_m * sin_h, -to_go_m * cos_h)
        return bow, (speed_mps * sin_h, speed_mps * cos_h), self._into_wind_deg

    def _engine(self) -> tuple[tuple[float, float], ...]:
        plan = self._plan
        points = [
            (plan.let_go_s, 0.0),
            (plan.let_go_s + 10.0, -150.0),
            (self.veered_s, -150.0),
            (self.veered_s + 60.0, -1100.0),
            (self.veered_s + 100.0, -1100.0),
            (self.veered_s + 110.0, 0.0),
        ]
        if plan.weigh_s is not None:
            points += [(plan.weigh_s, 0.0), (plan.weigh_s + 15.0, 700.0)]
        return tuple(points)
