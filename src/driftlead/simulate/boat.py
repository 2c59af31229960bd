"""A boat riding to her anchor: a bow on a catenary, pushed about by wind, stream and engine.

One set of forces carries her through everything that happens between let go and weigh: falling
back, digging in, sheering, calms in which she lies anywhere above her rode, shifts and turns of
tide, and following a dragging anchor. The coefficients are this model's own, chosen so that a
ten-metre sloop does what such boats do; the pull of the rode is the catenary's.
"""

import math

from attrs import evolve, frozen

from driftlead.simulate.noise import SmoothWander, Wander, stream
from driftlead.simulate.rode import pull_n
from driftlead.simulate.wind import Wind
from driftlead.tackle.catenary import submerged_weight_n_per_m
from driftlead.tackle.reach import bar_taut_reach_m

AIR_KG_PER_M3 = 1.225
_STRETCH_S = 5.0


@frozen(kw_only=True)
class BoatFigures:
    """What a boat is. ``antenna_aft_m`` is from the bow roller aft to the GNSS antenna.

    ``windage_m2`` is drag coefficient times area, bow to wind and beam to wind. The sheer is how
    far the head swings to either side of the wind in a breeze, and how long there and back takes.
    ``stretch`` is how much longer a rode partly of rope becomes, as a fraction, under a load of
    ``stretch_n``; chain does not stretch.
    """

    length_m: float = 10.4
    bow_height_m: float = 1.2
    antenna_aft_m: float = 8.0
    mass_kg: float = 7500.0
    windage_m2: float = 5.0
    beam_windage_m2: float = 14.0
    chain_kg_per_m: float = 1.40
    sheer_deg: tuple[float, float] = (15.0, 45.0)
    sheer_s: tuple[float, float] = (60.0, 200.0)
    stretch: float = 0.0
    stretch_n: float = 700.0


@frozen(kw_only=True)
class Tether:
    """The rode at one moment: where the anchor is, how much is out, the height from the bottom."""

    anchor_en_m: tuple[float, float]
    rode_m: float
    drop_m: float


class Sheer:
    """How far the head is held off the wind, degrees to starboard positive, in a full breeze."""

    def __init__(self, figures: BoatFigures, *, seed: int) -> None:
        random = stream(seed, "sheer")
        self._figures = figures
        self._angle = Wander(random, sigma=0.8, tau_s=600.0)
        self._pace = Wander(random, sigma=0.8, tau_s=900.0)
        self._phase = random.uniform(0.0, math.tau)

    def step(self, dt_s: float) -> float:
        """Let ``dt_s`` pass."""
        self._phase += math.tau * dt_s / _between(self._figures.sheer_s, self._pace.step(dt_s))
        return _between(self._figures.sheer_deg, self._angle.step(dt_s)) * math.sin(self._phase)


