"""Circles through scattered points: algebraic fits, the geometric one, and one of known radius.

The algebraic fits find A(x^2 + y^2) + Bx + Cy + D = 0 with the least sum of squares under a
constraint each. Kasa (1976): A = 1; quick, and far too small on a short arc. Pratt (1987):
B^2 + C^2 - 4AD = 1. Taubin (1991): a unit mean gradient. Hyper: the constraint of Al-Sharadqah
and Chernov (2009, Electron. J. Stat. 3, 886-911), twice Taubin's less Pratt's, that leaves no
essential bias. All share their leading variance, which grows out of hand on arcs below 90 degrees:
where the radius is known, even roughly, ``fit_centre`` is better by far.

Points are an array of shape (n, 2), in metres. UserInputError: points that determine no circle.
"""

import math
from typing import Final

import numpy as np
import numpy.typing as npt
from attrs import frozen

from driftlead.errors import UserInputError

Points = npt.NDArray[np.float64]

_STEPS: Final = 200
_GAIN: Final = 1e-14
_STIFFEST: Final = 1e12
_STRAIGHT: Final = 1e-10
_NOT_A_CIRCLE: Final = "Give at least three points that do not lie on one straight line."


@frozen
class Circle:
    """A circle in the plane, in metres."""

    x_m: float
    y_m: float
    radius_m: float


@frozen(kw_only=True)
class CentreFit:
    """A circle whose radius was known beforehand, more or less, and how well its centre is known.

    ``sigma_x_m``, ``sigma_y_m`` and ``correlation`` are the centre's; ``sigma_m`` is its standard
    error in the worst direction. ``radius_sigma_m`` is the radius's after the fit. ``residual_m``
    is the root mean square distance of the points from the circle, ``arc_deg`` how much of it
    they cover.
    """

    circle: Circle
    sigma_x_m: float
    sigma_y_m: float
    correlation: float
    radius_sigma_m: float
    residual_m: float
    arc_deg: float
    count: int

    @property
    def sigma_m(self) -> float:
        """The centre's standard error in the direction in which it is least known, metres."""
        xx, yy = self.sigma_x_m**2, self.sigma_y_m**2
        xy = self.correlation * self.sigma_x_m * self.sigma_y_m
        return math.sqrt(0.5 * (xx + yy) + math.hypot(0.5 * (xx - yy), xy))


def fit_kasa(points: npt.ArrayLike) -> Circle:
    """Fit by Kasa's method: a linear least squares problem."""
    frame = _Frame(points)
    design = np.column_stack((2.0 * frame.x, 2.0 * frame.y, np.ones_like(frame.x)))
    (x, y, rest), *_ = np.linalg.lstsq(design, frame.z, rcond=None)
    return frame.circle(float(x), float(y), math.sqrt(float(x * x + y * y + rest)))


def fit_pratt(points: npt.ArrayLike) -> Circle:
    """Fit by Pratt's method."""
    inverse = np.eye(4)
    inverse[0, 0] = inverse[3, 3] = 0.0
    inverse[0, 3] = inverse[3, 0] = -0.5
    return _constrained(_Frame(points), inverse)


def fit_taubin(points: npt.ArrayLike) -> Circle:
    """Fit by Taubin's method."""
    frame = _Frame(points)
    # About the centroid D = -A mean(z), which leaves three unknowns and the constraint that
    # (2 sqrt(mean z) A, B, C) has length 1.
    mean = float(np.mean(frame.z))
    scale = 2.0 * math.sqrt(mean)
    design = np.column_stack(((frame.z - mean) / scale, frame.x, frame.y))
    a, b, c = np.linalg.svd(design, full_matrices=False)[2][2]
    a /= scale
    return frame.from_coefficients(a, b, c, -mean * a)


def fit_hyper(points: npt.ArrayLike) -> Circle:
    """Fit by Al-Sharadqah and Chernov's method without essential bias."""
    frame = _Frame(points)
    inverse = np.eye(4)
    inverse[0, 0] = 0.0
    inverse[0, 3] = inverse[3, 0] = 0.5
    inverse[3, 3] = -2.0 * float(np.mean(frame.z))
    return _constrained(frame, inverse)


def fit_geometric(points: npt.ArrayLike, start: Circle | None = None) -> Circle:
    """Fit the circle from which the points have the least sum of squared distances.

    By Levenberg's and Marquardt's steps from ``start``, or from Taubin's circle.
    """
    given = _checked(points)
    start = fit_taubin(given) if start is None else start
    parameters, _ = _least_squares(given, np.array([start.x_m, start.y_m, start.radius_m]))
    return Circle(*map(float, parameters))


