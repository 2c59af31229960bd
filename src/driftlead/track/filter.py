"""Filters fixes into a track that a multipath step cannot fool.

Each fix is compared with dead reckoning: where the Doppler speed and course of the receiver
carried the boat since the last one. Doppler is measured on the carrier and hardly minds the
reflections that throw a position off by tens of metres, so a step it does not explain is the
receiver's, not the boat's. Within the gate the track is a complementary filter: Doppler for the
quick part, position for the slow part, blended over ``BLEND_S``.

A step that stays is believed in the end (``PERSIST_S``): it may have been the track that was
wrong. A receiver that holds its position while slow, then steps to the truth, is believed sooner
(``HELD_PERSIST_S``), unless the step is larger than holding explains; and soonest a step away from
the first fixes of a track, which after a cold start are often wild (``YOUNG_PERSIST_S``). One that
lets go again and again (hold, step, hold, step the same way) says with the second step that it is a
habit: from then on such steps are taken as they come, for behind such a receiver a drag looks like
nothing else.
"""

import math
from typing import Final

from driftlead.track.point import FixState, TrackPoint

BLEND_S: Final = 15.0
"""Time over which position outweighs dead reckoning. Long against a receiver's jitter, short
against a boat's yaw of one to three minutes."""
BLEND_NO_DOPPLER_S: Final = 6.0
GATE_M: Final = 5.0
"""A step the receiver's own wander can explain: real consumer receivers at rest walk about 1 m
in a minute, so five times that within ``BLEND_S`` is not wander."""
GATE_NO_DOPPLER_M: Final = 12.0
DOPPLER_ERROR_MPS: Final = 0.25
UNKNOWN_SPEED_MPS: Final = 1.0
"""How fast a boat at anchor may move unseen when nothing tells her speed."""
PERSIST_S: Final = 120.0
HELD_PERSIST_S: Final = 40.0
"""Long enough for half of the reflections to have passed, which may begin while it holds."""
HELD_S: Final = 20.0
"""A position identical for this long before a jump: the receiver was holding it."""
HABIT_HELD_S: Final = 5.0
"""Held so long before each of two steps no more than ``HABIT_S`` apart, it does so out of habit."""
HABIT_S: Final = 45.0
HABIT_STEP_M: Final = 3.0
"""A smaller step is how any receiver goes on that stood still for some seconds."""
FINE_QUANTUM_M: Final = 0.2
"""The step of a fourth decimal of a minute. Coarser talkers stand still for longer of themselves,
in proportion, before it says that the receiver holds."""
YOUNG_PERSIST_S: Final = 10.0
YOUNG_S: Final = 60.0
"""A track no older than this may have begun with a wild fix: a jump is soon believed then."""
STILL_ASIDE_M: Final = 2.0
"""Fixes that jumped come back with a step. Until they do they are taken only this near to dead
reckoning, which errs too, and must not drift into a reflection's arms."""
HELD_STEP_M: Final = 20.0
"""Receivers let go of a held position after some ten metres; a larger step is something else."""
RECKONING_DRIFT_MPS: Final = 0.03
"""How fast dead reckoning loses its worth while fixes are refused."""
_SAME_M: Final = 0.001
"""A step below this is none: less is what moving the plane leaves by rounding."""
MAX_GAP_S: Final = 300.0
"""After a gap longer than this the old track says nothing about the new fix."""


