"""Anchorings as GeoJSON (RFC 7946): drop points, slipped anchors and tracks."""

from collections.abc import Iterable
from typing import Any

from driftlead.core.events_json import utc_text
from driftlead.geodesy.position import Position
from driftlead.geodesy.regions import (
    JsonObject,
    feature,
    feature_collection,
    point_to_geojson,
    track_to_geojson,
)
from driftlead.records.anchoring import Slip
from driftlead.records.store import Stored


def records_to_geojson(all_stored: Iterable[Stored]) -> JsonObject:
    """A FeatureCollection; ``number`` ties a track to its drop point."""
    features = []
    for stored in all_stored:
        anchoring = stored.anchoring
        features.append(feature(point_to_geojson(anchoring.drop), anchoring_to_data(stored)))
        if anchoring.slip is not None:
            features += _slip_features(stored.number, anchoring.slip)
        if anchoring.track:
            track = (Position(each.lat_deg, each.lon_deg) for each in anchoring.track)
            features.append(
                feature(track_to_geojson(track), {"layer": "track", "number": stored.number})
            )
    return feature_collection(features)


def _slip_features(number: int, slip: Slip) -> list[JsonObject]:
    known = {"number": number, "slipped": utc_text(slip.utc_s)}
    left = {"rode_m": slip.rode_m, "depth_m": slip.depth_m}
    anchor = {"layer": "slipped anchor", **known, "sigma_m": slip.sigma_m, **left}
    found = [feature(point_to_geojson(slip.anchor), anchor)]
    if slip.bow is not None:
        buoy = {"layer": "buoy of slipped cable", **known, "sigma_m": slip.bow_sigma_m}
        found.append(feature(point_to_geojson(slip.bow), buoy))
    return found


def _slip_to_data(slip: Slip) -> dict[str, Any]:
    bow = slip.bow
    return {
        "slipped": utc_text(slip.utc_s),
        "lat": round(slip.anchor.lat_deg, 7),
        "lon": round(slip.anchor.lon_deg, 7),
        "sigma_m": slip.sigma_m,
        "bow_lat": None if bow is None else round(bow.lat_deg, 7),
        "bow_lon": None if bow is None else round(bow.lon_deg, 7),
        "bow_sigma_m": slip.bow_sigma_m,
        "rode_m": slip.rode_m,
        "depth_m": slip.depth_m,
    }


def anchoring_to_data(stored: Stored) -> dict[str, Any]:
    """Everything but the track as plain dicts and lists, in SI."""
    anchoring = stored.anchoring
    return {
        "layer": "drop point",
        "number": stored.number,
        "place": anchoring.place,
        "lat": round(anchoring.drop.lat_deg, 7),
        "lon": round(anchoring.drop.lon_deg, 7),
        "method": anchoring.method,
        "began": utc_text(anchoring.began_utc_s),
        "ended": utc_text(anchoring.ended_utc_s),
        "rode_m": anchoring.rode_m,
        "depth_m": anchoring.depth_m,
        "least_depth_m": anchoring.least_depth_m,
        "greatest_depth_m": anchoring.greatest_depth_m,
        "least_wind_mps": anchoring.least_wind_mps,
        "greatest_wind_mps": anchoring.greatest_wind_mps,
        "drags": [
            {
                "found": utc_text(drag.found_utc_s),
                "held": utc_text(drag.held_utc_s),
                "moved_m": drag.moved_m,
                "bearing_deg": drag.bearing_deg,
            }
            for drag in anchoring.drags
        ],
        "slip": None if anchoring.slip is None else _slip_to_data(anchoring.slip),
        "alerts": [
            {
                "name": alert.name,
                "instance": alert.instance,
                "priority": alert.priority,
                "raised": utc_text(alert.raised_utc_s),
                "text": alert.text,
            }
            for alert in anchoring.alerts
        ],
    }