def fit_centre(
    points: npt.ArrayLike,
    *,
    radius_m: float,
    radius_sigma_m: float = 0.0,
    point_sigma_m: float | None = None,
) -> CentreFit:
    """Fit the centre of a circle whose radius is known, to a standard error of ``radius_sigma_m``.

    With an error of 0 the radius is taken as it is. ``point_sigma_m`` is the points' standard
    error across the circle; None takes it from their own scatter (two points at least to spare).
    The errors given back hold for points whose own errors are independent: give points so far
    apart in time that they are.

    The centre may lie on either side of a short arc; the side that fits better is taken.
    Raises UserInputError for fewer than two points, or all in one place.
    """
    given = _checked(points, least=2)
    if not (radius_m > 0.0 and radius_sigma_m >= 0.0):
        raise UserInputError(
            f"A circle of {radius_m} m, known to {radius_sigma_m} m, is none.",
            remedy="Give a radius above 0, and an error of 0 or more.",
        )
    # The radius held first: that chooses the side, and tells the scatter the prior is weighed by.
    parameters, cost = _best_side(given, radius_m)
    noise_m = point_sigma_m or _scatter_m(cost, len(given), radius_m)
    if radius_sigma_m > 0.0:
        for _ in range(1 if point_sigma_m else 2):
            prior = _Prior(radius_m, noise_m / radius_sigma_m)
            parameters, cost = _least_squares(given, parameters, prior=prior)
            noise_m = point_sigma_m or _scatter_m(cost, len(given), radius_m)
    return _centre_fit(given, parameters, noise_m, radius_sigma_m)


def arc_covered_deg(points: npt.ArrayLike, circle: Circle) -> float:
    """Return how much of the circle the points cover: 360 less the widest gap between two."""
    given = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    angles = np.sort(np.arctan2(given[:, 1] - circle.y_m, given[:, 0] - circle.x_m))
    if len(angles) < 2:
        return 0.0
    gaps = np.diff(np.append(angles, angles[0] + 2.0 * math.pi))
    return 360.0 - math.degrees(float(np.max(gaps)))


class _Frame:
    """The points about their centroid, scaled to a size of about 1, which keeps the digits."""

    def __init__(self, points: npt.ArrayLike) -> None:
        given = _checked(points)
        self._middle = given.mean(axis=0)
        away = given - self._middle
        self._scale = math.sqrt(float(np.mean(away**2)))
        if np.linalg.svd(away, compute_uv=False)[1] <= _STRAIGHT * self._scale:
            raise UserInputError("The points lie on a straight line.", remedy=_NOT_A_CIRCLE)
        self.x, self.y = (away / self._scale).T
        self.z = self.x**2 + self.y**2

    def circle(self, x: float, y: float, radius: float) -> Circle:
        """Give a circle of this frame in metres."""
        return Circle(
            float(self._middle[0]) + x * self._scale,
            float(self._middle[1]) + y * self._scale,
            radius * self._scale,
        )

    def from_coefficients(self, a: float, b: float, c: float, d: float) -> Circle:
        """Give the circle A(x^2 + y^2) + Bx + Cy + D = 0."""
        square = b * b + c * c - 4.0 * a * d
        if abs(a) <= _STRAIGHT * math.hypot(b, c) or square <= 0.0:
            raise UserInputError("No circle fits the points best.", remedy=_NOT_A_CIRCLE)
        radius = math.sqrt(square) / (2.0 * abs(a))
        return self.circle(float(-b / (2.0 * a)), float(-c / (2.0 * a)), float(radius))


def _constrained(frame: _Frame, inverse: Points) -> Circle:
    """Minimise the algebraic distance under the constraint whose matrix has this inverse.

    Through the singular values of the design, as Chernov does, because its normal equations are
    singular where the points lie exactly on a circle.
    """
    design = np.column_stack((frame.z, frame.x, frame.y, np.ones_like(frame.x)))
    # Three points leave fewer rows than unknowns; a row of naughts changes nothing.
    design = np.vstack((design, np.zeros(4)))
    _, singular, rows = np.linalg.svd(design, full_matrices=False)
    if singular[3] <= 1e-12 * singular[0]:
        return frame.from_coefficients(*rows[3])
    root = rows.T @ np.diag(singular) @ rows
    # Of these constraints each has one negative eigenvalue, so by Sylvester the least positive
    # one is the second; its sign alone cannot be trusted where it is nearly naught.
    least = np.linalg.eigh(root @ inverse @ root).eigenvectors[:, 1]
    return frame.from_coefficients(*np.linalg.solve(root, least))


