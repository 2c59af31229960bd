"""Where the anchor really lay, by the circle she swung in, beside where it was marked.

A fit with the radius known from the rode, because most nights cover a short arc, on which a free
fit is worth nothing; with more than a quarter of the circle the radius is left free. In a calm
she lies anywhere inside her circle, so points well inside are left out, step by step.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt
from attrs import evolve, frozen

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane, distance_and_bearing
from driftlead.geodesy.position import Position
from driftlead.statistics.circle_fit import CentreFit, Circle, arc_covered_deg, fit_centre
from driftlead.tune.trace import Anchoring, NightTrace, Rows

FREE_ARC_DEG: Final = 90.0
"""With more of the circle covered than this, the points know the radius better than we do."""
EVERY_S: Final = 60.0
"""A receiver's error hardly changes within less."""
SETTLING_S: Final = 900.0
LEAST_POINTS: Final = 30
LEAST_ARC_DEG: Final = 30.0
"""The receiver's error alone spreads a boat that lies still over half of this."""
INSIDE_M: Final = 4.0
INSIDE_PART: Final = 0.12
"""Nearer than this to the centre than she usually lies, in metres and as a part of the reach, she
does not lie at full reach."""
ROUNDS: Final = 12
REACH_PART: Final = 0.96
REACH_SIGMA_PART: Final = 0.05
"""A boat in a breeze lies at about so much of her bar-taut reach, for chain hangs."""
SCATTER_M: Final = 2.0
SLOW_M: Final = 1.8
SLOW_S: Final = 1800.0
"""The points' own scatter, and the slow error that neighbours in time share: the receiver's, and
that of wind that comes and goes."""
RECEIVER_SIGMA_M: Final = 1.0
"""What is left of the receiver's error after a night: it moves the whole circle."""
SECTOR_DEG: Final = 15.0
SECTOR_PART: Final = 0.02
AGREES_SIGMAS: Final = 2.0
_FREE_SIGMA_M: Final = 1e3

Points = npt.NDArray[np.float64]


@frozen(kw_only=True)
class AnchorCheck:
    """The fitted anchor from the marked one: metres, degrees true, and how well it is known.

    ``sigma_m`` is the fit's standard error in the worst direction. ``radius_known``: the radius
    came from the rode; else the points told it. ``at_bow``: the heading carried the fixes to the
    bow; else the antenna's circle was fitted. ``mark_sigma_m`` is the marked place's own error.
    """

    off_m: float
    bearing_deg: float
    sigma_m: float
    arc_deg: float
    radius_m: float
    radius_known: bool
    at_bow: bool
    count: int
    method: str
    mark_sigma_m: float

    @property
    def agrees(self) -> bool:
        """Whether mark and fit are no farther apart than their errors explain."""
        return self.off_m <= AGREES_SIGMAS * math.hypot(self.sigma_m, self.mark_sigma_m)


def check_anchor(trace: NightTrace, held_until_utc_s: float = math.inf) -> AnchorCheck | None:
    """Fit the circle of the longest stretch of a night until ``held_until_utc_s`` (Unix seconds).

    None if there is none long enough, or its points say nothing about the centre.
    """
    stretches = [(each, _held_rows(trace, each, held_until_utc_s)) for each in trace.anchorings]
    stretches = [(each, rows) for each, rows in stretches if math.isfinite(each.reach_m)]
    if not stretches:
        return None
    anchoring, rows = max(stretches, key=lambda pair: len(pair[1]))
    if len(rows) < LEAST_POINTS:
        return None
    plane = LocalPlane(Position(anchoring.lat_deg, anchoring.lon_deg))
    heading = rows["heading_deg"]
    at_bow = bool(np.isfinite(heading).mean() > 0.8)
    if at_bow:
        rows = rows[np.isfinite(heading)]
    points = _points(plane, rows, anchoring.antenna_aft_m if at_bow else 0.0)
    reach_m = REACH_PART * anchoring.reach_m
    radius_m = reach_m if at_bow else reach_m + anchoring.antenna_aft_m
    try:
        fit, known = _fit(points, radius_m, REACH_SIGMA_PART * anchoring.reach_m)
    except UserInputError:
        return None
    if fit.arc_deg < LEAST_ARC_DEG:
        return None
    off_m, bearing_deg = distance_and_bearing(fit.circle.x_m, fit.circle.y_m)
    return AnchorCheck(
        off_m=off_m,
        bearing_deg=bearing_deg,
        sigma_m=math.hypot(fit.sigma_m, RECEIVER_SIGMA_M),
        arc_deg=fit.arc_deg,
        radius_m=fit.circle.radius_m,
        radius_known=known,
        at_bow=at_bow,
        count=fit.count,
        method=anchoring.method,
        mark_sigma_m=anchoring.sigma_m,
    )


