"""The push of the wind on a boat at anchor: F = 1/2 rho CdA V^2.

The stream, the waves and her yawing add to it; gusts are in it by their own speed.
"""

import math
from typing import Final

from driftlead.tackle.checked import not_negative, positive
from driftlead.tackle.design_load import DUTY_WIND_MPS, Duty, interpolated_load_n

AIR_KG_PER_M3: Final = 1.225
"""Air at sea level in the standard atmosphere (ISO 2533)."""

GUST_FACTOR: Final = 1.4
"""Gusts over the mean wind: marine forecasts give the mean and warn of gusts up to some 40 % above
it (common practice, from memory)."""

STEADY_SHARE: Final = 0.25
"""Of the ABYC H-40 load, which sizes hardware with shock, the wind's steady push is 20 to 25 %:
load cell readings at anchor published by a sailor (sail-delmarva). We take the larger."""


def wind_pressure_pa(wind_mps: float) -> float:
    """Return the dynamic pressure in pascals of a wind in m/s."""
    return 0.5 * AIR_KG_PER_M3 * not_negative("The wind in m/s", wind_mps) ** 2


def wind_load_n(wind_mps: float, drag_area_m2: float) -> float:
    """Return the push in newtons; the drag area is drag coefficient times area, in m2."""
    return wind_pressure_pa(wind_mps) * not_negative("The drag area in m2", drag_area_m2)


def wind_of_load_mps(load_n: float, drag_area_m2: float) -> float:
    """Return the wind in m/s whose push this is: the inverse of ``wind_load_n``."""
    area_m2 = positive("The drag area in m2", drag_area_m2)
    return math.sqrt(load_n / (0.5 * AIR_KG_PER_M3 * area_m2))


def usual_drag_area_m2(loa_m: float) -> float | None:
    """Return the drag area in m2 of a usual boat by her length; None beyond 60 ft.

    Derived, not published: the area on which a steady 30 knots push with ``STEADY_SHARE`` of the
    ABYC H-40 working load. At 35 ft that is 6.9 m2.
    """
    load_n = interpolated_load_n(Duty.WORKING, loa_m=loa_m)
    if load_n is None:
        return None
    return STEADY_SHARE * load_n / wind_pressure_pa(DUTY_WIND_MPS[Duty.WORKING])
