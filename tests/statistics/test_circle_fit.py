"""Circle fits against a published set of points, scipy, and circles that are known."""

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
import scipy.linalg
import scipy.optimize
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.statistics.circle_fit import (
    Circle,
    arc_covered_deg,
    fit_centre,
    fit_geometric,
    fit_hyper,
    fit_kasa,
    fit_pratt,
    fit_taubin,
)

Floats = npt.NDArray[np.float64]
Fit = Callable[[npt.ArrayLike], Circle]
FREE: list[Fit] = [fit_kasa, fit_pratt, fit_taubin, fit_hyper, fit_geometric]

# The points of Gander, Golub and Strebel (1994, BIT 34, 558-578), and their geometric circle (from
# memory, computed again). The algebraic circles were computed by other programs.
POINTS = [(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)]
REFERENCE = [
    (fit_geometric, (4.7398, 2.9835, 4.7142)),
    (fit_kasa, (4.7423, 3.8351, 4.1088)),
    (fit_pratt, (4.6155, 2.8074, 4.9113)),
    (fit_taubin, (4.6139, 2.7952, 4.8792)),
    (fit_hyper, (4.6155, 2.8074, 4.8276)),
]


def numbers(circle: Circle) -> tuple[float, float, float]:
    """Centre and radius."""
    return circle.x_m, circle.y_m, circle.radius_m


def arc(
    degrees: float,
    *,
    radius_m: float = 40.0,
    count: int = 100,
    begin_deg: float = 0.0,
    about: tuple[float, float] = (0.0, 0.0),
) -> Floats:
    """Points evenly along an arc."""
    angle = np.radians(begin_deg + np.linspace(0.0, degrees, count))
    points: Floats = radius_m * np.column_stack((np.cos(angle), np.sin(angle))) + np.array(about)
    return points


@pytest.mark.parametrize(("fit", "expected"), REFERENCE)
def test_the_published_points_give_the_published_circles(
    fit: Fit, expected: tuple[float, float, float]
) -> None:
    assert numbers(fit(POINTS)) == pytest.approx(expected, abs=6e-5)


def algebraic(points: Floats, constraint: Callable[[Floats], Floats]) -> tuple[float, float, float]:
    """The constrained fit straight from its definition, as a generalised eigenvalue problem."""
    x, y = points.T
    z = x**2 + y**2
    design = np.column_stack((z, x, y, np.ones_like(x)))
    moments = design.T @ design / len(x)
    values, vectors = scipy.linalg.eig(moments, constraint(points))
    real = [(v.real, i) for i, v in enumerate(values) if abs(v.imag) < 1e-9 and v.real > 0.0]
    a, b, c, d = vectors[:, min(real)[1]].real
    return (
        -b / (2.0 * a),
        -c / (2.0 * a),
        math.sqrt(b * b + c * c - 4.0 * a * d) / (2.0 * abs(a)),
    )


def pratts(_points: Floats) -> Floats:
    return np.array([[0, 0, 0, -2], [0, 1, 0, 0], [0, 0, 1, 0], [-2, 0, 0, 0]], dtype=float)


def taubins(points: Floats) -> Floats:
    x, y = points.mean(axis=0)
    z = float(np.mean(np.sum(points**2, axis=1)))
    return np.array([[4 * z, 2 * x, 2 * y, 0], [2 * x, 1, 0, 0], [2 * y, 0, 1, 0], [0, 0, 0, 0]])


def hypers(points: Floats) -> Floats:
    return 2.0 * taubins(points) - pratts(points)


@pytest.mark.parametrize(
    ("fit", "constraint"), [(fit_pratt, pratts), (fit_taubin, taubins), (fit_hyper, hypers)]
)
def test_algebraic_fits_solve_their_eigenvalue_problem(
    fit: Fit, constraint: Callable[[Floats], Floats]
) -> None:
    """The same circle as scipy's eigenvalues of the matrices of Al-Sharadqah and Chernov."""
    generator = np.random.default_rng(1)
    for degrees in (360.0, 150.0, 70.0):
        points = arc(degrees) + generator.normal(0.0, 2.0, (100, 2)) + (11.0, -7.0)
        expected = algebraic(points, constraint)
        assert numbers(fit(points)) == pytest.approx(expected, rel=1e-6)


def test_the_geometric_fit_is_the_least_sum_of_squares_scipy_finds() -> None:
    generator = np.random.default_rng(2)
    for degrees in (360.0, 150.0, 70.0):
        points = arc(degrees) + generator.normal(0.0, 2.0, (100, 2))
        found = scipy.optimize.least_squares(
            lambda p, points=points: np.hypot(*(points - p[:2]).T) - p[2],
            (1.0, 1.0, 35.0),
            xtol=1e-14,
            ftol=1e-14,
            gtol=1e-14,
        )
        assert numbers(fit_geometric(points)) == pytest.approx(tuple(found.x), abs=1e-4)


