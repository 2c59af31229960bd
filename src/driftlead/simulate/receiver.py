"""A consumer GNSS receiver: smooth, wandering, and now and then badly wrong.

The figures are those of one-hertz consumer receivers lying still: square root of the
semivariance of each axis about 0.1 m at 1 s, 0.45 m at 10 s, 0.9 m at 60 s and 1.3 m at 300 s,
correlation down to 1/e after some half an hour, 1.5 to 2.5 m in all. Such receivers filter what
they put out, so noise from second to second is nearly nothing; white noise would be wrong.
"""

import math

from attrs import evolve, frozen

from driftlead.simulate.noise import SmoothWander, Wander, stream


@frozen(kw_only=True)
class ReceiverFigures:
    """How wrong a receiver is, standard deviations of each axis in metres (m/s for speed).

    ``quick`` is what its filter lets through of the noise, ``middling`` multipath that changes
    as the boat swings, ``slow`` orbits, clocks and atmosphere. Below ``course_above_mps`` it gives
    no course, for it could only be noise.
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


Trouble = Multipath | Held | Void | Silence


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
    """One receiver through one night."""

    def __init__(
        self, figures: ReceiverFigures, *, seed: int, troubles: tuple[Trouble, ...] = ()
    ) -> None:
        self._figures = figures
        self._troubles = troubles
        self._held_en_m: tuple[float, float] | None = None
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
        east, north = (
            true_m + sum(part.step(dt_s) for part in parts)
            for true_m, parts in zip(en_m, self._position, strict=True)
        )
        ve, vn = (
            true + noise.step(dt_s) for true, noise in zip(v_mps, self._velocity, strict=True)
        )
        sky = self._sky.step(dt_s)
        sog_mps = math.hypot(ve, vn)
        moving = sog_mps >= self._figures.course_above_mps
        fix = Fix(
            e_m=east,
            n_m=north,
            sog_mps=sog_mps,
            cog_deg=math.degrees(math.atan2(ve, vn)) % 360.0 if moving else None,
            hdop=self._figures.hdop * (1.0 + 0.1 * math.tanh(sky)),
            satellites=self._figures.satellites - round(math.tanh(sky)),
        )
        return self._troubled(fix, t_s)

    def _troubled(self, fix: Fix, t_s: float) -> Fix | None:
        """Let whatever is wrong at ``t_s`` have its way with a fix."""
        active = [t for t in self._troubles if t.begins_s <= t_s < t.begins_s + t.lasts_s]
        if not any(isinstance(trouble, Held) for trouble in active):
            self._held_en_m = None
        result: Fix | None = fix
        for trouble in active:
            if result is not None:
                result = self._with(trouble, result)
        return result

    def _with(self, trouble: Trouble, fix: Fix) -> Fix | None:
        match trouble:
            case Silence():
                return None
            case Void():
                return evolve(fix, hdop=99.9, satellites=2, valid=False)
            case Held():
                if self._held_en_m is None:
                    self._held_en_m = (fix.e_m, fix.n_m)
                east, north = self._held_en_m
                return evolve(fix, e_m=east, n_m=north, sog_mps=0.0, cog_deg=None)
            case Multipath():
                toward = math.radians(trouble.bearing_deg)
                aside = evolve(
                    fix,
                    e_m=fix.e_m + trouble.offset_m * math.sin(toward),
                    n_m=fix.n_m + trouble.offset_m * math.cos(toward),
                )
                if trouble.hdop is None:
                    return aside
                return evolve(aside, hdop=trouble.hdop, satellites=4)