def _held_rows(trace: NightTrace, anchoring: Anchoring, until_utc_s: float) -> Rows:
    """Steps of the stretch after she has settled and before any drag, one a minute."""
    rows = trace.rows[anchoring.first : anchoring.last]
    if not len(rows):
        return rows
    keep = rows["time_s"] >= rows["time_s"][0] + SETTLING_S
    if math.isfinite(until_utc_s):
        keep &= rows["utc_s"] < until_utc_s
    rows = rows[keep & rows["borne_out"]]
    minutes = np.floor(rows["time_s"] / EVERY_S)
    once: Rows = rows[np.flatnonzero(np.diff(minutes, prepend=-np.inf) > 0)]
    return once


def _points(plane: LocalPlane, rows: Rows, aft_m: float) -> Points:
    points = np.array([plane.to_plane(row["lat_deg"], row["lon_deg"]) for row in rows])
    if aft_m:
        heading_rad = np.radians(rows["heading_deg"])
        points += aft_m * np.column_stack((np.sin(heading_rad), np.cos(heading_rad)))
    return points


def _fit(points: Points, radius_m: float, radius_sigma_m: float) -> tuple[CentreFit, bool]:
    """Fit, leave out what then lies well inside, and fit again until nothing changes."""
    kept = _taut(points, 0.0, 0.0)
    for _ in range(ROUNDS):
        if len(kept) < LEAST_POINTS:
            raise UserInputError("Too few points lie near full reach.", remedy="Give more of them.")
        noise_m = math.hypot(SCATTER_M, SLOW_M * math.sqrt(2.0 * SLOW_S / EVERY_S))
        fit = fit_centre(
            kept, radius_m=radius_m, radius_sigma_m=radius_sigma_m, point_sigma_m=noise_m
        )
        arc_deg = _arc_deg(kept, fit.circle)
        known = arc_deg <= FREE_ARC_DEG
        if not known:
            fit = fit_centre(
                kept, radius_m=radius_m, radius_sigma_m=_FREE_SIGMA_M, point_sigma_m=noise_m
            )
        before, kept = kept, _taut(points, fit.circle.x_m, fit.circle.y_m)
        if np.array_equal(before, kept):
            break
    return evolve(fit, arc_deg=arc_deg), known


def _taut(points: Points, x_m: float, y_m: float) -> Points:
    """The points at which she lay near full reach from a centre."""
    distance = np.hypot(points[:, 0] - x_m, points[:, 1] - y_m)
    usual_m = float(np.percentile(distance, 75.0))
    return points[distance > usual_m - max(INSIDE_M, INSIDE_PART * usual_m)]


def _arc_deg(points: Points, circle: Circle) -> float:
    """The arc she lay in, without the few points of some passing calm."""
    angle = np.degrees(np.arctan2(points[:, 1] - circle.y_m, points[:, 0] - circle.x_m))
    sector = np.floor(angle / SECTOR_DEG)
    _, which, counts = np.unique(sector, return_inverse=True, return_counts=True)
    return arc_covered_deg(points[counts[which] >= SECTOR_PART * len(points)], circle)
