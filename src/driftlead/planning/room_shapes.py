"""GeoJSON geometries (RFC 7946) as shapes of the plane, each checked before it is believed."""

import math
import re
from typing import TYPE_CHECKING, Any, Final

import shapely

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.planning.room_fields import shown
from driftlead.units import format_position

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

FARTHEST_M: Final = 100_000.0
"""What lies farther off is a slip of the pen, most often latitude and longitude swapped."""
_LON_FIRST: Final = "In GeoJSON longitude comes first: [-31.2034, 46.5012]."
_WHERE: Final = re.compile(r"\[(\S+) (\S+)\]")
_MULTI: Final = {
    "MultiPoint": "Point",
    "MultiLineString": "LineString",
    "MultiPolygon": "Polygon",
}
_KINDS: Final = ("Point", "LineString", "Polygon")


def shapes_of(geometry: Any, plane: LocalPlane, place: str) -> "list[BaseGeometry]":
    """Read one geometry; one of several parts gives several shapes.

    ``place`` says in messages where it stands. Raises UserInputError with a remedy.
    """
    if not isinstance(geometry, dict):
        raise UserInputError(
            f"{place}: geometry = {shown(geometry)} is no geometry.",
            remedy='Write {"type": "Point", "coordinates": [lon, lat]}.',
        )
    kind, coordinates = geometry.get("type"), geometry.get("coordinates")
    if isinstance(kind, str) and kind in _MULTI:
        parts = _list(coordinates, place)
        return [
            _shape(_MULTI[kind], part, plane, f"{place}, part {number}")
            for number, part in enumerate(parts, start=1)
        ]
    if kind not in _KINDS:
        raise UserInputError(
            f"{place}: geometry type = {shown(kind)} is none that can be used here.",
            remedy=f"Write one of {', '.join((*_KINDS, *_MULTI))}.",
        )
    return [_shape(kind, coordinates, plane, place)]


def area_of(corners: list[Position], plane: LocalPlane, place: str) -> "BaseGeometry":
    """Make an area of its corners, which need not be closed. Raises UserInputError."""
    ring = [plane.to_plane(corner.lat_deg, corner.lon_deg) for corner in corners]
    if len(set(ring)) < 3:
        raise UserInputError(
            f"{place}: {len(set(ring))} corners make no area.",
            remedy="Give three or more, or a line.",
        )
    return _sound(shapely.Polygon(ring), plane, place)


def line_of(places: list[Position], plane: LocalPlane, place: str) -> "BaseGeometry":
    """Make a line of its points. Raises UserInputError."""
    points = [plane.to_plane(point.lat_deg, point.lon_deg) for point in places]
    if len(set(points)) < 2:
        raise UserInputError(
            f"{place}: {len(set(points))} places make no line.", remedy="Give two or more."
        )
    return shapely.LineString(points)


def _shape(kind: str, coordinates: Any, plane: LocalPlane, place: str) -> "BaseGeometry":
    if kind == "Point":
        position = _position(coordinates, place)
        return shapely.Point(_near(position, plane, place))
    if kind == "LineString":
        positions = _positions(coordinates, plane, place)
        return line_of(positions, plane, place)
    rings = [
        _ring(ring, plane, place if number == 0 else f"{place}, hole {number}")
        for number, ring in enumerate(_list(coordinates, place))
    ]
    if not rings:
        raise UserInputError(f"{place}: the polygon has no ring.", remedy="Give its corners.")
    return _sound(shapely.Polygon(rings[0], rings[1:]), plane, place)


def _ring(ring: Any, plane: LocalPlane, place: str) -> list[tuple[float, float]]:
    positions = _positions(ring, plane, place)
    if len(positions) < 4 or positions[0] != positions[-1]:
        raise UserInputError(
            f"{place}: a ring of {len(positions)} positions is not closed.",
            remedy="Give three corners or more, and the first of them again at the end.",
        )
    return [plane.to_plane(each.lat_deg, each.lon_deg) for each in positions]


def _sound(polygon: "BaseGeometry", plane: LocalPlane, place: str) -> "BaseGeometry":
    if polygon.is_valid:
        return polygon
    reason = str(shapely.is_valid_reason(polygon))
    where = _WHERE.search(reason)
    at = ""
    if where is not None:
        position = plane.to_position(float(where[1]), float(where[2]))
        at = (
            f" near {format_position(position)} "
            f"({position.lon_deg:.6f}, {position.lat_deg:.6f} as GeoJSON has it)"
        )
    crosses = "elf-intersection" in reason
    what = "the polygon crosses itself" if crosses else f"the polygon is wrong ({reason})"
    raise UserInputError(
        f"{place}: {what}{at}.",
        remedy="Give the corners in the order in which they follow each other along the edge."
        if crosses
        else "Holes lie within the outer ring and do not touch along an edge.",
    )


def _positions(coordinates: Any, plane: LocalPlane, place: str) -> list[Position]:
    found = []
    for number, each in enumerate(_list(coordinates, place), start=1):
        position = _position(each, f"{place}, position {number}")
        _near(position, plane, f"{place}, position {number}")
        found.append(position)
    return found


def _position(value: Any, place: str) -> Position:
    numbers = value if isinstance(value, list) else []
    if not (len(numbers) >= 2 and all(_is_number(each) for each in numbers)):
        raise UserInputError(
            f"{place}: coordinates {shown(value)} are no position.", remedy=_LON_FIRST
        )
    lon_deg, lat_deg = numbers[0], numbers[1]
    if abs(lat_deg) > 90.0 or abs(lon_deg) > 180.0:
        raise UserInputError(
            f"{place}: coordinates {shown(value)} are no place on earth.", remedy=_LON_FIRST
        )
    return Position(float(lat_deg), float(lon_deg))


def _near(position: Position, plane: LocalPlane, place: str) -> tuple[float, float]:
    east_m, north_m = plane.to_plane(position.lat_deg, position.lon_deg)
    if math.hypot(east_m, north_m) > FARTHEST_M:
        raise UserInputError(
            f"{place}: {format_position(position)} lies "
            f"{math.hypot(east_m, north_m) / 1000.0:.0f} km from our drop point.",
            remedy=f"Check the signs. {_LON_FIRST}",
        )
    return east_m, north_m


def _list(value: Any, place: str) -> list[Any]:
    if not isinstance(value, list):
        raise UserInputError(f"{place}: coordinates {shown(value)} are no list.", remedy=_LON_FIRST)
    return value


def _is_number(value: Any) -> bool:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    return abs(value) < 1e9  # not so for infinities, NaN and integers no float can hold
