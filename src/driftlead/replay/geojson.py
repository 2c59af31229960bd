"""A replayed night as GeoJSON (RFC 7946): track, drop point, anchor and drag circle."""

from typing import Any

from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.geodesy.regions import (
    circle_region,
    feature,
    feature_collection,
    point_to_geojson,
    region_to_geojson,
    track_to_geojson,
)
from driftlead.replay.trace import Trace


def trace_to_geojson(trace: Trace) -> dict[str, Any]:
    """A FeatureCollection; what the night did not have is left out."""
    features = []
    if trace.points:
        features.append(
            feature(track_to_geojson(point.position for point in trace.points), {"name": "track"})
        )
    if trace.drop is not None:
        features.append(feature(point_to_geojson(trace.drop), {"name": "drop point"}))
    if trace.anchor is not None:
        anchor = trace.anchor
        place = Position(anchor.lat_deg, anchor.lon_deg)
        features.append(
            feature(
                point_to_geojson(place),
                {"name": "anchor", "sigma_m": anchor.sigma_m, "method": anchor.method.value},
            )
        )
        if trace.radius_m is not None:
            features.append(
                feature(
                    region_to_geojson(circle_region(trace.radius_m), LocalPlane(place)),
                    {"name": "drag circle", "radius_m": round(trace.radius_m, 1)},
                )
            )
    return feature_collection(features)
