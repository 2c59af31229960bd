"""Areas and tracks as shapes: the drag circle, where a boat has been, and GeoJSON of both.

GeoJSON here is RFC 7946: longitude first, exterior rings counter-clockwise, and what crosses the
antimeridian is cut there. Shapes must lie clear of the poles. Shapely is
loaded by the first region asked for, so that a watch which draws nothing does without it.
"""

# shapely is imported where it is used, see above.
# ruff: noqa: PLC0415

import itertools
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position, wrap_lon_deg

if TYPE_CHECKING:
    from shapely.geometry import Polygon
    from shapely.geometry.base import BaseGeometry

JsonObject = dict[str, Any]
LonLat = tuple[float, float]

_DECIMALS = 8  # of a degree: about a millimetre


def circle_region(
    radius_m: float, *, centre: tuple[float, float] = (0.0, 0.0), quad_segs: int = 32
) -> "Polygon":
    """Return a circle in the plane, as a polygon of 4 * ``quad_segs`` corners on the circle.

    ``centre`` is (east_m, north_m). With 32 its edges lie at most 0.03 % of the radius inside
    the circle and its area is 0.04 % short.
    """
    if not (math.isfinite(radius_m) and radius_m > 0.0):
        raise UserInputError(
            f"A circle of radius {radius_m} m cannot be drawn.", remedy="Give metres above zero."
        )
    from shapely.geometry import Point

    return Point(*centre).buffer(radius_m, quad_segs=quad_segs)


def swept_region(points: Iterable[tuple[float, float]]) -> "BaseGeometry":
    """Return the convex hull of a track's (east_m, north_m) points: the ground it swept.

    One place gives a point, places in one line a line; no place at all is a UserInputError.
    """
    from shapely.geometry import MultiPoint

    hull = MultiPoint(list(points)).convex_hull
    if hull.is_empty:
        raise UserInputError("An empty track sweeps nothing.", remedy="Give at least one place.")
    return hull


def region_to_geojson(region: "BaseGeometry", plane: LocalPlane) -> JsonObject:
    """Return a region of the plane as a GeoJSON geometry.

    Takes what this module makes: a polygon, or the line or point of a flat hull.
    """
    if region.geom_type == "Point":
        return point_to_geojson(plane.to_position(region.x, region.y))
    if region.geom_type == "LineString":
        return track_to_geojson(plane.to_position(*corner) for corner in region.coords)
    if region.geom_type != "Polygon":
        raise UserInputError(
            f"A {region.geom_type} is no region.", remedy="Give a polygon, a line or a point."
        )
    pieces = _cut_at_antimeridian(_unwrapped(region, plane))
    if len(pieces) == 1:
        return {"type": "Polygon", "coordinates": pieces[0]}
    return {"type": "MultiPolygon", "coordinates": pieces}


def track_to_geojson(track: Iterable[Position]) -> JsonObject:
    """Return a track as a GeoJSON line, in the order sailed.

    A place repeated counts once, and a track that never leaves its first place is a point.
    """
    places = list(track)
    if not places:
        raise UserInputError("An empty track has no line.", remedy="Give at least one place.")
    lines = [[_corner(places[0])]]
    for before, place in itertools.pairwise(places):
        if not -180.0 <= place.lon_deg - before.lon_deg < 180.0:
            _cut_line(lines, before, place)
        if lines[-1][-1] != _corner(place):
            lines[-1].append(_corner(place))
    # A place on the antimeridian itself is also the end of the line on the other side.
    lines = [line for line in lines if len(line) > 1]
    if not lines:
        return point_to_geojson(places[0])
    if len(lines) == 1:
        return {"type": "LineString", "coordinates": lines[0]}
    return {"type": "MultiLineString", "coordinates": lines}


def point_to_geojson(position: Position) -> JsonObject:
    """Return a place as a GeoJSON point."""
    return {"type": "Point", "coordinates": _corner(position)}


def feature(geometry: JsonObject, properties: Mapping[str, Any] | None = None) -> JsonObject:
    """Return a GeoJSON feature: a geometry and what there is to say about it."""
    return {"type": "Feature", "geometry": geometry, "properties": dict(properties or {})}


def feature_collection(features: Iterable[JsonObject]) -> JsonObject:
    """Return the GeoJSON document that holds some features."""
    return {"type": "FeatureCollection", "features": list(features)}


def _rounded(corner: LonLat) -> list[float]:
    return [round(corner[0], _DECIMALS), round(corner[1], _DECIMALS)]


def _corner(position: Position) -> list[float]:
    return _rounded((position.lon_deg, position.lat_deg))


def _cut_line(lines: list[list[list[float]]], before: Position, place: Position) -> None:
    """End the last line at the antimeridian, where the leg crosses it, and begin another."""
    edge_deg = math.copysign(180.0, before.lon_deg)
    # Both gaps are small differences of large numbers, and exact; the whole leg would not be.
    before_gap_deg = 180.0 - abs(before.lon_deg)
    place_gap_deg = 180.0 - abs(place.lon_deg)
    part = before_gap_deg / (before_gap_deg + place_gap_deg)
    lat_deg = before.lat_deg + part * (place.lat_deg - before.lat_deg)
    end = _rounded((edge_deg, lat_deg))
    if lines[-1][-1] != end:
        lines[-1].append(end)
    lines.append([_rounded((-edge_deg, lat_deg))])


def _unwrapped(polygon: "Polygon", plane: LocalPlane) -> "Polygon":
    """Turn a plane polygon into degrees that run on past 180 instead of jumping."""
    from shapely.geometry import Polygon

    origin_lon_deg = plane.origin.lon_deg

    def corner(east_m: float, north_m: float) -> LonLat:
        lat_deg, lon_deg = plane.to_lat_lon(east_m, north_m)
        return origin_lon_deg + wrap_lon_deg(lon_deg - origin_lon_deg), lat_deg

    return Polygon(
        [corner(*point) for point in polygon.exterior.coords],
        [[corner(*point) for point in ring.coords] for ring in polygon.interiors],
    )


def _cut_at_antimeridian(polygon: "Polygon") -> list[list[list[list[float]]]]:
    """Return the coordinates of the polygons, each within [-180, 180], that make up one."""
    from shapely.affinity import translate
    from shapely.geometry import box
    from shapely.geometry.polygon import orient

    pieces = []
    for shift_deg in (0.0, 360.0, -360.0):
        world = box(-180.0 - shift_deg, -90.0, 180.0 - shift_deg, 90.0)
        cut = translate(polygon.intersection(world), xoff=shift_deg)
        for piece in getattr(cut, "geoms", [cut]):
            if piece.geom_type == "Polygon" and not piece.is_empty:
                whole = orient(piece, 1.0)
                rings = [whole.exterior, *whole.interiors]
                pieces.append([[_rounded(corner) for corner in ring.coords] for ring in rings])
    return pieces