def test_the_geometric_fit_starts_where_it_is_told_to() -> None:
    points = np.array(POINTS, dtype=float)
    start = Circle(5.0, 2.0, 6.0)
    assert numbers(fit_geometric(points, start)) == pytest.approx(
        numbers(fit_geometric(points)), abs=1e-6
    )


@pytest.mark.parametrize("fit", FREE)
@given(
    x=st.floats(-1e4, 1e4),
    y=st.floats(-1e4, 1e4),
    radius=st.floats(0.5, 500.0),
    begin=st.floats(0.0, 360.0),
    degrees=st.floats(40.0, 300.0),
    count=st.integers(3, 40),
)
def test_points_on_a_circle_give_that_circle(
    fit: Fit, x: float, y: float, radius: float, begin: float, degrees: float, count: int
) -> None:
    points = arc(degrees, radius_m=radius, count=count, begin_deg=begin, about=(x, y))
    expected = pytest.approx((x, y, radius), abs=1e-5 * radius + 1e-7)
    assert numbers(fit(points)) == expected


@pytest.mark.parametrize("fit", FREE)
def test_turned_and_moved_points_give_the_turned_and_moved_circle(fit: Fit) -> None:
    points = np.array(POINTS, dtype=float)
    circle = fit(points)
    turn = np.array([[0.6, -0.8], [0.8, 0.6]])
    moved = fit(points @ turn.T * 3.0 + (100.0, -50.0))
    x, y = turn @ (circle.x_m, circle.y_m) * 3.0 + (100.0, -50.0)
    assert numbers(moved) == pytest.approx((x, y, 3.0 * circle.radius_m), rel=1e-7)


# Median error of the centre in metres, radius 40 m, 100 points along the arc, sigma 2 m: Kasa, the
# other free fits, and the centre alone with the radius known. From a study by another program.
ARC_STUDY = [
    (360.0, 0.3, 0.3, None),
    (180.0, 0.8, 0.5, None),
    (90.0, 9.0, 1.6, 0.36),
    (60.0, 23.0, 3.8, 0.46),
    (40.0, 35.0, 9.0, 0.71),
    (20.0, 39.0, None, 2.3),
]


@pytest.mark.parametrize(("degrees", "kasa_m", "free_m", "known_m"), ARC_STUDY)
def test_the_shorter_the_arc_the_more_it_helps_to_know_the_radius(
    degrees: float, kasa_m: float, free_m: float | None, known_m: float | None
) -> None:
    generator = np.random.default_rng(3)
    errors: dict[str, list[float]] = {"kasa": [], "free": [], "known": []}
    for _ in range(200):
        points = arc(degrees) + generator.normal(0.0, 2.0, (100, 2))
        for name, circle in (
            ("kasa", fit_kasa(points)),
            ("free", fit_hyper(points)),
            ("known", fit_centre(points, radius_m=40.0).circle),
        ):
            errors[name].append(math.hypot(circle.x_m, circle.y_m))
    medians = {name: float(np.median(those)) for name, those in errors.items()}
    assert medians["kasa"] == pytest.approx(kasa_m, rel=0.12, abs=0.08)
    if free_m is not None:
        assert medians["free"] == pytest.approx(free_m, rel=0.2, abs=0.08)
    if known_m is not None:
        assert medians["known"] == pytest.approx(known_m, rel=0.2)


def test_a_centre_is_found_as_well_as_it_claims() -> None:
    """The squared error over its covariance averages to 2, its two degrees of freedom."""
    generator = np.random.default_rng(4)
    for radius_sigma_m in (0.0, 3.0):
        squares = []
        for _ in range(250):
            radius_m = 40.0 + generator.normal(0.0, radius_sigma_m)
            points = arc(75.0, radius_m=radius_m) + generator.normal(0.0, 1.0, (100, 2))
            fit = fit_centre(points, radius_m=40.0, radius_sigma_m=radius_sigma_m)
            off = np.array([fit.circle.x_m, fit.circle.y_m])
            xy = fit.correlation * fit.sigma_x_m * fit.sigma_y_m
            covariance = np.array([[fit.sigma_x_m**2, xy], [xy, fit.sigma_y_m**2]])
            squares.append(off @ np.linalg.solve(covariance, off))
            assert fit.sigma_m == pytest.approx(
                math.sqrt(np.linalg.eigvalsh(covariance)[1]), rel=1e-9
            )
        assert np.mean(squares) == pytest.approx(2.0, rel=0.25)


