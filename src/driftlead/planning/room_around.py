"""The neighbours and dangers of an anchorage, from GeoJSON or a hand-written TOML file, and back.

In GeoJSON each feature has ``kind`` among its properties: ``chain``, ``rope``, ``mooring`` or
``circle`` for a boat (a point, her anchor's), or a kind of danger (any shape). In TOML
``[[boat]]`` and ``[[danger]]`` say the same with units (docs/swinging-room.md).
"""

import enum
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any, Final

import shapely
from attrs import evolve

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane, offset
from driftlead.geodesy.position import Position
from driftlead.geodesy.regions import (
    JsonObject,
    feature,
    feature_collection,
    point_to_geojson,
    region_to_geojson,
)
from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.dangers import Danger
from driftlead.planning.neighbours import (
    BEAM_OF_LENGTH,
    MAX_SPREAD_DEG,
    SPREAD_DEG,
    Boat,
    Gear,
    GivenCircle,
    Neighbour,
)
from driftlead.planning.room import Around
from driftlead.planning.room_fields import Fields, shown
from driftlead.planning.room_shapes import FARTHEST_M, area_of, line_of, shapes_of
from driftlead.units import parse_position

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


class _Kind(enum.StrEnum):
    """Every kind a feature may be of."""

    CHAIN = "chain"
    ROPE = "rope"
    MOORING = "mooring"
    CIRCLE = "circle"
    SHORE = "shore"
    SHOAL = "shoal"
    ROCK = "rock"
    PIER = "pier"
    WRECK = "wreck"
    VESSEL = "vessel"
    OTHER = "other"


_DANGERS: Final = frozenset(kind.value for kind in DangerKind)
_USUAL_LENGTH_M: Final = 10.0


def around_from_geojson(
    document: Any, *, file: str, plane: LocalPlane, depth_m: float | None = None
) -> Around:
    """Read a decoded GeoJSON document; ``file`` is its name in messages.

    A boat without a depth lies in ``depth_m``, if that is known. Raises UserInputError naming
    file, feature and key.
    """
    if not isinstance(document, dict) or document.get("type") != "FeatureCollection":
        raise UserInputError(
            f"{file}: this is no FeatureCollection.",
            remedy='GeoJSON of several things has "type": "FeatureCollection" and "features".',
        )
    features = document.get("features")
    if not isinstance(features, list):
        raise UserInputError(
            f"{file}: features = {shown(features)} is no list.", remedy='Write "features": [...].'
        )
    boats: list[Neighbour] = []
    dangers: list[Danger] = []
    for number, each in enumerate(features, start=1):
        place = f"{file}, feature {number}"
        if not isinstance(each, dict) or each.get("type") != "Feature":
            raise UserInputError(
                f"{place}: {shown(each)} is no feature.", remedy='Each has "type": "Feature".'
            )
        properties = each.get("properties")
        if not isinstance(properties, dict):
            raise UserInputError(
                f"{place}: properties = {shown(properties)} says nothing about it.",
                remedy='Write "properties": {"kind": "shoal"}, or chain, pier...',
            )
        fields, kind, name = _begin(properties, place, number, with_units=False)
        shapes = shapes_of(each.get("geometry"), plane, fields.place)
        if kind.value not in _DANGERS:
            if len(shapes) != 1 or shapes[0].geom_type != "Point":
                raise UserInputError(
                    f"{fields.place}: a boat is a point, not a {shapes[0].geom_type}.",
                    remedy="Give the place of her anchor, or mark a danger with a danger's kind.",
                )
            at = (float(shapes[0].x), float(shapes[0].y))
            boats.append(_boat(fields, kind, name, at, depth_m))
        else:
            dangers += _dangers(fields, kind, name, shapes)
        fields.finish()
    return _told_apart(Around(boats=tuple(boats), dangers=tuple(dangers)), file)


