"""A metric plane around one place: metres east and north instead of degrees."""

import math

from driftlead.geodesy.position import Position, wrap_lon_deg

# WGS84 defining parameters: NIMA TR8350.2, third edition, table 3.1.
_A_M = 6378137.0
_F = 1.0 / 298.257223563
_E2 = _F * (2.0 - _F)
_SECOND_E2 = _E2 / (1.0 - _E2)
_RAD_PER_DEG = math.pi / 180.0


def wrap_bearing_deg(bearing_deg: float) -> float:
    """Bring a bearing into [0, 360)."""
    wrapped = bearing_deg % 360.0
    # A hair below zero the remainder rounds up to 360 itself.
    return wrapped if wrapped < 360.0 else 0.0


def distance_and_bearing(east_m: float, north_m: float) -> tuple[float, float]:
    """Return the length in metres and the bearing in degrees, [0, 360), of a plane vector.

    No length, no bearing: it is then given as 0.
    """
    distance_m = math.hypot(east_m, north_m)
    if distance_m == 0.0:
        return 0.0, 0.0
    return distance_m, wrap_bearing_deg(math.degrees(math.atan2(east_m, north_m)))


def offset(bearing_deg: float, distance_m: float) -> tuple[float, float]:
    """Return (east_m, north_m) of a distance laid off on a bearing."""
    bearing_rad = math.radians(bearing_deg)
    return distance_m * math.sin(bearing_rad), distance_m * math.cos(bearing_rad)


class LocalPlane:
    """An azimuthal equidistant plane: distance and true bearing from the origin are kept.

    A place becomes (east_m, north_m): their length is the geodesic distance from the origin,
    their direction the true bearing there. Within 5 um of the geodesic to 5 km and 1 cm to
    50 km, at any latitude, over antimeridian, equator and poles; across the globe distance is
    still right to 7 %, so a wild fix is seen to be wild. Distances between two points
    of the plane are right to 0.01 mm within 1 km of the origin and 1 mm within 5 km.

    It goes by the straight chord through the ellipsoid, in the origin's east, north and up. The
    chord lies in the normal section, whose azimuth is the geodesic's but for an angle of at most
    e'^2 s^2 / (12 R^2) (classical; see Torge, Geodesy), and the chord is lengthened to the arc
    with the mean radius of curvature at the origin.
    """

    __slots__ = ("_axial_m", "_cos_lat", "_n_m", "_polar_m", "_sin_lat", "_two_r_m", "origin")

    def __init__(self, origin: Position) -> None:
        self.origin = origin
        lat_rad = origin.lat_deg * _RAD_PER_DEG
        self._sin_lat = math.sin(lat_rad)
        self._cos_lat = math.cos(lat_rad)
        one_less = 1.0 - _E2 * self._sin_lat * self._sin_lat
        # n: radius of curvature in the prime vertical; axial and polar: the origin's distance
        # from the earth's axis and from the plane of the equator.
        self._n_m = _A_M / math.sqrt(one_less)
        self._axial_m = self._n_m * self._cos_lat
        self._polar_m = self._n_m * (1.0 - _E2) * self._sin_lat
        self._two_r_m = 2.0 * _A_M * math.sqrt(1.0 - _E2) / one_less

    def __repr__(self) -> str:
        return f"LocalPlane({self.origin!r})"

    def to_plane(self, lat_deg: float, lon_deg: float) -> tuple[float, float]:
        """Return (east_m, north_m) of a place in degrees."""
        lat_rad = lat_deg * _RAD_PER_DEG
        # Sine and cosine do not mind a whole turn, so the antimeridian needs no care.
        dlon_rad = (lon_deg - self.origin.lon_deg) * _RAD_PER_DEG
        sin_lat = math.sin(lat_rad)
        n_m = _A_M / math.sqrt(1.0 - _E2 * sin_lat * sin_lat)
        axial_m = n_m * math.cos(lat_rad)
        out_m = axial_m * math.cos(dlon_rad) - self._axial_m
        polar_m = n_m * (1.0 - _E2) * sin_lat - self._polar_m
        east_m = axial_m * math.sin(dlon_rad)
        north_m = self._cos_lat * polar_m - self._sin_lat * out_m
        up_m = self._cos_lat * out_m + self._sin_lat * polar_m
        level2 = east_m * east_m + north_m * north_m
        sine = math.sqrt(level2 + up_m * up_m) / self._two_r_m
        distance_m = self._two_r_m * math.asin(min(1.0, sine))
        if level2 == 0.0:  # the origin itself, or the far side of the earth
            return 0.0, distance_m
        scale = distance_m / math.sqrt(level2)
        return east_m * scale, north_m * scale

    def to_lat_lon(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return (lat_deg, lon_deg) of a point in the plane, longitude in [-180, 180)."""
        distance_m = math.hypot(east_m, north_m)
        if distance_m == 0.0:
            return self.origin.lat_deg, self.origin.lon_deg
        chord_m = self._two_r_m * math.sin(distance_m / self._two_r_m)
        chord2 = chord_m * chord_m
        # How far the ellipsoid has dropped away (up_m < 0) follows from its own equation, with
        # only a small term that depends on itself: each round gains e'^2 s/R, five digits at 5 km.
        up_m = -chord2 / (2.0 * self._n_m)
        scale = 1.0
        for _ in range(3):
            scale = math.sqrt(max(chord2 - up_m * up_m, 0.0)) / distance_m
            polar_m = self._cos_lat * north_m * scale + self._sin_lat * up_m
            up_m = -(chord2 + _SECOND_E2 * polar_m * polar_m) / (2.0 * self._n_m)
        polar_m = self._cos_lat * north_m * scale + self._sin_lat * up_m
        out_m = self._cos_lat * up_m - self._sin_lat * north_m * scale
        x_m = self._axial_m + out_m
        y_m = east_m * scale
        lat_rad = math.atan2(self._polar_m + polar_m, (1.0 - _E2) * math.hypot(x_m, y_m))
        lon_deg = self.origin.lon_deg + math.degrees(math.atan2(y_m, x_m))
        return math.degrees(lat_rad), wrap_lon_deg(lon_deg)

    def to_position(self, east_m: float, north_m: float) -> Position:
        """Return the Position of a point in the plane."""
        return Position(*self.to_lat_lon(east_m, north_m))
