"""The ABYC H-40 design loads of ground tackle: what its hardware is sized for, shock included.

A boat's row is by her length over all or by her beam, whichever gives the larger load. The loads of
20 to 60 ft, lunch hook to storm, are as two republications of the table print them. The beams, the
rows of 10 and 15 ft and the mooring column are from memory. Loads go with the square of the wind
(15, 30 and 42 knots as 1, 4 and 8), except that those of moorings are three times the working ones.
"""

import bisect
from enum import StrEnum
from typing import Final

from attrs import frozen

from driftlead.tackle.checked import positive
from driftlead.units import FOOT_M, KNOT_MPS, POUND_FORCE_N


class Hull(StrEnum):
    """How wide a boat is for her length: the table has two columns of beams."""

    SAIL = "sail"
    POWER = "power"


class Duty(StrEnum):
    """What the tackle is for; each has its wind."""

    LUNCH_HOOK = "lunch hook"
    WORKING = "working anchor"
    STORM = "storm anchor"
    MOORING = "permanent mooring"


DUTY_WIND_MPS: Final = {
    Duty.LUNCH_HOOK: 15 * KNOT_MPS,
    Duty.WORKING: 30 * KNOT_MPS,
    Duty.STORM: 42 * KNOT_MPS,
    Duty.MOORING: 60 * KNOT_MPS,
}


_LOA_FT: Final = (10, 15, 20, 25, 30, 35, 40, 50, 60)
_BEAM_FT: Final = {
    Hull.SAIL: (4, 5, 7, 8, 9, 10, 11, 13, 15),
    Hull.POWER: (5, 6, 8, 9, 11, 13, 14, 16, 18),
}
# One public copy prints 500 and 720 lb for a storm at 20 and 25 ft: a slip by one row, for it
# breaks the square of the wind.
_LOAD_LB: Final = {
    Duty.LUNCH_HOOK: (40, 60, 90, 125, 175, 225, 300, 400, 500),
    Duty.WORKING: (160, 250, 360, 490, 700, 900, 1200, 1600, 2000),
    Duty.STORM: (320, 500, 720, 980, 1400, 1800, 2400, 3200, 4000),
    Duty.MOORING: (480, 750, 1080, 1470, 2100, 2700, 3600, 4800, 6000),
}
LONGEST_M: Final = _LOA_FT[-1] * FOOT_M


@frozen(kw_only=True)
class DesignLoad:
    """A load of the table in newtons, and the duty and wind (m/s) it is for."""

    duty: Duty
    wind_mps: float
    load_n: float


def design_load(
    duty: Duty, *, loa_m: float, beam_m: float | None = None, hull: Hull = Hull.SAIL
) -> DesignLoad | None:
    """Return the load of the row a boat falls in; None if she is larger than the table.

    A boat between two rows takes the larger, as the table's users do. Without a beam her length
    alone decides.
    """
    row = _row(_LOA_FT, positive("The length over all in metres", loa_m))
    if beam_m is not None:
        row = max(row, _row(_BEAM_FT[hull], positive("The beam in metres", beam_m)))
    if row == len(_LOA_FT):
        return None
    load_n = _LOAD_LB[duty][row] * POUND_FORCE_N
    return DesignLoad(duty=duty, wind_mps=DUTY_WIND_MPS[duty], load_n=load_n)


def _row(sizes_ft: tuple[int, ...], size_m: float) -> int:
    # A size of the table, given in metres to a millimetre, is in its own row.
    return bisect.bisect_left(sizes_ft, size_m / FOOT_M - 0.005)


def duty_for(wind_mps: float) -> Duty:
    """Return the first duty whose wind is no less than this, in m/s; beyond 60 kn the last."""
    return next(
        (duty for duty, limit in DUTY_WIND_MPS.items() if wind_mps <= limit + 1e-9), Duty.MOORING
    )


def interpolated_load_n(duty: Duty, *, loa_m: float) -> float | None:
    """Return the load in newtons between the rows, by length alone; None beyond the table.

    Straight between the rows; below the shortest in proportion to its square.
    """
    loa_ft = positive("The length over all in metres", loa_m) / FOOT_M
    loads = _LOAD_LB[duty]
    if loa_ft > _LOA_FT[-1] + 0.005:
        return None
    if loa_ft <= _LOA_FT[0]:
        return loads[0] * (loa_ft / _LOA_FT[0]) ** 2 * POUND_FORCE_N
    row = min(bisect.bisect_left(_LOA_FT, loa_ft), len(_LOA_FT) - 1)
    low_ft, high_ft = _LOA_FT[row - 1], _LOA_FT[row]
    part = (loa_ft - low_ft) / (high_ft - low_ft)
    return (loads[row - 1] + part * (loads[row] - loads[row - 1])) * POUND_FORCE_N