def around_from_toml(
    document: Mapping[str, Any],
    *,
    file: str,
    plane: LocalPlane,
    own_drop: tuple[float, float] = (0.0, 0.0),
    depth_m: float | None = None,
) -> Around:
    """Read a decoded TOML document with ``[[boat]]`` and ``[[danger]]``.

    Places may be given by bearing and distance from ``own_drop`` (a point of the plane).
    Raises UserInputError naming file, table and key.
    """
    for key in document:
        if key not in ("boat", "danger"):
            raise UserInputError(
                f"{file}: {shown(key)}: there is no such table here.",
                remedy="Write [[boat]] and [[danger]].",
            )
    boats: list[Neighbour] = []
    dangers: list[Danger] = []
    for number, place, values in _entries(document, "boat", file):
        fields, kind, name = _begin(values, place, number, with_units=True)
        if kind.value in _DANGERS:
            fields.refuse("kind", "is a danger's.", "Write it under [[danger]].")
        boats.append(_boat(fields, kind, name, _at(fields, plane, own_drop), depth_m))
        fields.finish()
    for number, place, values in _entries(document, "danger", file):
        fields, kind, name = _begin(values, place, number, with_units=True)
        if kind.value not in _DANGERS:
            fields.refuse("kind", "is a boat's.", "Write it under [[boat]].")
        dangers += _dangers(fields, kind, name, [_drawn(fields, plane, own_drop)])
        fields.finish()
    return _told_apart(Around(boats=tuple(boats), dangers=tuple(dangers)), file)


def around_to_geojson(around: Around, plane: LocalPlane) -> list[JsonObject]:
    """Write what ``around_from_geojson`` reads, as a list of features."""
    features = []
    for boat in around.boats:
        properties: dict[str, Any] = {"name": boat.name}
        if isinstance(boat, GivenCircle):
            properties |= {"kind": "circle", "circle_m": boat.radius_m}
        else:
            properties |= {
                "kind": boat.gear.value,
                "rode_m": boat.rode_m,
                "depth_m": boat.depth_m if boat.depth_known else None,
                "length_m": boat.length_m,
                "beam_m": boat.beam_m,
                "bow_height_m": boat.bow_height_m,
                "spread_deg": boat.spread_deg,
            }
        at = plane.to_position(boat.east_m, boat.north_m)
        features.append(feature(point_to_geojson(at), properties))
    for danger in around.dangers:
        said = {"name": danger.name, "kind": danger.kind.value}
        features.append(feature(region_to_geojson(danger.shape, plane), said))
    return features


def around_document(around: Around, plane: LocalPlane) -> JsonObject:
    """Write a whole document of what there is round an anchorage."""
    return feature_collection(around_to_geojson(around, plane))


def _begin(
    values: Mapping[str, Any], place: str, number: int, *, with_units: bool
) -> tuple[Fields, _Kind, str]:
    fields = Fields(values, place, with_units=with_units)
    if not fields.has("kind"):
        fields.missing("kind", f"one of {', '.join(kind.value for kind in _Kind)}")
    kind = fields.choice("kind", _Kind, _Kind.OTHER)
    name = fields.text("name", f"{kind.value} {number}")
    fields.place = f"{place} ({name})"
    return fields, kind, name


def _boat(
    fields: Fields, kind: _Kind, name: str, at: tuple[float, float], ours_m: float | None
) -> Neighbour:
    if kind is _Kind.CIRCLE:
        radius_m = fields.length_m("circle", 0.1, 2000.0)
        return GivenCircle(name=name, east_m=at[0], north_m=at[1], radius_m=radius_m)
    gear = Gear(kind.value)
    rode_m = fields.length_m("rode", 0.5, 1000.0)
    depth_known = fields.has_length("depth") or ours_m is not None
    # Where nobody knows the depth, none makes her circle the widest there can be.
    depth_m = fields.length_m("depth", 0.0, 500.0, ours_m or 0.0)
    length_m = fields.length_m("length", 1.0, 400.0, _USUAL_LENGTH_M)
    beam_m = fields.length_m("beam", 0.3, 80.0, length_m * BEAM_OF_LENGTH)
    bow_height_m = fields.length_m("bow_height", 0.0, 30.0, 1.0)
    spread_deg = fields.degrees("spread_deg", 0.0, MAX_SPREAD_DEG, SPREAD_DEG[gear])
    boat = Boat(
        name=name,
        gear=gear,
        rode_m=rode_m,
        depth_m=depth_m,
        depth_known=depth_known,
        length_m=length_m,
        beam_m=beam_m,
        bow_height_m=bow_height_m,
        spread_deg=spread_deg,
        east_m=at[0],
        north_m=at[1],
    )
    if rode_m <= boat.drop_m():
        spelt = fields.length_key("rode")
        fields.refuse(
            spelt,
            f"does not reach the bottom, {boat.drop_m():.1f} m below her bow.",
            "Correct rode, depth or bow height.",
        )
    if fields.has("heading_deg"):
        # Seen lying to her anchor: it lies ahead of her, at the end of her rode.
        heading_deg = fields.degrees("heading_deg", 0.0, 360.0)
        east_m, north_m = offset(heading_deg, boat.reach_m() + length_m / 2.0)
        return evolve(boat, east_m=at[0] + east_m, north_m=at[1] + north_m)
    fields.raw("heading_deg")
    return boat


