"""The answer to "will we fit?" as GeoJSON: circles, dangers, the worst lie and the advice."""

import shapely

from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.regions import (
    JsonObject,
    circle_region,
    feature,
    feature_collection,
    point_to_geojson,
    region_to_geojson,
)
from driftlead.planning.room import Room
from driftlead.planning.room_around import around_to_geojson
from driftlead.planning.room_lie import lying_areas


def room_to_geojson(room: Room, plane: LocalPlane) -> JsonObject:
    """A FeatureCollection; ``layer`` says what each is: own, circle, around, worst or advice.

    Features of layer ``around`` can be read again as what there is round the anchorage.
    """
    own = room.own
    features = [
        feature(
            point_to_geojson(plane.to_position(own.east_m, own.north_m)),
            {"layer": "own", "name": own.name, "rode_m": own.rode_m, "depth_m": own.depth_m},
        ),
        _circle(own.name, room.circle.radius_m, (own.east_m, own.north_m), plane),
    ]
    for boat in room.around.boats:
        radius_m = boat.circle_m(room.circle.hour.rise_m)
        features.append(_circle(boat.name, radius_m, (boat.east_m, boat.north_m), plane))
    for each in around_to_geojson(room.around, plane):
        each["properties"]["layer"] = "around"
        features.append(each)
    for name, area in worst_lie(room):
        features.append(feature(region_to_geojson(area, plane), {"layer": "worst", "name": name}))
    if room.move is not None and room.move.distance_m > 0.0:
        at = (own.east_m + room.move.east_m, own.north_m + room.move.north_m)
        features.append(
            feature(
                point_to_geojson(plane.to_position(*at)),
                {
                    "layer": "advice",
                    "name": "let go here",
                    "distance_m": round(room.move.distance_m, 1),
                    "bearing_deg": round(room.move.bearing_deg, 1) % 360.0,
                },
            )
        )
    return feature_collection(features)


def worst_lie(room: Room) -> "list[tuple[str, shapely.Polygon]]":
    """Where we, and the boat we come nearest to, may lie in the worst wind at the worst hour."""
    worst = room.worst
    if worst is None:
        return []
    boats = [room.own, *(boat for boat in room.around.boats if boat.name == worst.other)]
    return [
        (boat.name, lying_areas(boat, [worst.hour], [worst.wind_from_deg])[0][0]) for boat in boats
    ]


def _circle(name: str, radius_m: float, at: tuple[float, float], plane: LocalPlane) -> JsonObject:
    return feature(
        region_to_geojson(circle_region(radius_m, centre=at), plane),
        {"layer": "circle", "name": name, "radius_m": round(radius_m, 1)},
    )
