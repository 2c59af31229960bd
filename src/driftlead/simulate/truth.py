"""What is true of a night, moment by moment: boat, anchor, wind and water."""

import math
from collections.abc import Iterator

from attrs import frozen

from driftlead.geodesy.plane import distance_and_bearing
from driftlead.simulate.anchor import Anchor
from driftlead.simulate.boat import Boat, Tether
from driftlead.simulate.manoeuvre import Manoeuvre
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.tide import StreamProcess
from driftlead.simulate.wind import Wind, WindProcess


@frozen(kw_only=True)
class TruthSample:
    """What was true at one moment; metres east and north of the drop point.

    ``anchor_en_m`` and ``rode_m`` are None while no anchor is on the bottom. ``dragged_m`` is how
    far the anchor has come, straight, since it began to drag; ``dragged_path_m`` is the way it
    has made. Its settling is not part of that.
    """

    t_s: float
    bow_en_m: tuple[float, float]
    bow_v_mps: tuple[float, float]
    antenna_en_m: tuple[float, float]
    antenna_v_mps: tuple[float, float]
    heading_deg: float
    wind: Wind
    depth_m: float
    anchor_en_m: tuple[float, float] | None
    rode_m: float | None
    dragged_m: float
    dragged_path_m: float


@frozen(kw_only=True)
class DragTruth:
    """The drag of a night: when it began and ended, and how far and which way (true) it went."""

    begins_s: float
    ends_s: float
    distance_m: float
    bearing_deg: float


class TruthProcess:
    """One night as it happens. Step it through by taking ``samples``, once."""

    def __init__(self, scenario: Scenario, manoeuvre: Manoeuvre) -> None:
        self._scenario = scenario
        self._manoeuvre = manoeuvre
        self._anchor = Anchor(
            scenario.holding, let_go_s=scenario.anchoring.let_go_s, en_m=(0.0, 0.0)
        )
        bow, _, heading_deg = manoeuvre.approach(0.0)
        self._boat = Boat(scenario.boat, seed=scenario.seed, bow_en_m=bow, heading_deg=heading_deg)
        self._wind_process = WindProcess(scenario.wind, seed=scenario.seed)
        self._stream_process = StreamProcess(scenario.tide, seed=scenario.seed)
        self._wind = self._wind_process.step(0.0, 0.0)
        self._steer(0.0)

    def samples(self) -> Iterator[TruthSample]:
        """One sample each fix interval, from second 0 to the end of the night."""
        interval_s = self._scenario.fix_interval_s
        steps = math.ceil(interval_s / self._scenario.longest_step_s)
        dt_s = interval_s / steps
        yield self._sample(0.0)
        for tick in range(round(self._scenario.lasts_s / interval_s)):
            for step in range(1, steps + 1):
                self._step(tick * interval_s + step * dt_s, dt_s)
            yield self._sample((tick + 1) * interval_s)

    @property
    def settled_m(self) -> float:
        """How far the anchor has come in digging in, so far."""
        return self._anchor.settled_m

    def drag(self) -> DragTruth | None:
        """Say what the drag has come to, so far; None if the anchor holds."""
        plan = self._scenario.holding.drag
        if plan is None or self._anchor.dragged_from_en_m is None:
            return None
        distance_m, bearing_deg = distance_and_bearing(*self._anchor.dragged_en_m)
        return DragTruth(
            begins_s=plan.begins_s,
            ends_s=min(plan.ends_s, self._aweigh_s),
            distance_m=distance_m,
            bearing_deg=bearing_deg,
        )

    @property
    def _aweigh_s(self) -> float:
        weigh_s = self._scenario.anchoring.weigh_s
        return math.inf if weigh_s is None else weigh_s

    def _step(self, t_s: float, dt_s: float) -> None:
        self._wind = self._wind_process.step(t_s, dt_s)
        stream_en_mps = self._stream_process.step(t_s, dt_s)
        if t_s <= self._scenario.anchoring.let_go_s:
            self._steer(t_s)
            return
        boat, anchor = self._boat, self._anchor
        holding = t_s < self._aweigh_s
        if holding:
            anchor.step(t_s, dt_s, bow_en_m=boat.bow_en_m, pull_n=boat.pull_n)
        boat.step(
            dt_s,
            wind=self._wind,
            stream_en_mps=stream_en_mps,
            tether=self._tether(t_s) if holding else None,
            thrust_n=self._manoeuvre.thrust_n(t_s),
            adrift=min(1.0, anchor.speed_mps / 0.5) if holding else 0.0,
        )

    def _steer(self, t_s: float) -> None:
        bow, velocity, heading_deg = self._manoeuvre.approach(t_s)
        self._boat.steer(bow_en_m=bow, bow_v_mps=velocity, heading_deg=heading_deg)

    def _tether(self, t_s: float) -> Tether:
        anchor = self._anchor
        depth_m = depth_at_m(self._scenario, t_s, (anchor.e_m, anchor.n_m))
        return Tether(
            anchor_en_m=(anchor.e_m, anchor.n_m),
            rode_m=self._manoeuvre.rode_m(t_s),
            drop_m=depth_m + self._scenario.boat.bow_height_m,
        )

    def _sample(self, t_s: float) -> TruthSample:
        boat, anchor = self._boat, self._anchor
        down = self._scenario.anchoring.let_go_s <= t_s < self._aweigh_s
        return TruthSample(
            t_s=t_s,
            bow_en_m=boat.bow_en_m,
            bow_v_mps=boat.bow_v_mps,
            antenna_en_m=boat.antenna_en_m,
            antenna_v_mps=boat.antenna_v_mps,
            heading_deg=boat.heading_deg,
            wind=self._wind,
            depth_m=depth_at_m(self._scenario, t_s, boat.bow_en_m),
            anchor_en_m=(anchor.e_m, anchor.n_m) if down else None,
            rode_m=self._manoeuvre.rode_m(t_s) if down else None,
            dragged_m=math.hypot(*anchor.dragged_en_m),
            dragged_path_m=anchor.dragged_path_m,
        )


def depth_at_m(scenario: Scenario, t_s: float, en_m: tuple[float, float]) -> float:
    """Depth of water at a time and a place."""
    return scenario.seabed.depth_at_m(*en_m) + scenario.tide.height_m(t_s)