class TrackFilter:
    """The filtered track of one receiver's antenna, in plane coordinates."""

    def __init__(self, fix_sigma_m: float) -> None:
        """``fix_sigma_m`` is the receiver's slow error per axis at HDOP 1, in metres."""
        self._fix_sigma_m = fix_sigma_m
        self._started = False
        self._began_s = 0.0
        self._gain_dt_s = self._gain_blend_s = self._gain = 0.0
        self._time_s = 0.0
        self._east_m = self._north_m = 0.0
        self._east_mps = self._north_mps = 0.0
        self._raw = (0.0, 0.0)
        self._unchanged_since_s = 0.0
        self._jumped_since_s: float | None = None
        self._candidate = (0.0, 0.0)
        self._candidate_since_s = 0.0
        self._persist_s = PERSIST_S
        self._stepped_since = False
        self._let_go_s = -math.inf
        self._let_go = (0.0, 0.0)

    def restart(self) -> None:
        """Forget the track: the next fix starts a new one (another receiver, a long gap)."""
        self._started = False

    def shift_plane(self, east_m: float, north_m: float) -> None:
        """Move the origin of the plane: every coordinate loses ``(east_m, north_m)``."""
        self._east_m -= east_m
        self._north_m -= north_m
        self._raw = (self._raw[0] - east_m, self._raw[1] - north_m)
        self._candidate = (self._candidate[0] - east_m, self._candidate[1] - north_m)

    def update(
        self,
        time_s: float,
        mono_s: float,
        east_m: float,
        north_m: float,
        *,
        quantum_m: float,
        sog_mps: float | None,
        cog_deg: float | None,
        hdop: float | None,
    ) -> TrackPoint:
        """Take one fix in plane coordinates; ``time_s`` must not run backwards."""
        dilution = 1.0 if hdop is None or hdop < 1.0 else min(hdop, 20.0)
        sigma_m = self._fix_sigma_m * dilution + 0.3 * quantum_m
        if sog_mps is None or cog_deg is None:
            # At rest many receivers leave the course out: the speed then is noise about nothing.
            # A speed above that is way without a course, and cannot carry the track along.
            east_mps = north_mps = 0.0
            doppler = sog_mps is not None and sog_mps <= DOPPLER_ERROR_MPS
        else:
            course_rad = math.radians(cog_deg)
            east_mps = sog_mps * math.sin(course_rad)
            north_mps = sog_mps * math.cos(course_rad)
            doppler = True
        dt_s = time_s - self._time_s
        if not self._started or dt_s > MAX_GAP_S:
            self._began_s = time_s
            return self._start(time_s, mono_s, east_m, north_m, sigma_m, east_mps, north_mps)

        raw = (east_m, north_m)
        held_s = self._time_s - self._unchanged_since_s
        step = (east_m - self._raw[0], north_m - self._raw[1])
        self._raw = raw
        same = abs(step[0]) < _SAME_M and abs(step[1]) < _SAME_M
        self._unchanged_since_s = self._unchanged_since_s if same else time_s

        self._time_s = time_s
        reckoned_east_m = self._east_m + 0.5 * (self._east_mps + east_mps) * dt_s
        reckoned_north_m = self._north_m + 0.5 * (self._north_mps + north_mps) * dt_s
        self._east_mps, self._north_mps = east_mps, north_mps
        off_east_m = east_m - reckoned_east_m
        off_north_m = north_m - reckoned_north_m
        if doppler:
            gate_m = GATE_M + DOPPLER_ERROR_MPS * dt_s + quantum_m
            blend_s = BLEND_S
        else:
            gate_m = self._wide_gate_m(dt_s, step, sog_mps, quantum_m)
            blend_s = BLEND_NO_DOPPLER_S
        jumped_s = 0.0
        if self._jumped_since_s is not None:
            jumped_s = time_s - self._jumped_since_s
            gate_m += RECKONING_DRIFT_MPS * jumped_s

        off_m = math.hypot(off_east_m, off_north_m)
        if off_m <= gate_m and not self._still_aside(off_m, step, dt_s, quantum_m):
            self._jumped_since_s = None
            if dt_s != self._gain_dt_s or blend_s != self._gain_blend_s:
                # The interval hardly ever changes; an exponential each fix would be wasted.
                self._gain_dt_s, self._gain_blend_s = dt_s, blend_s
                self._gain = 1.0 - math.exp(-dt_s / blend_s)
            gain = self._gain
            self._east_m = reckoned_east_m + gain * off_east_m
            self._north_m = reckoned_north_m + gain * off_north_m
            return TrackPoint(
                time_s,
                mono_s,
                self._east_m,
                self._north_m,
                sigma_m,
                east_mps,
                north_mps,
                FixState.TAKEN,
                0.0,
                time_s - self._unchanged_since_s,
            )

        self._east_m, self._north_m = reckoned_east_m, reckoned_north_m
        coarse = max(1.0, quantum_m / FINE_QUANTUM_M)
        held = held_s >= HABIT_HELD_S * coarse and off_m <= 2.0 * HELD_STEP_M
        if held and self._lets_go_again(time_s, step):
            return self._start(time_s, mono_s, east_m, north_m, sigma_m, east_mps, north_mps)
        if self._jumped_since_s is None:
            self._jumped_since_s = self._candidate_since_s = time_s
            self._stepped_since = False
            self._candidate = raw
            let_go_of = held_s >= HELD_S * coarse and off_m <= HELD_STEP_M
            self._persist_s = self._patience_s(time_s, let_go_of=let_go_of)
        else:
            self._follow_candidate(time_s, raw, gate_m, east_mps * dt_s, north_mps * dt_s)
            if time_s - self._candidate_since_s >= self._persist_s:
                since_s = self._unchanged_since_s
                self._start(time_s, mono_s, east_m, north_m, sigma_m, east_mps, north_mps)
                self._unchanged_since_s = since_s
                return self._point(mono_s, sigma_m, FixState.REACQUIRED, 0.0)
        return self._point(
            mono_s, sigma_m + RECKONING_DRIFT_MPS * jumped_s, FixState.JUMPED, jumped_s
        )

    def _wide_gate_m(
        self, dt_s: float, step: tuple[float, float], sog_mps: float | None, quantum_m: float
    ) -> float:
        """How far from the track a fix may be where nothing tells which way she goes."""
        if sog_mps is not None and self._jumped_since_s is None:
            # How far she goes is told: the wide gate is not for what that cannot be.
            way_m = (sog_mps + DOPPLER_ERROR_MPS) * dt_s
            if math.hypot(*step) > GATE_M + way_m + quantum_m:
                return 0.0
        return GATE_NO_DOPPLER_M + UNKNOWN_SPEED_MPS * dt_s + quantum_m

    def _patience_s(self, time_s: float, *, let_go_of: bool) -> float:
        """How long a step has to stay before it is believed."""
        if time_s - self._began_s < YOUNG_S:
            return YOUNG_PERSIST_S
        return HELD_PERSIST_S if let_go_of else PERSIST_S

    def _still_aside(
        self, off_m: float, step: tuple[float, float], dt_s: float, quantum_m: float
    ) -> bool:
        """Whether the fixes are where they jumped to, near as dead reckoning may have come."""
        if self._jumped_since_s is None or off_m <= STILL_ASIDE_M:
            return False
        stepped_m = math.hypot(step[0] - self._east_mps * dt_s, step[1] - self._north_mps * dt_s)
        if stepped_m > STILL_ASIDE_M + UNKNOWN_SPEED_MPS * dt_s + quantum_m:
            self._stepped_since = True
        return not self._stepped_since

    def _lets_go_again(self, time_s: float, step: tuple[float, float]) -> bool:
        """Whether the receiver lets go of a held position once more, the same way as before."""
        if not HABIT_STEP_M <= math.hypot(*step) <= HELD_STEP_M:
            return False
        before_s, before = self._let_go_s, self._let_go
        self._let_go_s, self._let_go = time_s, step
        onward = step[0] * before[0] + step[1] * before[1] > 0.0
        return onward and time_s - before_s <= HABIT_S

    def _follow_candidate(
        self, time_s: float, raw: tuple[float, float], gate_m: float, east_m: float, north_m: float
    ) -> None:
        """Whether the place it jumped to holds, carried along by Doppler; else begin anew."""
        expected_east_m = self._candidate[0] + east_m
        expected_north_m = self._candidate[1] + north_m
        if math.hypot(raw[0] - expected_east_m, raw[1] - expected_north_m) <= gate_m:
            # Follow the fixes loosely, so that the receiver's own wander does not end the vigil.
            self._candidate = (
                0.9 * expected_east_m + 0.1 * raw[0],
                0.9 * expected_north_m + 0.1 * raw[1],
            )
        else:
            self._candidate = raw
            self._candidate_since_s = time_s

    def _start(
        self,
        time_s: float,
        mono_s: float,
        east_m: float,
        north_m: float,
        sigma_m: float,
        east_mps: float,
        north_mps: float,
    ) -> TrackPoint:
        self._started = True
        self._time_s = time_s
        self._east_m, self._north_m = east_m, north_m
        self._east_mps, self._north_mps = east_mps, north_mps
        self._raw = (east_m, north_m)
        self._unchanged_since_s = time_s
        self._jumped_since_s = None
        return self._point(mono_s, sigma_m, FixState.REACQUIRED, 0.0)

    def _point(
        self, mono_s: float, sigma_m: float, fix_state: FixState, jumped_s: float
    ) -> TrackPoint:
        return TrackPoint(
            self._time_s,
            mono_s,
            self._east_m,
            self._north_m,
            sigma_m,
            self._east_mps,
            self._north_mps,
            fix_state,
            jumped_s,
            self._time_s - self._unchanged_since_s,
        )
