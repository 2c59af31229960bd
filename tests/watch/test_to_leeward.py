"""What the drag alarm says about the danger she drives towards."""

import json

import pytest

from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.to_leeward import to_leeward

PLANE = LocalPlane(Position(46.5, -31.2))
HERE = TrackPoint(0.0, 0.0, 0.0, 0.0, 2.5, 0.0, 0.0, FixState.TAKEN, 0.0, 0.0)


def around(*features: tuple[str, str, list[tuple[float, float]]]) -> str:
    """Lines of rock and shore at these metres from the origin, as GeoJSON."""
    return json.dumps(
        {
            "type": "FeatureCollection",
            "features": [
                {
                    "type": "Feature",
                    "properties": {"name": name, "kind": kind},
                    "geometry": {
                        "type": "LineString",
                        "coordinates": [
                            list(reversed(PLANE.to_lat_lon(east_m, north_m)))
                            for east_m, north_m in line
                        ],
                    },
                }
                for name, kind, line in features
            ],
        }
    )


PIER = ("west pier", "pier", [(-100.0, -200.0), (-100.0, 200.0)])


def told(text: str, *, bearing_deg: float, rate_mps: float | None = 0.1) -> str:
    return to_leeward(text, PLANE, HERE, hull_m=10.0, bearing_deg=bearing_deg, rate_mps=rate_mps)


def test_it_gives_metres_and_minutes_to_what_lies_along_the_drift() -> None:
    """A wall 100 m to the west less 10 m of hull: 90 m, at 0.1 m/s a quarter of an hour."""
    said = told(around(PIER), bearing_deg=270.0)
    assert said == " west pier is 90 m ahead, 15 min at this rate."


def test_where_nothing_lies_that_way_it_names_the_nearest_thing() -> None:
    said = told(around(PIER), bearing_deg=90.0)
    assert "Nothing known lies that way" in said
    assert "west pier is 90 m off" in said


def test_without_a_neighbourhood_it_says_nothing() -> None:
    assert told("", bearing_deg=270.0) == ""


@pytest.mark.parametrize("text", ["{", '{"type": "Feature"}', "[]"])
def test_a_neighbourhood_that_cannot_be_read_never_stops_an_alarm(text: str) -> None:
    assert "cannot be read" in told(text, bearing_deg=270.0)
