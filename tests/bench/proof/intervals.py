"""Quantiles of metres with their 95 % intervals, by the bootstrap (Efron 1979)."""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from attrs import frozen

RESAMPLES: Final = 2000
SEED: Final = 1979


@frozen
class Quantile:
    """A quantile with the ends of its interval; infinite where misses reach into it."""

    value: float
    low: float
    high: float


def quantile(metres: Sequence[float], part: float) -> Quantile:
    """The least metre that ``part`` of the nights do not pass; misses are infinite."""
    if not metres:
        return Quantile(math.nan, math.nan, math.nan)
    values = np.sort(np.array(metres, dtype=np.float64))
    random = np.random.default_rng(SEED)
    at = max(0, math.ceil(part * len(values)) - 1)
    drawn = random.integers(0, len(values), size=(RESAMPLES, len(values)))
    drawn.sort(axis=1)
    resampled = np.sort(values[drawn[:, at]])
    low, high = (resampled[round(end * (RESAMPLES - 1))] for end in (0.025, 0.975))
    return Quantile(float(values[at]), float(low), float(high))
