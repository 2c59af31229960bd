"""The answer in words, JSON, GeoJSON and SVG."""

import json
import xml.etree.ElementTree as ET

import pytest
import shapely

from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.dangers import Danger
from driftlead.planning.neighbours import Boat, Gear, GivenCircle
from driftlead.planning.room import Around, Room, look_round
from driftlead.planning.room_around import around_from_geojson
from driftlead.planning.room_geojson import room_to_geojson
from driftlead.planning.room_move import Move
from driftlead.planning.room_picture import draw_room
from driftlead.planning.room_words import move_text, room_lines, room_to_data
from driftlead.units import Printer, UnitSystem

METRIC = Printer()
FEET = Printer(UnitSystem.FEET)
PLANE = LocalPlane(Position(46.5012, -31.2034))
SHORE = Danger(name="east <shore>", kind=DangerKind.SHORE, shape=shapely.box(30, -400, 90, 400))
PETREL = Boat(name='"Petrel" & Co', gear=Gear.ROPE, rode_m=30, depth_m=6, length_m=9, east_m=-70)


def room_of(*boats: Boat | GivenCircle, dangers: tuple[Danger, ...] = ()) -> Room:
    """The room of Corvid among others: 34 m of circle."""
    own = Boat(name="Corvid", rode_m=25, depth_m=6, length_m=10)
    return look_round(own, Around(boats=boats, dangers=dangers))


def text(room: Room, units: Printer = METRIC) -> str:
    """All lines."""
    return "\n".join(room_lines(room, units))


def test_a_berth_that_is_too_near_says_what_to_do() -> None:
    """What is touched, in which winds, and the least move: 14.06 m, never rounded down."""
    said = text(room_of(dangers=(SHORE,)))
    assert "Corvid swings 34 m about her anchor: 24 m of reach over 6.0 m of water" in said
    assert "SHE DOES NOT FIT: she can touch east <shore>." in said
    assert "Let go 15 m towards 270° (W) from there and all clears by 10 m." in said
    assert "  W   east <shore>: TOUCHES" in said
    assert "east <shore> (shore): overlap by 4.0 m" in said
    assert "never replaces a look-out" in said


def test_a_berth_with_room_says_so() -> None:
    """And how near the nearest comes, rounded down."""
    said = text(room_of(GivenCircle(name="barge", east_m=0, north_m=150.0, radius_m=49.1)))
    assert "She fits: everything stays clear by 10 m or more." in said
    assert "barge (circle): 66 m, wind S" in said
    assert "barge (circle): 66 m between" in said
    assert "Let go" not in said


def test_too_near_without_touching_is_told_as_such() -> None:
    """A rock 40 m off leaves 5.9 m."""
    rock = Danger(name="Tooth", kind=DangerKind.ROCK, shape=shapely.Point(0, 40))
    assert "TOO NEAR: Tooth comes within 5.9 m; 10 m is wanted." in text(room_of(dangers=(rock,)))


def test_with_nothing_marked_nothing_is_claimed() -> None:
    """It does not say that she fits."""
    said = text(room_of())
    assert "Nothing is marked round her" in said
    assert "fits" not in said


def test_where_no_move_helps_another_berth_is_advised() -> None:
    """In a gut too narrow for her."""
    gut = (
        Danger(name="north shore", shape=shapely.box(-2000, 40, 2000, 900)),
        Danger(name="south shore", shape=shapely.box(-2000, -900, 2000, -40)),
    )
    said = text(room_of(dangers=gut))
    assert "No move of up to 300 m clears everything: another berth, or less rode." in said
    assert "No move of up to 300 m clears the whole circles." in said


def test_feet_are_spoken_throughout() -> None:
    """Who has asked for feet sees no metres."""
    said = text(room_of(PETREL, dangers=(SHORE,)), FEET)
    assert "Corvid swings 112 ft" in said
    assert " m " not in said.replace("'", "")
    assert " m," not in said


@pytest.mark.parametrize(
    ("move", "units", "words"),
    [
        (Move(east_m=-22.1, north_m=0.0), METRIC, "23 m towards 270° (W)"),
        (Move(east_m=0.0, north_m=22.0), METRIC, "22 m towards 000° (N)"),
        (Move(east_m=0.0, north_m=22.0), FEET, "73 ft towards 000° (N)"),
    ],
)
def test_a_move_is_rounded_up(move: Move, units: Printer, words: str) -> None:
    """A move too short would not clear."""
    assert move_text(move, units) == words


def test_json_has_the_worst_of_each_of_each_sector_and_of_each_hour() -> None:
    """In SI, and it can be written as JSON."""
    data = json.loads(json.dumps(room_to_data(room_of(PETREL, dangers=(SHORE,)))))
    assert data["v"] == 1
    assert data["fits"] is False
    assert data["circle"]["radius_m"] == 34.0
    assert {each["other"] for each in data["nearest"]} == {PETREL.name, SHORE.name}
    assert len(data["sectors"]) == 16
    assert len(data["hours"]) == 1
    assert data["move"]["bearing_deg"] == pytest.approx(270.0, abs=20.0)
    assert room_to_data(room_of(dangers=(SHORE,)))["calm_move"]["distance_m"] > 14.0


def test_geojson_can_be_read_again_as_what_lies_round() -> None:
    """Features of the layer around; the others show circles, the worst lie and the advice."""
    room = room_of(PETREL, dangers=(SHORE,))
    document = json.loads(json.dumps(room_to_geojson(room, PLANE)))
    layers = [each["properties"]["layer"] for each in document["features"]]
    assert layers.count("circle") == 2
    assert {"own", "around", "worst", "advice"} <= set(layers)
    again = [each for each in document["features"] if each["properties"].pop("layer") == "around"]
    read = around_from_geojson(
        {"type": "FeatureCollection", "features": again}, file="x", plane=PLANE
    )
    assert [boat.name for boat in read.boats] == [PETREL.name]
    assert [danger.name for danger in read.dangers] == [SHORE.name]


def test_the_picture_is_sound_xml_with_every_name_in_it() -> None:
    """Names with marks of XML in them too; nothing is fetched from anywhere."""
    rock = Danger(name="Tooth", kind=DangerKind.ROCK, shape=shapely.Point(0, 60))
    pier = Danger(name="pier", kind=DangerKind.PIER, shape=shapely.LineString([(20, 9), (30, 9)]))
    drawn = draw_room(room_of(PETREL, dangers=(SHORE, rock, pier)), METRIC)
    root = ET.fromstring(drawn)  # noqa: S314 - our own
    said = " ".join(root.itertext())
    for name in ("Corvid, 34 m", PETREL.name, SHORE.name, "Tooth", "pier", "nearest: "):
        assert name in said
    assert "href" not in drawn
    assert drawn.count("http") == 1  # the namespace


def test_a_coast_that_runs_on_for_miles_does_not_shrink_the_picture() -> None:
    """Our circle stays large enough to be seen."""
    coast = Danger(name="coast", shape=shapely.box(-40000, 100, 40000, 20000))
    drawn = draw_room(room_of(dangers=(coast,)), METRIC)
    root = ET.fromstring(drawn)  # noqa: S314 - our own
    circle = root.find(".//{http://www.w3.org/2000/svg}circle")
    assert circle is not None
    assert float(circle.attrib["r"]) > 50.0


def test_an_empty_anchorage_has_a_picture_too() -> None:
    """It says that nothing is marked."""
    assert "nothing marked round her" in draw_room(room_of(), METRIC)
