"""Anchorings as GeoJSON."""

import json

from shapely.geometry import shape

from driftlead.records.anchoring import Anchoring
from driftlead.records.geojson import records_to_geojson
from driftlead.records.store import Stored


def test_drop_points_and_tracks_are_tied_by_their_number(anchoring: Anchoring) -> None:
    """An independent reader sees a point and a line that begins at it."""
    document = json.loads(json.dumps(records_to_geojson([Stored(4, anchoring)])))
    drop, track = document["features"]
    assert document["type"] == "FeatureCollection"
    assert (shape(drop["geometry"]).geom_type, shape(track["geometry"]).geom_type) == (
        "Point",
        "LineString",
    )
    assert shape(drop["geometry"]).distance(shape(track["geometry"])) < 1e-9
    assert drop["properties"]["number"] == track["properties"]["number"] == 4
    assert drop["properties"]["drags"][0]["found"] == "2026-06-15T03:20:40.000Z"
    assert drop["properties"]["place"] == anchoring.place
