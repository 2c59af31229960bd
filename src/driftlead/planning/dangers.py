"""What the boat would hit, and how soon: the nearest danger to leeward while she drags.

Everything is in one plane, metres east and north. A call costs well under a millisecond for some
thousand corners: all boundaries lie in arrays made once.
"""

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely
from attrs import frozen
from numpy.typing import NDArray

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import distance_and_bearing, wrap_bearing_deg
from driftlead.planning.danger_ahead import DangerAhead, DangerKind
from driftlead.tackle.checked import not_negative

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
_ROUND: Final = 8
"""Segments to a quarter of the round that the hull adds to a corner: half a per cent short."""
_COARSE: Final = 0.01
"""As a part of the hull's length: how far the edge may be off where corners are left out."""
MAX_SPREAD_DEG: Final = 45.0


@frozen(kw_only=True, eq=False)
class Danger:
    """A danger: ``shape`` is a point, a line or an area in the plane."""

    name: str
    kind: DangerKind = DangerKind.OTHER
    shape: "BaseGeometry"


class Dangers:
    """The dangers round an anchorage, made ready to be asked often.

    ``hull_m`` is how far the hull may stretch from the point that is asked about: the boat drags
    beam-on as often as not, so the whole length from the antenna is safe and the default of the
    caller. ``spread_deg``: the drift's bearing is known no better than this to either side; a
    danger anywhere in that wedge counts as ahead.
    """

    def __init__(
        self, dangers: Iterable[Danger], *, hull_m: float, spread_deg: float = 10.0
    ) -> None:
        """Raise UserInputError for a hull or spread that cannot be."""
        not_negative("The reach of the hull in metres", hull_m)
        if not 0.0 <= spread_deg <= MAX_SPREAD_DEG:
            raise UserInputError(
                f"The drift's spread cannot be {spread_deg} degrees.",
                remedy=f"Give 0 to {MAX_SPREAD_DEG:.0f} degrees to either side.",
            )
        self._hull_m = hull_m
        self._slope = math.tan(math.radians(spread_deg))
        self._dangers = tuple(dangers)
        shapes = [danger.shape for danger in self._dangers]
        self._bare = _Edges(shapes)
        if hull_m > 0.0:
            # A coast of many corners would get many times as many; they differ by centimetres.
            shapes = [
                shape.buffer(hull_m, quad_segs=_ROUND).simplify(_COARSE * hull_m)
                for shape in shapes
            ]
        self._widened = _Edges(shapes)

    def __len__(self) -> int:
        return len(self._dangers)

    def ahead(
        self, east_m: float, north_m: float, bearing_deg: float, rate_mps: float
    ) -> DangerAhead | None:
        """Say what a boat at a point meets if she drifts on towards a true bearing at a rate.

        None if there are no dangers at all. A rate that is not above zero gives no minutes.
        Raises UserInputError for a point or a bearing that is no number.
        """
        if not (math.isfinite(east_m) and math.isfinite(north_m) and math.isfinite(bearing_deg)):
            raise UserInputError(
                f"A drift from {east_m}, {north_m} towards {bearing_deg} leads nowhere.",
                remedy="Give finite metres and degrees.",
            )
        if not self._dangers:
            return None
        nearest_m, to_east_m, to_north_m, nearest = self._bare.nearest(east_m, north_m)
        nearest_m = max(0.0, nearest_m - self._hull_m)
        _, nearest_bearing_deg = distance_and_bearing(to_east_m, to_north_m)
        hit_m, hit_bearing_deg, hit = self._widened.along(east_m, north_m, bearing_deg, self._slope)
        aground = nearest_m == 0.0
        closes = aground or math.isfinite(hit_m)
        ahead = closes and not aground
        which = self._dangers[hit if ahead else nearest]
        distance_m = hit_m if ahead else nearest_m
        minutes = distance_m / rate_mps / 60.0 if closes and rate_mps > 0.0 else None
        return DangerAhead(
            name=which.name,
            kind=which.kind,
            distance_m=distance_m,
            bearing_deg=hit_bearing_deg if ahead else nearest_bearing_deg,
            minutes=minutes,
            nearest_name=self._dangers[nearest].name,
            nearest_m=nearest_m,
            nearest_bearing_deg=nearest_bearing_deg,
        )