def _checked(points: npt.ArrayLike, least: int = 3) -> Points:
    given = np.asarray(points, dtype=np.float64)
    if given.ndim != 2 or given.shape[1] != 2 or len(given) < least:
        raise UserInputError(
            f"Points of shape {given.shape} determine no circle.",
            remedy=f"Give at least {least} points (x, y).",
        )
    if not np.isfinite(given).all():
        raise UserInputError(
            "A point has a coordinate that is no number.", remedy="Leave that point out."
        )
    if np.ptp(given, axis=0).max() == 0.0:
        raise UserInputError("All points lie in one place.", remedy=_NOT_A_CIRCLE)
    return given


@frozen
class _Prior:
    """What is known of the radius, as one more observation that weighs ``weight`` points."""

    radius_m: float
    weight: float


def _best_side(points: Points, radius_m: float) -> tuple[Points, float]:
    """The better of the fits of this radius from both sides of the arc, and from its middle."""
    middle = points.mean(axis=0)
    across = np.linalg.svd(points - middle, full_matrices=False)[2][1]
    # A whole circle is about its own middle; a short arc is about a radius from it.
    starts = (middle, middle + radius_m * across, middle - radius_m * across)
    fits = [_least_squares(points, np.append(start, radius_m), free=2) for start in starts]
    return min(fits, key=lambda fit: fit[1])


def _least_squares(
    points: Points, start: Points, *, free: int = 3, prior: _Prior | None = None
) -> tuple[Points, float]:
    """Levenberg-Marquardt over (x, y, radius); gives them and the sum of squares.

    With two ``free`` the radius stays at its start.
    """
    parameters = start
    residuals, jacobian = _linearised(points, parameters, prior)
    cost = float(residuals @ residuals)
    damping = 1e-3
    for _ in range(_STEPS):
        used = jacobian[:, :free]
        normal = used.T @ used
        stiffened = normal + damping * np.diag(np.maximum(np.diag(normal), 1e-12))
        trial = parameters.copy()
        trial[:free] -= np.linalg.solve(stiffened, used.T @ residuals)
        residuals_there, jacobian_there = _linearised(points, trial, prior)
        cost_there = float(residuals_there @ residuals_there)
        if cost_there > cost:
            damping *= 10.0
            if damping > _STIFFEST:
                break
            continue
        step, gained = float(np.abs(trial - parameters).max()), cost - cost_there
        parameters, cost = trial, cost_there
        residuals, jacobian = residuals_there, jacobian_there
        damping = max(damping / 10.0, 1e-12)
        if gained <= _GAIN * cost and step <= 1e-9 * (1.0 + abs(float(parameters[2]))):
            break
    return parameters, cost


def _linearised(
    points: Points, parameters: Points, prior: _Prior | None = None
) -> tuple[Points, Points]:
    """The points' distances from the circle, and how they change with x, y and radius."""
    dx, dy = (points - parameters[:2]).T
    distance = np.maximum(np.hypot(dx, dy), 1e-12)
    residuals = distance - parameters[2]
    jacobian = np.column_stack((-dx / distance, -dy / distance, -np.ones_like(distance)))
    if prior is not None:
        residuals = np.append(residuals, prior.weight * (parameters[2] - prior.radius_m))
        jacobian = np.vstack((jacobian, (0.0, 0.0, prior.weight)))
    return residuals, jacobian


def _scatter_m(cost: float, count: int, radius_m: float) -> float:
    """The points' own scatter, from the sum of squares about a fitted centre."""
    if count < 3:
        raise UserInputError(
            f"{count} points are too few to tell their own scatter.",
            remedy="Give more points, or their error across the circle.",
        )
    return max(math.sqrt(cost / (count - 2)), _STRAIGHT * radius_m)


def _centre_fit(
    points: Points, parameters: Points, noise_m: float, radius_sigma_m: float
) -> CentreFit:
    residuals, jacobian = _linearised(points, parameters)
    information = jacobian.T @ jacobian / noise_m**2
    if radius_sigma_m == 0.0:
        information = information[:2, :2]
    else:
        information[2, 2] += 1.0 / radius_sigma_m**2
    try:
        covariance = np.linalg.inv(information)
    except np.linalg.LinAlgError as error:
        raise UserInputError(
            "The points tell nothing of the centre along their line.", remedy=_NOT_A_CIRCLE
        ) from error
    sigma_x, sigma_y = np.sqrt(np.diag(covariance)[:2])
    circle = Circle(*map(float, parameters))
    return CentreFit(
        circle=circle,
        sigma_x_m=float(sigma_x),
        sigma_y_m=float(sigma_y),
        correlation=float(covariance[0, 1] / (sigma_x * sigma_y)),
        radius_sigma_m=0.0 if radius_sigma_m == 0.0 else float(np.sqrt(covariance[2, 2])),
        residual_m=math.sqrt(float(np.mean(residuals**2))),
        arc_deg=arc_covered_deg(points, circle),
        count=len(points),
    )
