"""The normal integral for arrays, held against scipy, with the error the published fit states."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import norm

from driftlead.watch.normal import log_below_and_spill

STATED = 1.2e-7
"""Relative error of the fit of erfc everywhere (Press et al., Numerical Recipes, 2nd ed., 6.2)."""
RANGE = np.concatenate([np.linspace(-30.0, 8.0, 50_001), [-0.0, 0.0, 5e-324, -5e-324]])


def log_below(x: NDArray[np.float64]) -> NDArray[np.float64]:
    return log_below_and_spill(x)[0]


def spill(x: NDArray[np.float64]) -> NDArray[np.float64]:
    return log_below_and_spill(x)[1]


def test_the_integral_is_as_near_as_the_fit_promises() -> None:
    """A relative error of the integral is the same absolute error of its logarithm."""
    off = np.abs(np.expm1(log_below(RANGE) - norm.logcdf(RANGE)))
    assert off.max() < STATED


def test_what_is_cut_off_is_as_near() -> None:
    """Density over integral: the one is exact and the other as near as the fit."""
    truth = np.exp(norm.logpdf(RANGE) - norm.logcdf(RANGE))
    assert np.abs(spill(RANGE) / truth - 1.0).max() < 1.01 * STATED


@pytest.mark.parametrize("x", [-200.0, -40.0, 40.0, 200.0])
def test_far_out_nothing_overflows(x: float) -> None:
    """At 200 sigma too the tail is right, and never an infinity or none at all."""
    at = np.array([x])
    with np.errstate(over="raise", divide="raise", invalid="raise"):
        log_tail, cut_off = float(log_below(at)[0]), float(spill(at)[0])
    assert log_tail == pytest.approx(float(norm.logcdf(x)), rel=1e-9, abs=1e-300)
    assert cut_off == pytest.approx(
        math.exp(float(norm.logpdf(x)) - float(norm.logcdf(x))), rel=2.0 * STATED, abs=1e-300
    )


@given(x=st.lists(st.floats(-200.0, 200.0), min_size=1, max_size=20))
def test_below_and_above_are_everything(x: list[float]) -> None:
    at = np.array(x)
    assert np.exp(log_below(at)) + np.exp(log_below(-at)) == pytest.approx(np.ones(len(x)))
    assert (log_below(at) <= 0.0).all()
    assert (spill(at) >= 0.0).all()


@given(shape=st.sampled_from([(1,), (3, 5), (2, 3, 4)]), x=st.floats(-50.0, 50.0, allow_nan=False))
def test_arrays_of_any_shape_are_taken_and_left_as_they_are(
    shape: tuple[int, ...], x: float
) -> None:
    at = np.full(shape, x)
    assert log_below(at).shape == spill(at).shape == shape
    assert (at == x).all()
