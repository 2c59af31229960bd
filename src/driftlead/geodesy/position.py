"""A place on the WGS84 ellipsoid."""

import math

from attrs import field, frozen

from driftlead.errors import UserInputError


def _checked_lat(lat_deg: float) -> float:
    if not (math.isfinite(lat_deg) and -90.0 <= lat_deg <= 90.0):
        raise UserInputError(
            f"Latitude {lat_deg} is not a place.", remedy="Give degrees from -90 to 90."
        )
    return float(lat_deg)


def _checked_lon(lon_deg: float) -> float:
    if not (math.isfinite(lon_deg) and -360.0 <= lon_deg <= 360.0):
        raise UserInputError(
            f"Longitude {lon_deg} is not a place.", remedy="Give degrees from -180 to 180."
        )
    return wrap_lon_deg(lon_deg)


def wrap_lon_deg(lon_deg: float) -> float:
    """Bring a longitude into [-180, 180); values already there are returned unchanged."""
    if -180.0 <= lon_deg < 180.0:
        return float(lon_deg)
    wrapped = (lon_deg + 180.0) % 360.0 - 180.0
    # A hair west of -180 the remainder rounds up to 360 itself.
    return wrapped if wrapped < 180.0 else -180.0


@frozen
class Position:
    """Latitude and longitude in degrees, north and east positive. Longitude is in [-180, 180)."""

    lat_deg: float = field(converter=_checked_lat)
    lon_deg: float = field(converter=_checked_lon)
