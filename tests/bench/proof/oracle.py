"""About the best anybody could do with a receiver like this one: a yardstick, no detector.

The oracle knows where the boat is and what the receiver's noise is like; only the noise itself
and whether the anchor moves it does not know. It sees the noise plus the anchor's way, along the
line of the drag, and asks for the likelihood ratio of a drag of any constant speed that began at
any moment, against none (the generalised likelihood ratio of Willsky & Jones 1976, IEEE Trans.
Automatic Control 21:108): the noise is whitened by its own Kalman filter, and the innovations are
matched with those that a ramp would cause.

It is told when the receiver is in trouble, and passes over those fixes, those the track's filter
refuses, and positions that are held; beyond four standard errors an innovation counts as four.
"""

import math
from collections.abc import Sequence
from typing import Final, TypeAlias

import numpy as np
from attrs import frozen

from driftlead.simulate.receiver import ReceiverFigures

ORACLE_STEP_S: Final = 10.0
LONGEST_STEPS: Final = 720
FASTEST_MPS: Final = 1.5
CLIP: Final = 4.0
LEAST_WHITE_M: Final = 0.05

Floats: TypeAlias = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


@frozen(eq=False)
class NoiseModel:
    """The noise of one axis as a linear system stepped by ``ORACLE_STEP_S``."""

    transition: Floats
    added: Floats
    stationary: Floats
    seen: Floats
    white: float


def noise_model(receiver: ReceiverFigures, *, quantum_m: float) -> NoiseModel:
    """A Matern 3/2 walk and two of Ornstein and Uhlenbeck, and what rounding adds."""
    dt = ORACLE_STEP_S
    rate = 1.0 / receiver.quick_s
    decay = math.exp(-rate * dt)
    transition = np.zeros((4, 4))
    transition[0, :2] = decay * (1.0 + rate * dt), decay * dt
    transition[1, :2] = -decay * rate * rate * dt, decay * (1.0 - rate * dt)
    transition[2, 2] = math.exp(-dt / receiver.middling_s)
    transition[3, 3] = math.exp(-dt / receiver.slow_s)
    stationary = np.diag(
        [
            receiver.quick_m**2,
            (receiver.quick_m * rate) ** 2,
            receiver.middling_m**2,
            receiver.slow_m**2,
        ]
    )
    return NoiseModel(
        transition,
        stationary - transition @ stationary @ transition.T,
        stationary,
        np.array([1.0, 0.0, 1.0, 1.0]),
        quantum_m**2 / 12.0 + LEAST_WHITE_M**2,
    )


def whitened(samples: Sequence[float | None], model: NoiseModel) -> Floats:
    """Innovations of the samples in their standard errors; 0 where there is no sample."""
    mean, cov = np.zeros(4), model.stationary.copy()
    result = np.zeros(len(samples))
    for index, sample in enumerate(samples):
        if index:
            mean = model.transition @ mean
            cov = model.transition @ cov @ model.transition.T + model.added
        if sample is None:
            continue
        gain = cov @ model.seen
        var = float(model.seen @ gain) + model.white
        error = (sample - float(model.seen @ mean)) / math.sqrt(var)
        result[index] = error
        error = max(-CLIP, min(CLIP, error))
        mean = mean + gain * (error / math.sqrt(var))
        cov = cov - np.outer(gain, gain) / var
    return np.clip(result, -CLIP, CLIP)


def ramp_signature(model: NoiseModel) -> Floats:
    """What a ramp of 1 m/s does to the innovations of a filter that has long been running."""
    cov = model.stationary.copy()
    gain, var = np.zeros(4), 1.0
    for _ in range(2000):
        cov = model.transition @ cov @ model.transition.T + model.added
        gain = cov @ model.seen
        var = float(model.seen @ gain) + model.white
        cov = cov - np.outer(gain, gain) / var
    mean = np.zeros(4)
    result = np.zeros(LONGEST_STEPS)
    for index in range(LONGEST_STEPS):
        mean = model.transition @ mean
        error = (index + 1) * ORACLE_STEP_S - float(model.seen @ mean)
        result[index] = error / math.sqrt(var)
        mean = mean + gain * (error / var)
    return result


def oracle_figures(
    samples: Sequence[float | None], receiver: ReceiverFigures, *, quantum_m: float
) -> Floats:
    """At each step, the greatest log likelihood ratio of a drag that began at any step before."""
    model = noise_model(receiver, quantum_m=quantum_m)
    errors, signature = whitened(samples, model), ramp_signature(model)
    power = np.cumsum(signature * signature)
    result = np.zeros(len(errors))
    # One sum for each step at which a drag may have begun, the latest first.
    sums = np.zeros(LONGEST_STEPS)
    for index, error in enumerate(errors):
        sums[1:] = sums[:-1]
        sums[0] = 0.0
        known = min(index + 1, LONGEST_STEPS)
        sums[:known] += signature[:known] * error
        speed = np.clip(sums[:known] / power[:known], 0.0, FASTEST_MPS)
        ratios = speed * sums[:known] - 0.5 * speed * speed * power[:known]
        result[index] = float(ratios.max())
    return result
