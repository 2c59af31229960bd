"""A consumer GNSS receiver: smooth, wandering, and now and then badly wrong.

The figures are those of one-hertz consumer receivers lying still: square root of the
semivariance of each axis about 0.1 m at 1 s, 0.45 m at 10 s, 0.9 m at 60 s and 1.3 m at 300 s,
correlation down to 1/e after some half an hour, 1.5 to 2.5 m in all. Such receivers filter what
they put out, so noise from second to second is nearly nothing; white noise would be wrong.
"""

import math
from typing import Protocol

from attrs import evolve, frozen

from driftlead.simulate.noise import SmoothWander, Wander, stream


@frozen(kw_only=True)
class ReceiverFigures:
    """How wrong a receiver is, standard deviations of each axis in metres (m/s for speed).

    ``quick`` is what its filter lets through of the noise, ``middling`` multipath that changes
    as the boat swings, ``slow`` orbits, clocks and atmosphere. Below ``course_above_mps`` it gives
    no course, for it could only be noise.

    Some receivers hold their position out of habit: below ``holds_below_mps`` they put out the
    same position and speed 0, until they are off by more than ``holds_within_m``. 0: never.
    """

    quick_m: float = 0.75
    quick_s: float = 10.0
    middling_m: float = 1.0
    middling_s: float = 200.0
    slow_m: float = 1.65
    slow_s: float = 2700.0
    velocity_mps: float = 0.05
    velocity_s: float = 2.0
    course_above_mps: float = 0.1
    hdop: float = 0.9
    satellites: int = 10
    holds_below_mps: float = 0.0
    holds_within_m: float = 0.0


@frozen(kw_only=True)
class Multipath:
    """The position steps aside by ``offset_m`` toward ``bearing_deg`` true and comes back.

    With ``hdop`` the receiver tells that it has few satellites; without, nothing shows it.
    """

    begins_s: float
    lasts_s: float
    offset_m: float
    bearing_deg: float
    hdop: float | None = None


@frozen(kw_only=True)
class Held:
    """The receiver takes her for lying still: identical positions at speed 0, then a jump."""

    begins_s: float
    lasts_s: float


@frozen(kw_only=True)
class Void:
    """The receiver talks, but has no fix."""

    begins_s: float
    lasts_s: float


@frozen(kw_only=True)
class Silence:
    """The receiver says nothing at all."""

    begins_s: float
    lasts_s: float


@frozen(kw_only=True)
class StartUp:
    """Just switched on, it is off by ``offset_m`` toward ``bearing_deg`` and finds its way in.

    A puck under open sky was seen to wander 19 m in its first six minutes.
    """

    begins_s: float
    offset_m: float
    bearing_deg: float
    lasts_s: float = 360.0


Trouble = Multipath | Held | Void | Silence | StartUp


class PositionError(Protocol):
    """What a receiver's position may be off by, in place of what its figures make of it."""

    def at(self, t_s: float) -> tuple[float, float]:
        """Metres east and north at ``t_s``; asked for in the order of time."""


@frozen(kw_only=True)
class Fix:
    """What the receiver makes of one moment; positions in metres east and north."""

    e_m: float
    n_m: float
    sog_mps: float
    cog_deg: float | None
    hdop: float
    satellites: int
    valid: bool = True


