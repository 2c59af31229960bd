"""The shortest line over the WGS84 ellipsoid between two places, however far apart.

PROJ does the work. The track itself runs in a ``LocalPlane``, which needs none of this: PROJ
costs some 25 MB and a tenth of a second to load, so it is loaded by the first line asked for.
"""

import functools
import math
from typing import TYPE_CHECKING

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import wrap_bearing_deg
from driftlead.geodesy.position import Position

if TYPE_CHECKING:
    from pyproj import Geod


@frozen
class GeodesicLine:
    """A line from a to b: its length in metres and true bearings in degrees, in [0, 360).

    ``bearing_deg`` is that of b seen from a, ``back_bearing_deg`` that of a seen from b.
    """

    distance_m: float
    bearing_deg: float
    back_bearing_deg: float


@functools.cache
def _wgs84() -> "Geod":
    from pyproj import Geod  # noqa: PLC0415 - loaded on first use: see the module's docstring

    return Geod(ellps="WGS84")


def inverse(a: Position, b: Position) -> GeodesicLine:
    """Measure the geodesic from a to b, good to a micrometre.

    Two positions at the same place have no bearing; they are given 0 and 180.
    """
    bearing_deg, back_bearing_deg, distance_m = _wgs84().inv(
        a.lon_deg, a.lat_deg, b.lon_deg, b.lat_deg
    )
    if distance_m == 0.0:
        return GeodesicLine(0.0, 0.0, 180.0)
    return GeodesicLine(
        distance_m, wrap_bearing_deg(bearing_deg), wrap_bearing_deg(back_bearing_deg)
    )


def direct(start: Position, bearing_deg: float, distance_m: float) -> Position:
    """Go ``distance_m`` from ``start`` along the geodesic that leaves on a true bearing.

    Raises UserInputError for a bearing that is no number, or a distance below zero.
    """
    if not math.isfinite(bearing_deg):
        raise UserInputError(
            f"Bearing {bearing_deg} is not a direction.", remedy="Give degrees true, 0 to 360."
        )
    if not (math.isfinite(distance_m) and distance_m >= 0.0):
        raise UserInputError(
            f"Distance {distance_m} m cannot be laid off.",
            remedy="Give metres, zero or more; turn the bearing round to go back.",
        )
    lon_deg, lat_deg, _ = _wgs84().fwd(start.lon_deg, start.lat_deg, bearing_deg, distance_m)
    return Position(lat_deg, lon_deg)