class Boat:
    """Where the bow is (metres east and north), how it moves, and the true heading."""

    def __init__(
        self, figures: BoatFigures, *, seed: int, bow_en_m: tuple[float, float], heading_deg: float
    ) -> None:
        self.figures = figures
        self._chain_n_per_m = submerged_weight_n_per_m(figures.chain_kg_per_m)
        self.bow_e_m, self.bow_n_m = bow_en_m
        self.bow_ve_mps = self.bow_vn_mps = 0.0
        self.heading_deg = heading_deg
        self.turn_dps = 0.0
        self._swing_dps = 0.0
        self._load_n = 0.0
        self.pull_n = 0.0
        """Pull of the rode, along the water."""
        self._sheer = Sheer(figures, seed=seed)
        self._idle = SmoothWander(stream(seed, "idle"), sigma=0.12, scale_s=60.0)

    @property
    def bow_en_m(self) -> tuple[float, float]:
        """Place of the bow roller."""
        return self.bow_e_m, self.bow_n_m

    @property
    def bow_v_mps(self) -> tuple[float, float]:
        """Velocity of the bow roller."""
        return self.bow_ve_mps, self.bow_vn_mps

    @property
    def antenna_en_m(self) -> tuple[float, float]:
        """Place of the antenna, aft of the bow along the heading."""
        aft_m, head = self.figures.antenna_aft_m, math.radians(self.heading_deg)
        return self.bow_e_m - aft_m * math.sin(head), self.bow_n_m - aft_m * math.cos(head)

    @property
    def antenna_v_mps(self) -> tuple[float, float]:
        """Velocity of the antenna: it goes with the bow and swings around it."""
        head = math.radians(self.heading_deg)
        swing_mps = self.figures.antenna_aft_m * math.radians(self.turn_dps)
        return (
            self.bow_ve_mps - swing_mps * math.cos(head),
            self.bow_vn_mps + swing_mps * math.sin(head),
        )

    def steer(
        self, *, bow_en_m: tuple[float, float], bow_v_mps: tuple[float, float], heading_deg: float
    ) -> None:
        """Put her where her helmsman has her, with no turn on."""
        self.bow_e_m, self.bow_n_m = bow_en_m
        self.bow_ve_mps, self.bow_vn_mps = bow_v_mps
        self.heading_deg = heading_deg
        self.turn_dps = self._swing_dps = 0.0

    def step(
        self,
        dt_s: float,
        *,
        wind: Wind,
        stream_en_mps: tuple[float, float],
        tether: Tether | None,
        thrust_n: float = 0.0,
        adrift: float = 0.0,
    ) -> None:
        """Let ``dt_s`` pass (half a second or less).

        ``thrust_n`` is the engine's, positive ahead. ``adrift`` from 0 to 1 is how much her
        anchor has stopped holding her head up: she then falls off beam to the wind.
        """
        to_rad = math.radians(wind.from_deg + 180.0)
        off_rad = math.radians(_turn_deg(wind.from_deg, self.heading_deg))
        bow_on_n, beam_on_n = self._wind_n(wind, off_rad)
        self._turn(dt_s, wind, bow_on_n, stream_en_mps, sheering=thrust_n == 0.0, adrift=adrift)
        head = math.radians(self.heading_deg)
        sin_h, cos_h = math.sin(head), math.cos(head)
        # Off the wind she sails: a side force toward the side her head is on.
        side_n = 0.5 * bow_on_n * math.sin(2.0 * off_rad)
        force_e = beam_on_n * math.sin(to_rad) - side_n * math.cos(to_rad) + thrust_n * sin_h
        force_n = beam_on_n * math.cos(to_rad) + side_n * math.sin(to_rad) + thrust_n * cos_h
        along = (self.bow_ve_mps - stream_en_mps[0]) * sin_h
        along += (self.bow_vn_mps - stream_en_mps[1]) * cos_h
        across = (self.bow_ve_mps - stream_en_mps[0]) * cos_h
        across -= (self.bow_vn_mps - stream_en_mps[1]) * sin_h
        drag_along = along * (30.0 + 120.0 * abs(along))
        drag_across = across * (120.0 + 1500.0 * abs(across))
        force_e -= drag_along * sin_h + drag_across * cos_h
        force_n -= drag_along * cos_h - drag_across * sin_h
        if tether is not None:
            if self.figures.stretch > 0.0:
                tether = self._stretched(dt_s, tether, (force_e, force_n))
            rode_e, rode_n = self._rode_n(tether)
            force_e, force_n = force_e + rode_e, force_n + rode_n
        self.bow_ve_mps += force_e / self.figures.mass_kg * dt_s
        self.bow_vn_mps += force_n / self.figures.mass_kg * dt_s
        self.bow_e_m += self.bow_ve_mps * dt_s
        self.bow_n_m += self.bow_vn_mps * dt_s
        if tether is not None:
            self._bring_up(dt_s, tether)

    def _wind_n(self, wind: Wind, off_rad: float) -> tuple[float, float]:
        """Force of the wind on her, with her head to it and as she lies."""
        pressure = 0.5 * AIR_KG_PER_M3 * wind.speed_mps**2
        figures = self.figures
        beam = math.sin(off_rad) ** 2
        area_m2 = figures.windage_m2 + (figures.beam_windage_m2 - figures.windage_m2) * beam
        return pressure * figures.windage_m2, pressure * area_m2

    def _turn(
        self,
        dt_s: float,
        wind: Wind,
        wind_n: float,
        stream_en_mps: tuple[float, float],
        *,
        sheering: bool,
        adrift: float,
    ) -> None:
        """Turn her head toward what presses most on her, held off by the sheer."""
        from_rad = math.radians(wind.from_deg)
        rate_mps = math.hypot(*stream_en_mps)
        # The keel turns her head up-stream about as 400 N s2/m2 of windage would.
        press_e = wind_n * math.sin(from_rad) - 400.0 * rate_mps * stream_en_mps[0]
        press_n = wind_n * math.cos(from_rad) - 400.0 * rate_mps * stream_en_mps[1]
        press = math.hypot(press_e, press_n)
        lie_deg = math.degrees(math.atan2(press_e, press_n))
        sheer_deg = self._sheer.step(dt_s) * press / (press + 40.0) * (1.0 - adrift)
        off_deg = (sheer_deg if sheering else 0.0) + 65.0 * adrift
        stiffness = 0.18 * press / (press + 40.0)
        error_deg = _turn_deg(self.heading_deg, lie_deg + off_deg)
        pull_dps2 = stiffness**2 * max(-60.0, min(60.0, error_deg))
        self._swing_dps += (pull_dps2 - (1.4 * stiffness + 0.02) * self._swing_dps) * dt_s
        self.turn_dps = self._swing_dps + self._idle.step(dt_s) * 60.0 / (press + 60.0)
        self.heading_deg = (self.heading_deg + self.turn_dps * dt_s) % 360.0

    def _stretched(self, dt_s: float, tether: Tether, force_en_n: tuple[float, float]) -> Tether:
        """Lengthen the rode by what pulls her away from the anchor; it takes seconds to answer."""
        east, north = self.bow_e_m - tether.anchor_en_m[0], self.bow_n_m - tether.anchor_en_m[1]
        reach_m = math.hypot(east, north)
        outward_n = (force_en_n[0] * east + force_en_n[1] * north) / reach_m if reach_m else 0.0
        self._load_n += (max(0.0, outward_n) - self._load_n) * dt_s / _STRETCH_S
        strain = self.figures.stretch * min(1.0, self._load_n / self.figures.stretch_n)
        return evolve(tether, rode_m=tether.rode_m * (1.0 + strain))

    def _rode_n(self, tether: Tether) -> tuple[float, float]:
        """Pull of the rode on the bow, and its damping as it is dragged through water."""
        east, north = self.bow_e_m - tether.anchor_en_m[0], self.bow_n_m - tether.anchor_en_m[1]
        reach_m = math.hypot(east, north)
        pull = pull_n(
            reach_m,
            rode_m=tether.rode_m,
            drop_m=tether.drop_m,
            weight_n_per_m=self._chain_n_per_m,
        )
        if pull <= 0.0 or reach_m <= 0.0:
            self.pull_n = 0.0
            return 0.0, 0.0
        outward_mps = (self.bow_ve_mps * east + self.bow_vn_mps * north) / reach_m
        total = max(0.0, pull + 500.0 * min(1.0, pull / 50.0) * outward_mps)
        self.pull_n = total
        return -total * east / reach_m, -total * north / reach_m

    def _bring_up(self, dt_s: float, tether: Tether) -> None:
        """Stop her where the rode is bar-taut."""
        east, north = self.bow_e_m - tether.anchor_en_m[0], self.bow_n_m - tether.anchor_en_m[1]
        reach_m = math.hypot(east, north)
        limit_m = bar_taut_reach_m(tether.rode_m, tether.drop_m)
        if reach_m <= limit_m:
            return
        back_e = east * (limit_m / reach_m - 1.0)
        back_n = north * (limit_m / reach_m - 1.0)
        self.bow_e_m += back_e
        self.bow_n_m += back_n
        self.bow_ve_mps += back_e / dt_s
        self.bow_vn_mps += back_n / dt_s


def _between(limits: tuple[float, float], value: float) -> float:
    """Map any number into the limits, 0 to the middle."""
    return limits[0] + (limits[1] - limits[0]) * 0.5 * (1.0 + math.tanh(value))


def _turn_deg(from_deg: float, to_deg: float) -> float:
    """Shorter way from one bearing to another, -180 to 180, to starboard positive."""
    return (to_deg - from_deg + 180.0) % 360.0 - 180.0
