"""What the drag alarm says about the danger she drives towards, and when it says it anew."""

import json
from itertools import pairwise
from typing import Any

import pytest

from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.planning import room_around
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.to_leeward import ToLeeward

DROP = Position(46.5, -31.2)
PLANE = LocalPlane(DROP)


def at(east_m: float, north_m: float = 0.0) -> TrackPoint:
    """The boat so far from where the anchor was let go."""
    return TrackPoint(0.0, 0.0, east_m, north_m, 2.5, 0.0, 0.0, FixState.TAKEN, 0.0, 0.0)


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
SHORE = ("south shore", "shore", [(-400.0, -110.0), (400.0, -110.0)])


def looking(text: str) -> ToLeeward:
    """A boat whose hull may reach 10 m from the antenna."""
    return ToLeeward(text, hull_m=10.0)


def told(text: str, *, bearing_deg: float, rate_mps: float | None = 0.1) -> str:
    leeward = looking(text)
    leeward.look(PLANE, DROP, at(0.0), bearing_deg=bearing_deg, rate_mps=rate_mps)
    return leeward.tell(0.0)


class Drift:
    """A boat that drifts about; ``news`` is the time and the text of all that was worth telling."""

    def __init__(self, text: str) -> None:
        self.leeward = looking(text)
        self.now_s = 0.0
        self.news: list[tuple[float, str]] = []

    def go(self, east_m: float, *, bearing_deg: float = 270.0, rate_mps: float = 0.1) -> None:
        """Ten seconds on, she is there."""
        first = not self.news
        self.now_s += 10.0
        self.leeward.look(PLANE, DROP, at(east_m), bearing_deg=bearing_deg, rate_mps=rate_mps)
        if first or self.leeward.is_news(self.now_s):
            self.news.append((self.now_s, self.leeward.tell(self.now_s)))


def test_it_gives_metres_and_minutes_to_what_lies_along_the_drift() -> None:
    """A wall 100 m to the west less 10 m of hull: 90 m, at 0.1 m/s a quarter of an hour."""
    said = told(around(PIER), bearing_deg=270.0)
    assert said == " west pier is 90 m ahead, 15 min at this rate."


def test_the_last_minute_is_not_rounded_to_none() -> None:
    said = told(around(PIER), bearing_deg=270.0, rate_mps=3.0)
    assert said == " west pier is 90 m ahead, under a minute at this rate."


def test_where_nothing_lies_that_way_it_names_the_nearest_thing() -> None:
    said = told(around(PIER), bearing_deg=90.0)
    assert "Nothing known lies that way" in said
    assert "west pier is 90 m off" in said


def test_without_a_neighbourhood_it_says_nothing() -> None:
    assert told("", bearing_deg=270.0) == ""


@pytest.mark.parametrize("text", ["{", '{"type": "Feature"}', "[]", '{"boats": []}'])
def test_a_neighbourhood_that_cannot_be_read_never_stops_an_alarm(text: str) -> None:
    assert "cannot be read" in told(text, bearing_deg=270.0)


def test_bearings_and_distances_are_from_where_the_anchor_was_let_go() -> None:
    """A rock 100 m west of the anchor, seen from 30 m west of it: 70 m less 10 m of hull."""
    rock = {"kind": "rock", "name": "Tooth", "bearing_deg": 270.0, "distance": "100m"}
    leeward = looking(json.dumps({"danger": [rock]}))
    leeward.look(PLANE, DROP, at(-30.0), bearing_deg=270.0, rate_mps=0.1)
    assert leeward.tell(0.0) == " Tooth is 60 m ahead, 10 min at this rate."
    danger = leeward.danger
    assert danger is not None
    assert danger.bearing_deg == pytest.approx(270.0, abs=0.1)
    # The mark is corrected by 20 m to the west, and the rock with it.
    moved = PLANE.to_position(-20.0, 0.0)
    leeward.look(PLANE, moved, at(-30.0), bearing_deg=270.0, rate_mps=0.1)
    assert leeward.tell(0.0).startswith(" Tooth is 80 m ahead")


def test_it_is_read_once_and_not_at_each_look(monkeypatch: pytest.MonkeyPatch) -> None:
    reads: list[Any] = []
    read = room_around.around_from_geojson

    def counted(*arguments: Any, **named: Any) -> Any:
        reads.append(1)
        return read(*arguments, **named)

    monkeypatch.setattr(room_around, "around_from_geojson", counted)
    drift = Drift(around(PIER))
    for step in range(20):
        drift.go(-step, bearing_deg=250.0 + step)
    assert len(reads) == 1


def test_it_is_told_anew_as_the_time_left_falls_through_twenty_ten_five_and_three_minutes() -> None:
    """At 0.05 m/s from 90 m: half an hour at first."""
    drift = Drift(around(PIER))
    for step in range(175):
        drift.go(-0.5 * step, rate_mps=0.05)
    minutes = [text.split(", ")[1].split(" ")[0] for _, text in drift.news]
    assert minutes == ["30", "19", "9", "4", "2"]


def test_a_rate_that_jitters_about_a_limit_tells_it_once() -> None:
    """10 minutes at 0.15 m/s from 90 m; up and down by a fifth."""
    drift = Drift(around(PIER))
    for step in range(60):
        drift.go(0.0, rate_mps=0.18 if step % 2 else 0.12)
    assert len(drift.news) == 2


def test_another_danger_is_told_but_not_at_every_yaw() -> None:
    """The drift yaws between the pier and the shore each ten seconds: once a minute, no oftener."""
    drift = Drift(around(PIER, SHORE))
    for step in range(60):
        drift.go(0.0, bearing_deg=180.0 if step % 2 else 270.0, rate_mps=0.05)
    times_s = [when_s for when_s, _ in drift.news]
    assert all(later - earlier >= 60.0 for earlier, later in pairwise(times_s))
    assert {text.split(" is ")[0] for _, text in drift.news} == {" west pier", " south shore"}


def test_a_drift_that_eases_to_twice_the_time_is_told_calmly() -> None:
    drift = Drift(around(PIER))
    for _ in range(3):
        drift.go(0.0, rate_mps=0.2)
    for _ in range(12):
        drift.go(0.0, rate_mps=0.05)
    assert [text.split(", ")[1][:3] for _, text in drift.news] == ["7 m", "30 "]
    assert drift.news[1][0] >= 60.0
