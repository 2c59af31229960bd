"""The recursions against the run lengths that have been published and computed for them."""

import itertools
import math
import random
import statistics
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from driftlead.errors import UserInputError
from driftlead.statistics.sequential import (
    TwoSidedCusum,
    cusum_run_length,
    next_cusum,
    next_shiryaev_roberts,
    siegmund_run_length,
    two_sided_from_one_sided,
    two_sided_run_length,
)

K = 0.5
# Average run lengths for k = 0.5: shift, h, one-sided, Siegmund's, two-sided. The two-sided 168,
# 465, 8.38 and 10.4 are the textbook's (Montgomery, Introduction to Statistical Quality Control;
# from memory); the others solve the same integral equation in another program.
TABLE = [
    (0.0, 4.0, 335.37, 338.09, 167.68),
    (0.0, 5.0, 930.89, 938.22, 465.44),
    (0.25, 4.0, 77.08, 77.23, 74.22),
    (0.25, 5.0, 141.69, 141.93, 139.49),
    (0.5, 4.0, 26.68, 26.69, 26.63),
    (0.5, 5.0, 38.01, 38.02, 38.00),
    (1.0, 4.0, 8.38, 8.34, 8.38),
    (1.0, 5.0, 10.38, 10.34, 10.38),
    (2.0, 4.0, 3.34, 3.22, 3.34),
    (2.0, 5.0, 4.01, 3.89, 4.01),
    (3.0, 4.0, 2.19, 1.99, 2.19),
    (3.0, 5.0, 2.57, 2.39, 2.57),
]
NODES = 80


def exact_run_length(shift: float, limit: float) -> float:
    """Solve L(z) = 1 + L(0) P(next = 0) + int_0^h L(y) p(next = y) dy by Nystrom's method.

    Where the next sum is y > 0 the sample was y + k - z; that this leads to y is asked of our
    own recursion.
    """
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    y = np.concatenate(([0.0], 0.5 * limit * (nodes + 1.0)))
    weight = 0.5 * limit * weights
    for z, to in itertools.product(y[::20], y[1::20]):
        assert next_cusum(z, to + K - z, reference=K) == pytest.approx(to, abs=1e-12)
        assert next_cusum(z, K - z - 1e-9, reference=K) == 0.0
    kernel = np.zeros((NODES + 1, NODES + 1))
    kernel[:, 0] = norm.cdf(K - y - shift)
    kernel[:, 1:] = weight * norm.pdf(y[1:] + K - y[:, None] - shift)
    return float(np.linalg.solve(np.eye(NODES + 1) - kernel, np.ones(NODES + 1))[0])


@pytest.mark.parametrize(("shift", "limit", "one", "_siegmund", "two"), TABLE)
def test_the_integral_equation_of_our_recursion_gives_the_published_run_lengths(
    shift: float, limit: float, one: float, _siegmund: float, two: float
) -> None:
    up, down = exact_run_length(shift, limit), exact_run_length(-shift, limit)
    assert up == pytest.approx(one, abs=0.006)
    assert two_sided_from_one_sided(up, down) == pytest.approx(two, abs=0.006)


@pytest.mark.parametrize(("shift", "limit", "_one", "siegmund", "_two"), TABLE)
def test_siegmunds_formula_gives_its_column(
    shift: float, limit: float, _one: float, siegmund: float, _two: float
) -> None:
    assert siegmund_run_length(shift, reference=K, limit=limit) == pytest.approx(
        siegmund, abs=0.006
    )


def normals(generator: random.Random, shift: float) -> Iterator[float]:
    """Independent normal samples without end."""
    while True:
        yield generator.gauss(shift, 1.0)


def mean_run_length(
    run_length: Callable[..., int | None], *, shift: float, limit: float, runs: int
) -> tuple[float, float]:
    """The mean over seeded runs, and its standard error."""
    generator = random.Random(f"{run_length.__name__} {shift} {limit}")
    lengths: list[int] = []
    for _ in range(runs):
        length = run_length(normals(generator, shift), reference=K, limit=limit)
        assert length is not None
        lengths.append(length)
    return statistics.mean(lengths), statistics.stdev(lengths) / math.sqrt(runs)


@pytest.mark.parametrize(("shift", "limit", "one", "_siegmund", "two"), TABLE)
def test_our_recursion_takes_as_many_samples_as_published(
    shift: float, limit: float, one: float, _siegmund: float, two: float
) -> None:
    """Seeded, within four of the simulation's own standard errors, each at most 3.5 %."""
    runs = 1200 if shift == 0.0 else 4000
    for run_length, expected in ((cusum_run_length, one), (two_sided_run_length, two)):
        mean, error = mean_run_length(run_length, shift=shift, limit=limit, runs=runs)
        assert abs(mean - expected) < 4.0 * error + 0.005
        assert error < 0.035 * expected