class Receiver:
    """One receiver through one night.

    ``error`` is what its position is off by, if that is not to be made up from the figures.
    """

    def __init__(
        self,
        figures: ReceiverFigures,
        *,
        seed: int,
        troubles: tuple[Trouble, ...] = (),
        error: PositionError | None = None,
    ) -> None:
        self._figures = figures
        self._troubles = troubles
        self._active: tuple[Trouble, ...] = ()
        self._active_within_s = (math.inf, -math.inf)
        self._error = error
        self._held_en_m: tuple[float, float] | None = None
        self._habit_en_m: tuple[float, float] | None = None
        random = stream(seed, "receiver")
        self._position = tuple(
            (
                SmoothWander(random, sigma=figures.quick_m, scale_s=figures.quick_s),
                Wander(random, sigma=figures.middling_m, tau_s=figures.middling_s),
                Wander(random, sigma=figures.slow_m, tau_s=figures.slow_s),
            )
            for _ in range(2)
        )
        self._velocity = tuple(
            SmoothWander(random, sigma=figures.velocity_mps, scale_s=figures.velocity_s)
            for _ in range(2)
        )
        self._sky = Wander(stream(seed, "sky"), sigma=1.0, tau_s=1200.0)

    def fix(
        self, t_s: float, dt_s: float, *, en_m: tuple[float, float], v_mps: tuple[float, float]
    ) -> Fix | None:
        """Put out the fix for ``t_s``, ``dt_s`` after the last one; None if it says nothing.

        ``en_m`` and ``v_mps`` are where the antenna truly is and how it truly moves.
        """
        off_e_m, off_n_m = self._off(t_s, dt_s)
        ve = v_mps[0] + self._velocity[0].step(dt_s)
        vn = v_mps[1] + self._velocity[1].step(dt_s)
        sky = self._sky.step(dt_s)
        sog_mps = math.hypot(ve, vn)
        moving = sog_mps >= self._figures.course_above_mps
        fix = Fix(
            e_m=en_m[0] + off_e_m,
            n_m=en_m[1] + off_n_m,
            sog_mps=sog_mps,
            cog_deg=math.degrees(math.atan2(ve, vn)) % 360.0 if moving else None,
            hdop=self._figures.hdop * (1.0 + 0.1 * math.tanh(sky)),
            satellites=self._figures.satellites - round(math.tanh(sky)),
        )
        if self._figures.holds_below_mps > 0.0:
            fix = self._by_habit(fix)
        return self._troubled(fix, t_s)

    def _off(self, t_s: float, dt_s: float) -> tuple[float, float]:
        """Say what the position is off by, all being well."""
        if self._error is not None:
            return self._error.at(t_s)
        (quick_e, middling_e, slow_e), (quick_n, middling_n, slow_n) = self._position
        return (
            quick_e.step(dt_s) + middling_e.step(dt_s) + slow_e.step(dt_s),
            quick_n.step(dt_s) + middling_n.step(dt_s) + slow_n.step(dt_s),
        )

    def _by_habit(self, fix: Fix) -> Fix:
        """Hold the position of a boat that hardly moves."""
        held, figures = self._habit_en_m, self._figures
        if fix.sog_mps >= figures.holds_below_mps:
            self._habit_en_m = None
            return fix
        if held is None or math.dist(held, (fix.e_m, fix.n_m)) > figures.holds_within_m:
            held = self._habit_en_m = (fix.e_m, fix.n_m)
        return evolve(fix, e_m=held[0], n_m=held[1], sog_mps=0.0, cog_deg=None)

    def _troubled(self, fix: Fix, t_s: float) -> Fix | None:
        """Let whatever is wrong at ``t_s`` have its way with a fix."""
        active = self._active_at(t_s)
        if not any(isinstance(trouble, Held) for trouble in active):
            self._held_en_m = None
        result: Fix | None = fix
        for trouble in active:
            if result is not None:
                result = self._with(trouble, result, t_s)
        return result

    def _active_at(self, t_s: float) -> tuple[Trouble, ...]:
        """Find what is wrong at ``t_s``; looked for again only once something begins or ends."""
        since_s, until_s = self._active_within_s
        if not since_s <= t_s < until_s:
            spans = [(t, t.begins_s, t.begins_s + t.lasts_s) for t in self._troubles]
            self._active = tuple(t for t, begins_s, ends_s in spans if begins_s <= t_s < ends_s)
            changes_s = [change_s for _, *ends in spans for change_s in ends]
            self._active_within_s = (
                max((c for c in changes_s if c <= t_s), default=-math.inf),
                min((c for c in changes_s if c > t_s), default=math.inf),
            )
        return self._active

    def _with(self, trouble: Trouble, fix: Fix, t_s: float) -> Fix | None:
        match trouble:
            case Silence():
                return None
            case StartUp():
                left = max(0.0, 1.0 - (t_s - trouble.begins_s) / trouble.lasts_s)
                return _aside(fix, trouble.offset_m * left**2, trouble.bearing_deg)
            case Void():
                return evolve(fix, hdop=99.9, satellites=2, valid=False)
            case Held():
                if self._held_en_m is None:
                    self._held_en_m = (fix.e_m, fix.n_m)
                east, north = self._held_en_m
                return evolve(fix, e_m=east, n_m=north, sog_mps=0.0, cog_deg=None)
            case Multipath():
                aside = _aside(fix, trouble.offset_m, trouble.bearing_deg)
                if trouble.hdop is None:
                    return aside
                return evolve(aside, hdop=trouble.hdop, satellites=4)


def _aside(fix: Fix, offset_m: float, bearing_deg: float) -> Fix:
    toward = math.radians(bearing_deg)
    return evolve(
        fix,
        e_m=fix.e_m + offset_m * math.sin(toward),
        n_m=fix.n_m + offset_m * math.cos(toward),
    )
