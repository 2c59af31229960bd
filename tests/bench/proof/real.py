"""The errors of real receivers that lay still, for simulated boats to swing under."""

import os
from pathlib import Path
from typing import Final

from attrs import evolve

from driftlead.simulate.noise import stream
from driftlead.simulate.real_error import RealError, read_real_error

STATIONS: Final = ("esbc-2020177", "nya1-2024124", "ajac-2024209")
_BESIDE: Final = Path(__file__).resolve().parents[4] / "shared" / "real"
WORSE: Final = 2.0
"""Reference stations have good antennas and a clear sky: their error is doubled."""


def recordings() -> Path:
    """The folder of the real recordings, which are no part of the project."""
    return Path(os.environ.get("DRIFTLEAD_REAL", _BESIDE))


def error_of(seed: int) -> RealError:
    """One of the stations, from some time of its day on."""
    name = STATIONS[seed % len(STATIONS)]
    error = read_real_error(recordings() / f"still-24h-{name}.csv.gz")
    start_s = stream(seed, "real error").uniform(0.0, error.span_s)
    return evolve(error, start_s=start_s, scale=WORSE)