class _Edges:
    """Every edge of some shapes, as arrays; a lone point is an edge without length."""

    def __init__(self, shapes: list[Any]) -> None:
        begins: list[Floats] = []
        ends: list[Floats] = []
        owners: list[NDArray[np.intp]] = []
        for index, shape in enumerate(shapes):
            for chain in chains(shape):
                begins.append(chain[:-1] if len(chain) > 1 else chain)
                ends.append(chain[1:] if len(chain) > 1 else chain)
                owners.append(np.full(len(begins[-1]), index, dtype=np.intp))
        begin = np.concatenate(begins) if begins else np.empty((0, 2))
        end = np.concatenate(ends) if ends else np.empty((0, 2))
        self._owner = np.concatenate(owners) if owners else np.empty(0, dtype=np.intp)
        self._east, self._north = begin[:, 0].copy(), begin[:, 1].copy()
        self._de, self._dn = end[:, 0] - self._east, end[:, 1] - self._north
        squared = self._de**2 + self._dn**2
        self._squared = np.where(squared > 0.0, squared, 1.0)
        self._areas = [
            (index, shape) for index, shape in enumerate(shapes) if "Polygon" in shape.geom_type
        ]
        for _, shape in self._areas:
            shapely.prepare(shape)

    def nearest(self, east_m: float, north_m: float) -> tuple[float, float, float, int]:
        """Distance, vector and index of the nearest shape; within an area the distance is zero."""
        for index, area in self._areas:
            if shapely.intersects_xy(area, east_m, north_m):
                return 0.0, 0.0, 0.0, index
        east, north = self._east - east_m, self._north - north_m
        part = np.clip(-(east * self._de + north * self._dn) / self._squared, 0.0, 1.0)
        east, north = east + part * self._de, north + part * self._dn
        distance = np.hypot(east, north)
        i = int(np.argmin(distance))
        return float(distance[i]), float(east[i]), float(north[i]), int(self._owner[i])

    def along(
        self, east_m: float, north_m: float, bearing_deg: float, slope: float
    ) -> tuple[float, float, int]:
        """Distance, true bearing and index of the first shape in a wedge; infinite for none.

        The nearest point of an edge within the wedge is its foot from the apex, one of its ends, or
        where one of the wedge's two sides cuts it.
        """
        sine, cosine = math.sin(math.radians(bearing_deg)), math.cos(math.radians(bearing_deg))
        east, north = self._east - east_m, self._north - north_m
        # x runs along the drift, y across it to starboard.
        x, y = east * sine + north * cosine, east * cosine - north * sine
        dx = self._de * sine + self._dn * cosine
        dy = self._de * cosine - self._dn * sine
        # Most edges lie wholly behind, or wholly to one side of the wedge.
        to_starboard, to_port = y - slope * x, -y - slope * x
        aside = (np.minimum(to_starboard, to_starboard + dy - slope * dx) > 0.0) | (
            np.minimum(to_port, to_port - dy - slope * dx) > 0.0
        )
        some = np.flatnonzero(~aside & (np.maximum(x, x + dx) >= 0.0))
        if not len(some):
            return math.inf, bearing_deg, -1
        x, y, dx, dy = x[some], y[some], dx[some], dy[some]
        foot = np.clip(-(x * dx + y * dy) / self._squared[some], 0.0, 1.0)
        parts = [np.zeros(len(x)), np.ones(len(x)), foot]
        best, best_y = np.full(len(x), np.inf), np.zeros(len(x))
        with np.errstate(divide="ignore", invalid="ignore"):
            # Where the edge cuts the sides y = slope x and y = -slope x.
            parts.append((slope * x - y) / (dy - slope * dx))
            parts.append((-slope * x - y) / (dy + slope * dx))
            for number, part in enumerate(parts):
                on_x, on_y = x + part * dx, y + part * dy
                inside = (part >= 0.0) & (part <= 1.0) & (on_x >= 0.0)
                if number < 3:  # the cuts lie on the wedge's sides by themselves
                    inside &= np.abs(on_y) <= slope * on_x
                distance = np.where(inside, np.hypot(on_x, on_y), np.inf)
                best_y = np.where(distance < best, on_y, best_y)
                best = np.minimum(best, distance)
        i = int(np.argmin(best))
        distance_m = float(best[i])
        if not 0.0 < distance_m < math.inf:
            return distance_m, bearing_deg, int(self._owner[some[i]])
        # The wedge is narrow, so what lies in it lies less than a right angle from its middle.
        aside_deg = math.degrees(math.asin(max(-1.0, min(1.0, float(best_y[i]) / distance_m))))
        return distance_m, wrap_bearing_deg(bearing_deg + aside_deg), int(self._owner[some[i]])


def chains(shape: "BaseGeometry") -> list[Floats]:
    """Every ring, line and point a shape is made of, each as an (n, 2) array of its corners."""
    found: list[Floats] = []
    for part in shapely.get_parts(shape):
        if part.geom_type in ("MultiPolygon", "MultiLineString", "MultiPoint"):
            found += chains(part)
        elif part.geom_type == "Polygon":
            found += [shapely.get_coordinates(ring) for ring in shapely.get_rings(part)]
        else:
            found.append(shapely.get_coordinates(part))
    return [chain for chain in found if len(chain)]
