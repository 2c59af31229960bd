"""The random walks have the statistics they are named for."""

import math
from itertools import pairwise
from statistics import fmean, pvariance

import pytest

from driftlead.simulate.noise import SmoothWander, Wander, stream


def correlation(values: list[float], lag: int) -> float:
    pairs = zip(values, values[lag:], strict=False)
    return fmean(a * b for a, b in pairs) / fmean(value * value for value in values)


@pytest.mark.parametrize("dt_s", [0.25, 1.0, 4.0])
def test_a_wander_has_its_spread_and_forgets_exponentially_whatever_the_step(dt_s: float) -> None:
    """Ornstein-Uhlenbeck: autocorrelation exp(-t/tau), standard deviation sigma."""
    walk = Wander(stream(5, "test"), sigma=3.0, tau_s=8.0)
    values = [walk.step(dt_s) for _ in range(60_000)]
    assert math.sqrt(pvariance(values)) == pytest.approx(3.0, rel=0.06)
    assert correlation(values, round(8.0 / dt_s)) == pytest.approx(math.exp(-1.0), abs=0.05)


@pytest.mark.parametrize("dt_s", [0.25, 1.0, 4.0])
def test_a_smooth_wander_has_the_matern_autocorrelation_whatever_the_step(dt_s: float) -> None:
    """Matern 3/2 (Rasmussen & Williams 2006, eq. 4.17): (1 + t/s) exp(-t/s)."""
    walk = SmoothWander(stream(6, "test"), sigma=0.5, scale_s=8.0)
    values = [walk.step(dt_s) for _ in range(60_000)]
    assert math.sqrt(pvariance(values)) == pytest.approx(0.5, rel=0.06)
    assert correlation(values, round(8.0 / dt_s)) == pytest.approx(2.0 * math.exp(-1), abs=0.05)
    assert correlation(values, round(24.0 / dt_s)) == pytest.approx(4.0 * math.exp(-3), abs=0.05)


def test_a_smooth_wander_hardly_moves_in_a_moment() -> None:
    """Its change over a short time grows as the time itself, not as its root."""
    walk = SmoothWander(stream(7, "test"), sigma=1.0, scale_s=10.0)
    values = [walk.step(0.1) for _ in range(40_000)]
    short = fmean((b - a) ** 2 for a, b in pairwise(values))
    longer = fmean((b - a) ** 2 for a, b in zip(values, values[4:], strict=False))
    assert longer / short == pytest.approx(16.0, rel=0.05)


def test_streams_of_one_seed_differ_by_name_and_repeat() -> None:
    """Each part of a night draws from its own stream."""
    assert stream(1, "wind").random() != stream(1, "sheer").random()
    assert stream(1, "wind").random() == stream(1, "wind").random()


def test_a_stream_is_the_same_on_every_machine() -> None:
    """Python promises the same numbers from the same text seed; this is the first of one."""
    assert stream(1, "wind").random() == 0.016974619391298074