def test_a_first_sample_counts_as_one() -> None:
    """Fixed start: a sample that passes the limit at once has a run length of 1, not 0."""
    assert cusum_run_length([9.0], reference=K, limit=4.0) == 1
    assert two_sided_run_length([-9.0], reference=K, limit=4.0) == 1


def test_the_limit_itself_is_not_yet_above_it() -> None:
    assert cusum_run_length([4.5, 0.5, 0.75], reference=K, limit=4.0) == 3


def test_samples_that_never_pass_the_limit_have_no_run_length() -> None:
    assert cusum_run_length([0.5] * 1000, reference=K, limit=1.0) is None
    assert two_sided_run_length([0.5, -0.5] * 1000, reference=K, limit=1.0) is None


@given(st.lists(st.floats(-10.0, 10.0), max_size=50), st.floats(0.0, 2.0))
def test_the_sum_is_the_largest_of_all_sums_that_end_now(
    samples: list[float], reference: float
) -> None:
    """Page's own description, term by term."""
    cusum = 0.0
    for sample in samples:
        cusum = next_cusum(cusum, sample, reference=reference)
    tails = [
        math.fsum(sample - reference for sample in samples[begin:])
        for begin in range(len(samples) + 1)
    ]
    assert cusum == pytest.approx(max(tails), abs=1e-9)


@given(st.lists(st.floats(-10.0, 10.0), max_size=50))
def test_up_and_down_are_mirror_images(samples: list[float]) -> None:
    sums = mirrored = TwoSidedCusum()
    for sample in samples:
        sums = sums.next(sample, reference=K)
        mirrored = mirrored.next(-sample, reference=K)
    assert (sums.up, sums.down) == (mirrored.down, mirrored.up)


@given(st.lists(st.floats(-3.0, 3.0), min_size=1, max_size=60))
def test_shiryaev_roberts_is_the_sum_of_all_likelihood_ratios_that_end_now(
    log_ratios: list[float],
) -> None:
    """R_n is the sum over every possible beginning of the ratios from there on."""
    log_r = -math.inf
    for log_ratio in log_ratios:
        log_r = next_shiryaev_roberts(log_r, log_ratio)
    total = math.fsum(math.exp(math.fsum(log_ratios[begin:])) for begin in range(len(log_ratios)))
    assert log_r == pytest.approx(math.log(total), rel=1e-9, abs=1e-9)


def test_shiryaev_roberts_less_the_count_has_no_drift_before_a_shift() -> None:
    """R_n - n is a martingale without a shift (Pollak 1985), so the mean of R_10 is 10."""
    generator = random.Random(20260614)
    runs, shift, values = 40_000, 0.4, []
    for _ in range(runs):
        log_r = -math.inf
        for _ in range(10):
            sample = generator.gauss(0.0, 1.0)
            log_r = next_shiryaev_roberts(log_r, shift * sample - 0.5 * shift * shift)
        values.append(math.exp(log_r))
    error = statistics.stdev(values) / math.sqrt(runs)
    assert error < 0.1
    assert statistics.mean(values) == pytest.approx(10.0, abs=4.0 * error)


def test_shiryaev_roberts_outlives_the_range_of_floats() -> None:
    log_r = -math.inf
    for _ in range(5000):
        log_r = next_shiryaev_roberts(log_r, 2.0)
    assert log_r == pytest.approx(10_000.0, abs=1.0)


def test_siegmunds_formula_is_smooth_where_the_drift_vanishes() -> None:
    at = siegmund_run_length(K, reference=K, limit=4.0)
    for nearby in (1e-6, 1e-5, 3e-5, 1e-4):
        for sign in (-1.0, 1.0):
            beside = siegmund_run_length(K + sign * nearby, reference=K, limit=4.0)
            assert beside == pytest.approx(at, rel=1e-3)


def test_siegmunds_formula_has_no_end_where_a_limit_is_never_passed() -> None:
    assert siegmund_run_length(-100.0, reference=K, limit=100.0) == math.inf


@pytest.mark.parametrize("limit", [-0.1, math.nan])
def test_a_limit_that_is_none_is_refused(limit: float) -> None:
    with pytest.raises(UserInputError, match="no limit") as caught:
        siegmund_run_length(0.0, reference=K, limit=limit)
    assert caught.value.remedy
