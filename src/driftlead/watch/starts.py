"""Where the bank of hypotheses starts from: one place if marked, a wheel of them if set late."""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from driftlead.tackle.drag_circle import DragCircle
from driftlead.watch.bank import Start
from driftlead.watch.detector import AnchorInPlane

Floats = NDArray[np.float64]

HEADING_SPREAD_RAD: Final = math.radians(35.0)
"""How far from her head the anchor bears, as she sheers about."""
ANY_WAY: Final = 0.5
"""Weight of the anchor bearing any way at all: wind against tide, light airs."""
ANY_WAY_AT_FIRST: Final = 0.1
"""The same when the watch is set: the wind she was anchored in is mostly blowing still."""
BEARINGS: Final = 24
RINGS: Final = ((0.95, 0.07, 0.7), (0.68, 0.12, 0.2), (0.33, 0.15, 0.1))
"""Distance and its error as parts of the reach, and weight: boats mostly lie near full reach."""
SLACK_MEAN: Final = 0.5
SLACK_SPREAD: Final = 0.4
"""The rode is longer than said by half the slack, give or take four tenths of it."""
LEAST_REACH_SIGMA_M: Final = 0.6
LEAST_SIGMA_M: Final = 0.7
BAD_MARK: Final = 0.1
BAD_MARK_M: Final = 10.0
"""One mark in ten is made in a bad moment (a receiver just started, a reflection, a position held,
a slow hand), and is so many metres wrong an axis."""

POOR_MARK_M: Final = 12.0
"""A mark with a larger standard error an axis says little more than that the anchor is near."""


def reach_of(circle: DragCircle) -> tuple[float, float]:
    """Reach from anchor to bow roller, and its standard error, in metres."""
    slack_m = circle.rode_slack_m
    return (
        circle.reach_m + SLACK_MEAN * slack_m,
        max(LEAST_REACH_SIGMA_M, SLACK_SPREAD * slack_m),
    )


def marked_start(
    anchor: AnchorInPlane, circle: DragCircle, *, whole_rode: bool, receiver_m: float
) -> tuple[Start, ...]:
    """The anchor is where it was marked or given, to its standard error.

    ``receiver_m`` is the receiver's part of that error, if the bank is to count it itself.
    ``whole_rode``: the reach is that of all the rode aboard, the most there can be.
    """
    reach_m, reach_sigma_m = reach_of(circle)
    if whole_rode:
        reach_m, reach_sigma_m = circle.reach_m + circle.rode_slack_m, LEAST_REACH_SIGMA_M
    var = max(LEAST_SIGMA_M**2, anchor.sigma_m**2 - receiver_m**2)
    return tuple(
        Start(
            east_m=anchor.east_m,
            north_m=anchor.north_m,
            var_ee=each,
            var_nn=each,
            var_en=0.0,
            reach_m=reach_m,
            reach_sigma_m=reach_sigma_m,
            log_weight=math.log(weight),
        )
        for each, weight in ((var, 1.0 - BAD_MARK), (var + BAD_MARK_M**2, BAD_MARK))
    )


def late_starts(
    *,
    east_m: float,
    north_m: float,
    circle: DragCircle,
    toward_deg: float | None,
    at_bow: bool,
    mark: AnchorInPlane | None = None,
) -> tuple[Start, ...]:
    """The boat lies at this point of the plane and the anchor somewhere within reach of it.

    ``at_bow``: the point is her bow's, else her antenna's. ``toward_deg`` is where the anchor
    should bear: her head or the wind. ``mark``: what a poor mark says of its place.
    """
    reach_m, reach_sigma_m = reach_of(circle)
    limit_m = reach_m if at_bow else reach_m + circle.antenna_aft_m
    starts = []
    bearings_rad: Floats = np.linspace(0.0, math.tau, BEARINGS, endpoint=False)
    log_bearings = (
        np.zeros(BEARINGS)
        if toward_deg is None
        else log_bearing(bearings_rad, toward_deg, any_way=ANY_WAY_AT_FIRST)
    )
    for bearing_rad, log_weight in zip(bearings_rad.tolist(), log_bearings.tolist(), strict=True):
        sin_b, cos_b = math.sin(bearing_rad), math.cos(bearing_rad)
        for part, spread, weight in RINGS:
            radius_m = part * limit_m
            along = (spread * limit_m) ** 2
            # Neighbours on the wheel overlap at about one standard error.
            across = (0.6 * math.pi * radius_m / BEARINGS + 1.0) ** 2
            place_m = east_m + radius_m * sin_b, north_m + radius_m * cos_b
            log_mark = 0.0 if mark is None else _log_marked(place_m, 0.5 * (along + across), mark)
            starts.append(
                Start(
                    east_m=place_m[0],
                    north_m=place_m[1],
                    var_ee=along * sin_b * sin_b + across * cos_b * cos_b,
                    var_nn=along * cos_b * cos_b + across * sin_b * sin_b,
                    var_en=(along - across) * sin_b * cos_b,
                    reach_m=reach_m,
                    reach_sigma_m=reach_sigma_m,
                    log_weight=log_weight + math.log(weight) + log_mark,
                )
            )
    return tuple(starts)


def _log_marked(place_m: tuple[float, float], var: float, mark: AnchorInPlane) -> float:
    """Log of how well a place, good to ``var`` an axis, goes with a mark; 0 at best."""
    off2 = (place_m[0] - mark.east_m) ** 2 + (place_m[1] - mark.north_m) ** 2
    return -0.5 * off2 / (var + mark.sigma_m**2)


def poor_mark(anchor: AnchorInPlane, circle: DragCircle, *, east_m: float, north_m: float) -> bool:
    """Whether a mark is so poor that the anchor has to be looked for, as if the watch was set late.

    One bell of such a width would settle on either side of the boat, and as often on the wrong
    one. Not so where the boat, here, cannot lie to the anchor as marked: that is no poor mark.
    """
    off_m = math.hypot(east_m - anchor.east_m, north_m - anchor.north_m)
    return anchor.sigma_m > POOR_MARK_M and off_m < circle.farthest_m + 2.0 * anchor.sigma_m


def log_bearing(bearing_rad: Floats, toward_deg: float, *, any_way: float = ANY_WAY) -> Floats:
    """Log of how well an anchor on these bearings goes with where it should bear, 0 at best.

    A von Mises density about ``toward_deg``, above any bearing at all.
    """
    nearness = np.exp(
        (np.cos(bearing_rad - math.radians(toward_deg)) - 1.0) / HEADING_SPREAD_RAD**2
    )
    return np.log(any_way + (1.0 - any_way) * nearness)