def _dangers(fields: Fields, kind: _Kind, name: str, shapes: "list[BaseGeometry]") -> list[Danger]:
    radius_m = fields.length_m("radius", 0.0, 2000.0, 0.0)
    return [
        Danger(
            name=name,
            kind=DangerKind(kind.value),
            shape=shape.buffer(radius_m) if radius_m > 0.0 else shape,
        )
        for shape in shapes
    ]


def _entries(
    document: Mapping[str, Any], table: str, file: str
) -> Iterator[tuple[int, str, Mapping[str, Any]]]:
    entries = document.get(table, [])
    if not isinstance(entries, list) or not all(isinstance(each, dict) for each in entries):
        raise UserInputError(
            f"{file}: {table} = {shown(entries)} is no list of tables.",
            remedy=f"Write [[{table}]] in double brackets, on a line of its own, before each.",
        )
    for number, each in enumerate(entries, start=1):
        yield number, f"{file}, [[{table}]] {number}", each


def _at(fields: Fields, plane: LocalPlane, own_drop: tuple[float, float]) -> tuple[float, float]:
    """Where something is: ``at``, or ``bearing_deg`` and ``distance`` from our drop point."""
    if fields.has("at"):
        position = _position(fields, "at", fields.raw("at"))
        return plane.to_plane(position.lat_deg, position.lon_deg)
    fields.raw("at")
    if not fields.has("bearing_deg"):
        fields.missing("at", 'at = "46.5012,-31.2034", or bearing_deg and distance')
    bearing_deg = fields.degrees("bearing_deg", 0.0, 360.0)
    east_m, north_m = offset(bearing_deg, fields.length_m("distance", 0.0, FARTHEST_M))
    return own_drop[0] + east_m, own_drop[1] + north_m


def _drawn(fields: Fields, plane: LocalPlane, own_drop: tuple[float, float]) -> "BaseGeometry":
    line, area = fields.raw("line"), fields.raw("area")
    if line is not None and area is not None:
        fields.refuse("line", "stands beside an area.", "Give one of the two.")
    if line is None and area is None:
        return shapely.Point(_at(fields, plane, own_drop))
    key, corners = ("line", line) if line is not None else ("area", area)
    if not isinstance(corners, list):
        fields.refuse(key, "is no list.", f'Write {key} = ["46.5012,-31.2034", ...].')
    places = [_position(fields, key, corner) for corner in corners]
    draw = line_of if key == "line" else area_of
    return draw(places, plane, fields.place)


def _position(fields: Fields, key: str, value: Any) -> Position:
    if not isinstance(value, str):
        fields.refuse(key, "is no place.", 'Write it in double quotes: "46.5012,-31.2034".')
    try:
        return parse_position(value)
    except UserInputError as error:
        raise UserInputError(
            f"{fields.place}: {key}: {error.message}", remedy=error.remedy
        ) from error


def _told_apart(around: Around, file: str) -> Around:
    """Refuse two boats of one name: an answer that names one would mean either."""
    seen: set[str] = set()
    dangers = {danger.name for danger in around.dangers}
    for boat in around.boats:
        if boat.name in seen or boat.name in dangers:
            raise UserInputError(
                f"{file}: {shown(boat.name)} is the name of two things.",
                remedy="Give each a name of its own.",
            )
        seen.add(boat.name)
    return around