def test_a_radius_known_roughly_is_scipys_least_squares_with_one_more_observation() -> None:
    generator = np.random.default_rng(5)
    points = arc(80.0) + generator.normal(0.0, 1.5, (100, 2))
    fit = fit_centre(points, radius_m=44.0, radius_sigma_m=3.0, point_sigma_m=1.5)
    found = scipy.optimize.least_squares(
        lambda p: np.append((np.hypot(*(points - p[:2]).T) - p[2]) / 1.5, (p[2] - 44.0) / 3.0),
        (0.0, 0.0, 40.0),
    )
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    assert numbers(fit.circle) == pytest.approx(tuple(found.x), abs=1e-3)
    assert fit.sigma_x_m == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-3)
    assert fit.sigma_y_m == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-3)
    assert fit.radius_sigma_m == pytest.approx(math.sqrt(covariance[2, 2]), rel=1e-3)


def test_between_a_radius_held_and_none_known_lies_a_radius_known_roughly() -> None:
    """A sharp prior gives the held fit, a blunt one the geometric."""
    generator = np.random.default_rng(6)
    points = arc(120.0) + generator.normal(0.0, 1.0, (100, 2))
    held = fit_centre(points, radius_m=42.0)
    sharp = fit_centre(points, radius_m=42.0, radius_sigma_m=1e-4)
    blunt = fit_centre(points, radius_m=42.0, radius_sigma_m=1e4)
    assert held.circle.radius_m == 42.0
    assert numbers(sharp.circle) == pytest.approx(numbers(held.circle), abs=1e-3)
    assert numbers(blunt.circle) == pytest.approx(numbers(fit_geometric(points)), abs=1e-3)


def test_the_fit_tells_its_arc_its_count_and_its_residual() -> None:
    generator = np.random.default_rng(7)
    fit = fit_centre(arc(100.0) + generator.normal(0.0, 0.5, (100, 2)), radius_m=40.0)
    assert fit.arc_deg == pytest.approx(100.0, abs=3.0)
    assert fit.count == 100
    assert fit.residual_m == pytest.approx(0.5, rel=0.25)


def test_two_points_and_their_error_are_enough_where_the_radius_is_known() -> None:
    fit = fit_centre([(10.0, 0.0), (0.0, 10.0)], radius_m=10.0, point_sigma_m=1.0)
    assert min(
        math.hypot(fit.circle.x_m, fit.circle.y_m),
        math.hypot(fit.circle.x_m - 10.0, fit.circle.y_m - 10.0),
    ) == pytest.approx(0.0, abs=1e-6)
    assert fit.sigma_m == pytest.approx(1.0, rel=1e-6)


def test_the_arc_is_the_circle_less_its_widest_gap() -> None:
    circle = Circle(1.0, 2.0, 5.0)
    for begin_deg in (0.0, 100.0, 300.0):
        points = arc(90.0, radius_m=5.0, count=10, begin_deg=begin_deg, about=(1.0, 2.0))
        assert arc_covered_deg(points, circle) == pytest.approx(90.0)
    assert arc_covered_deg(arc(360.0, count=361, about=(1.0, 2.0)), circle) == pytest.approx(359.0)
    assert arc_covered_deg([(3.0, 3.0)], circle) == 0.0


@pytest.mark.parametrize("fit", FREE)
@pytest.mark.parametrize(
    "points",
    [
        [(0.0, 0.0), (1.0, 1.0)],
        [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (5.0, 5.0)],
        [(1.0, 1.0)] * 5,
        [(0.0, 0.0), (1.0, math.nan), (2.0, 0.0)],
        [(0.0, 0.0, 0.0)] * 4,
        [],
    ],
)
def test_points_that_determine_no_circle_are_refused(
    fit: Fit, points: list[tuple[float, ...]]
) -> None:
    with pytest.raises(UserInputError) as caught:
        fit(points)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("points", "radius_m", "radius_sigma_m"),
    [
        ([(1.0, 1.0)], 10.0, 0.0),
        ([(1.0, 1.0), (2.0, 1.0)], 10.0, 0.0),
        ([(1.0, 1.0)] * 9, 10.0, 0.0),
        (POINTS, 0.0, 0.0),
        (POINTS, math.nan, 0.0),
        (POINTS, 10.0, -1.0),
    ],
)
def test_a_centre_that_cannot_be_known_is_refused(
    points: list[tuple[float, float]], radius_m: float, radius_sigma_m: float
) -> None:
    with pytest.raises(UserInputError) as caught:
        fit_centre(points, radius_m=radius_m, radius_sigma_m=radius_sigma_m)
    assert caught.value.remedy
