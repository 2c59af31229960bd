"""The normal distribution's integral and what it cuts off, for arrays.

The integral is by the Chebyshev fit of erfc in Press et al., Numerical Recipes (2nd ed., 6.2),
whose relative error is below 1.2e-7 everywhere, far out in the tail too.
"""

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_TERMS: Final = (
    0.17087277,
    -0.82215223,
    1.48851587,
    -1.13520398,
    0.27886807,
    -0.18628806,
    0.09678418,
    0.37409196,
    1.00002368,
    -1.26551223,
)
# Read off a table, between whose lines it is straight within 1e-9: a quarter of the price.
_AT: Final = np.linspace(0.0, 1.0, 16385)
_FIT: Final = np.polyval(_TERMS, _AT)
# Arrays cost less than floats in the arithmetic of small arrays, of which there is much here.
_ONE: Final = np.array(1.0)
_HALF: Final = np.array(0.5)
_ROOT_HALF: Final = np.array(math.sqrt(0.5))
_LOG_2: Final = np.array(math.log(2.0))
_HALF_DENSITY: Final = np.array(math.sqrt(0.5 / math.pi))


def _log_scaled(z: Floats) -> Floats:
    """Log of erfc(z) exp(z^2), for z >= 0."""
    t = _ONE / (_ONE + _HALF * z)
    fit: Floats = np.interp(t, _AT, _FIT)
    fit += np.log(t)
    return fit


def log_below_and_above(x: Floats) -> tuple[Floats, Floats]:
    """Logs of the chances that a standard normal is below ``x``, and above it."""
    z = np.abs(x) * _ROOT_HALF
    log_tail = _log_scaled(z) - z * z - _LOG_2
    log_rest = np.log1p(-np.exp(log_tail))
    low = x < 0.0
    return np.where(low, log_tail, log_rest), np.where(low, log_rest, log_tail)


def log_below_and_spill(x: Floats) -> tuple[Floats, Floats]:
    """Log of the chance that a standard normal is below ``x``, and its spill, for the price of one.

    The spill is the density at ``x`` over that chance (the inverse Mills ratio).
    """
    z = np.abs(x) * _ROOT_HALF
    square = z * z
    scaled = _log_scaled(z)
    log_tail = scaled - square - _LOG_2
    low = x < 0.0
    log_chance = np.where(low, log_tail, np.log1p(-np.exp(log_tail)))
    # Far below, the density and the chance vanish alike; their ratio does not.
    log_density = np.where(low, _LOG_2 - scaled, -square - log_chance)
    return log_chance, _HALF_DENSITY * np.exp(log_density)
