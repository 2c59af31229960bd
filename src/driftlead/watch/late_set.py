"""Where the anchor lies when the watch is set late, with the boat already lying back.

Many places for the anchor are weighed side by side (a Bayesian grid of bearings and distances
around the boat), and each point of the track speaks for some and against others:

- none may be farther than the rode reaches (a hard limit, softened by the fix's error);
- a boat with wind lies near her full reach (weak: in a calm she does not);
- her head points roughly at the anchor (weak: wind against tide, yawing).

Points of one minute say nearly the same thing, so each counts for only a part of its weight. The
estimate is the mean of the places with their spread, never narrower than ``FLOOR_M``; it is
called settled after ``SETTLE_S``, if it is good enough, and then left alone, so that a later drag
cannot carry it along.
"""

import math
from typing import Final

from driftlead.watch.detector import AnchorInPlane

BEARINGS: Final = 48
RINGS: Final = (0.35, 0.5, 0.65, 0.75, 0.85, 0.92, 1.0)
"""Distances tried, as fractions of the farthest the antenna can be from the anchor."""
STEP_S: Final = 20.0
"""How often a track point is weighed."""
INDEPENDENT_S: Final = 90.0
"""Time after which a boat's yaw makes her position news again; points closer count in part."""
SETTLE_S: Final = 1200.0
LONGEST_S: Final = 6 * 3600.0
GOOD_ENOUGH: Final = 0.25
"""An estimate is left alone only when its error is below this part of the reach: a boat that has
lain still and told nothing goes on being listened to."""
LIMIT_SIGMA_M: Final = 3.0
TYPICAL_REACH: Final = 0.93
REACH_SPREAD: Final = 0.25
HEADING_SPREAD_RAD: Final = math.radians(35.0)
FLOOR_M: Final = 4.0
FLOOR_OF_REACH: Final = 0.08


class LateSet:
    """The weighed places, fed with the track until settled."""

    def __init__(
        self,
        *,
        east_m: float,
        north_m: float,
        reach_m: float,
        time_s: float,
        known: AnchorInPlane | None = None,
    ) -> None:
        """The boat lies at this point of the plane at ``time_s``; ``reach_m`` is the farthest.

        ``reach_m`` is from anchor to antenna: bar-taut reach, slack and antenna offset. ``known``
        is what was worked out before, of the same anchor and rode.
        """
        self._reach_m = reach_m
        self._started_s = time_s
        self._last_s = -math.inf
        self._places = [
            (
                east_m + ring * reach_m * math.sin(bearing),
                north_m + ring * reach_m * math.cos(bearing),
            )
            for bearing in (2.0 * math.pi * i / BEARINGS for i in range(BEARINGS))
            for ring in RINGS
        ]
        # Before anything is known every place is as likely as the water it stands for.
        self._log_weights = [math.log(ring) for _ in range(BEARINGS) for ring in RINGS]
        if known is not None:
            for i, (place_east_m, place_north_m) in enumerate(self._places):
                off_m = math.hypot(place_east_m - known.east_m, place_north_m - known.north_m)
                self._log_weights[i] -= 0.5 * (off_m / known.sigma_m) ** 2

    def settled(self, time_s: float, sigma_m: float) -> bool:
        """Whether an estimate of this standard error is final at ``time_s``."""
        lasted_s = time_s - self._started_s
        return lasted_s >= LONGEST_S or (
            lasted_s >= SETTLE_S and sigma_m <= GOOD_ENOUGH * self._reach_m
        )

    def take(
        self,
        *,
        time_s: float,
        east_m: float,
        north_m: float,
        sigma_m: float,
        toward_deg: float | None,
    ) -> AnchorInPlane | None:
        """Weigh one point; gives the new estimate, or None if the last point was just now.

        ``toward_deg`` is where the anchor should lie from the boat: her head, or the wind's
        direction where there is no heading; None if neither is known.
        """
        gap_s = time_s - self._last_s
        if gap_s < STEP_S:
            return None
        self._last_s = time_s
        part = min(1.0, max(gap_s, STEP_S) / INDEPENDENT_S)
        reach_m = self._reach_m
        limit_sigma_m = math.hypot(LIMIT_SIGMA_M, sigma_m)
        typical_m = TYPICAL_REACH * reach_m
        spread_m = REACH_SPREAD * reach_m
        toward_rad = None if toward_deg is None else math.radians(toward_deg)
        concentration = 1.0 / HEADING_SPREAD_RAD**2
        weights = self._log_weights
        for i, (place_east_m, place_north_m) in enumerate(self._places):
            to_east_m, to_north_m = place_east_m - east_m, place_north_m - north_m
            distance_m = math.hypot(to_east_m, to_north_m)
            likelihood = -0.5 * ((distance_m - typical_m) / spread_m) ** 2
            if toward_rad is not None:
                angle_rad = math.atan2(to_east_m, to_north_m) - toward_rad
                likelihood += concentration * (math.cos(angle_rad) - 1.0)
            weight = part * likelihood
            if distance_m > reach_m:
                # The limit of the rode is no matter of habit: it counts in full.
                weight -= 0.5 * ((distance_m - reach_m) / limit_sigma_m) ** 2
            weights[i] += weight
        return self._estimate()

    def _estimate(self) -> AnchorInPlane:
        highest = max(self._log_weights)
        total = east_m = north_m = square_m2 = 0.0
        for log_weight, (place_east_m, place_north_m) in zip(
            self._log_weights, self._places, strict=True
        ):
            weight = math.exp(log_weight - highest)
            total += weight
            east_m += weight * place_east_m
            north_m += weight * place_north_m
            square_m2 += weight * (place_east_m * place_east_m + place_north_m * place_north_m)
        east_m /= total
        north_m /= total
        variance_m2 = max(0.0, square_m2 / total - east_m * east_m - north_m * north_m)
        floor_m = FLOOR_M + FLOOR_OF_REACH * self._reach_m
        # Two axes share the spread; half the variance each.
        return AnchorInPlane(east_m, north_m, math.hypot(math.sqrt(0.5 * variance_m2), floor_m))
