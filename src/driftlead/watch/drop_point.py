"""Where the bow was at let go: that is where the anchor lies."""

import math

from driftlead.geodesy.anchor_estimate import AnchorMethod
from driftlead.geodesy.plane import offset
from driftlead.watch.detector import AnchorInPlane


def drop_point(
    *,
    east_m: float,
    north_m: float,
    sigma_m: float,
    antenna_aft_m: float,
    heading: tuple[float, float] | None,
) -> tuple[AnchorInPlane, AnchorMethod]:
    """Lay off from the antenna to the bow roller (NAVEDTRA 14221: along the ship's head).

    ``heading`` is true head and its standard error in degrees. Without one the bow is somewhere
    on a circle of ``antenna_aft_m`` around the antenna: the fix is kept and the circle becomes
    uncertainty, ``antenna_aft_m / sqrt(2)`` an axis.
    """
    if heading is None:
        return (
            AnchorInPlane(east_m, north_m, math.hypot(sigma_m, antenna_aft_m / math.sqrt(2.0))),
            AnchorMethod.MARKED_NO_HEADING,
        )
    heading_deg, heading_sigma_deg = heading
    bow_east_m, bow_north_m = offset(heading_deg, antenna_aft_m)
    across_m = antenna_aft_m * math.sin(math.radians(heading_sigma_deg))
    return (
        AnchorInPlane(
            east_m + bow_east_m,
            north_m + bow_north_m,
            # The error across the head is in one axis only, so half its variance in each.
            math.hypot(sigma_m, across_m / math.sqrt(2.0)),
        ),
        AnchorMethod.MARKED,
    )
