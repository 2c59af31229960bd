"""The card of what to do when she drags."""

import json

import pytest
from attrs import evolve

from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerAhead, DangerKind
from driftlead.planning.response import (
    VEER_MARGIN_M,
    Situation,
    response_card,
    room_to_veer_m,
)
from driftlead.units import Printer, UnitSystem

SHORE = DangerAhead(
    name="east shore",
    kind=DangerKind.SHORE,
    distance_m=120.0,
    bearing_deg=55.0,
    minutes=24.4,
    nearest_name="Tooth",
    nearest_m=45.0,
    nearest_bearing_deg=200.0,
)
NIGHT = Situation(
    moved_m=18.4,
    bearing_deg=51.0,
    rate_mps=0.082,
    danger=SHORE,
    rode_m=38.0,
    rode_aboard_m=60.0,
    depth_m=6.2,
    rise_to_high_water_m=2.0,
    anchor=Position(46.5012, -31.2034),
)


def test_the_steps_come_in_the_order_of_seamanship() -> None:
    """Confirm, engine, veer, weigh, slip; and the skipper decides."""
    card = response_card(NIGHT)
    assert [step.name for step in card.steps] == ["confirm", "engine", "veer", "weigh", "slip"]
    said = "\n".join(card.lines())
    assert said.startswith("1. Confirm\n")
    assert "the skipper decides. Local rules" in said
    assert card.urgent is None


def test_the_figures_of_the_night_are_filled_in() -> None:
    """How far and whither, how long until what, how much to veer, where the anchor lies."""
    said = "\n".join(response_card(NIGHT).lines())
    for words in (
        "18 m towards 051° (NE), at 0.08 m/s (0.2 kn)",
        "east shore (shore) is 120 m away along the drift: 24 minutes at this rate",
        "There is room for 22 m more and no farther.",
        "There are 38 m to heave in.",
        "The anchor lies near 46°30.072'N 031°12.204'W; write it down.",
        "at least 13 m of line",  # 1.3 x (6.2 + 2.0) + 2
    ):
        assert words in said


def test_veering_keeps_clear_of_the_nearest_danger_and_the_bitter_end() -> None:
    """60 - 38 m are aboard; the nearest danger, 45 m off, leaves 30."""
    assert room_to_veer_m(NIGHT) == 22.0
    assert room_to_veer_m(evolve(NIGHT, rode_aboard_m=100.0)) == 45.0 - VEER_MARGIN_M
    assert room_to_veer_m(evolve(NIGHT, danger=None)) == 22.0
    assert room_to_veer_m(Situation(danger=evolve(SHORE, distance_m=9.0))) == 0.0
    assert room_to_veer_m(Situation()) is None


def test_without_room_veering_is_advised_against() -> None:
    """In plain words, before the next step."""
    near = evolve(NIGHT, danger=evolve(SHORE, nearest_m=18.0))
    assert "NO ROOM to veer" in response_card(near).steps[2].text


@pytest.mark.parametrize(
    ("minutes", "urgent"), [(2.9, "slip"), (9.9, "engine"), (10.1, None), (None, None)]
)
def test_the_time_left_says_where_to_begin(minutes: float | None, urgent: str | None) -> None:
    """With no time to weigh, slipping is marked at once."""
    card = response_card(evolve(NIGHT, danger=evolve(SHORE, minutes=minutes)))
    assert card.urgent == urgent
    assert ("<-- NOW" in "\n".join(card.lines())) is (urgent is not None)


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(0.4, "less than a minute"), (1.9, "1 minute at"), (59.0, "59 minutes"), (300.0, "5 hours")],
)
def test_minutes_are_told_and_never_rounded_up(minutes: float, words: str) -> None:
    """A minute too many is a minute too late."""
    card = response_card(evolve(NIGHT, danger=evolve(SHORE, minutes=minutes)))
    assert words in card.steps[1].text


def test_a_drift_that_leads_nowhere_names_what_is_nearest() -> None:
    """It may fall off towards any side."""
    card = response_card(evolve(NIGHT, danger=evolve(SHORE, minutes=None)))
    assert "nearest is Tooth, 45 m off, bearing 200° (SSW)" in card.steps[1].text


def test_with_nothing_known_the_card_is_whole_all_the_same() -> None:
    """No figure is made up."""
    card = response_card(Situation())
    said = "\n".join(card.lines())
    assert len(card.steps) == 5
    assert not any(sign in said for sign in ("None", "nan", " m ", "0.0"))


def test_feet_are_spoken_where_feet_are_wanted() -> None:
    """As the rest of the printout."""
    said = "\n".join(response_card(NIGHT, Printer(UnitSystem.FEET)).lines())
    assert "394 ft away" in said


def test_json_carries_the_figures_in_si() -> None:
    """For programs that show the card in their own way."""
    data = json.loads(json.dumps(response_card(NIGHT).to_data()))
    figures = {step["name"]: step["figures"] for step in data["steps"]}
    assert figures["confirm"]["moved_m"] == 18.4
    assert figures["engine"] == {"danger": "east shore", "distance_m": 120.0, "minutes": 24.4}
    assert figures["veer"]["room_m"] == 22.0
    assert figures["slip"]["lat_deg"] == 46.5012
    assert data["urgent"] is None
