"""The boat as the plan reckons with her."""

import pytest
from attrs import evolve

from driftlead.errors import UserInputError
from driftlead.planning.plan_boat import plan_boat
from driftlead.planning.plan_settings import PlanSettings
from driftlead.tackle.snubber import Snubber

KNOWN = PlanSettings(length_m=9.6, bow_height_m=1.1, chain_m=45.0, chain_size_m=0.008)


def test_everything_missing_is_told_at_once() -> None:
    with pytest.raises(UserInputError) as caught:
        plan_boat(PlanSettings())
    for word in ("her length", "the height of the bow roller", "the rode aboard"):
        assert word in caught.value.message
    assert "--bow-height 1.1m" in caught.value.remedy


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"length_m": 20.0}, "no usual drag area for a boat of more than 60 ft"),
        ({"chain_size_m": None}, "what the chain weighs"),
        ({"chain_size_m": 0.009}, "9 mm is not in the table"),
        ({"chain_m": 0.0, "rope_m": 0.0}, "no rode aboard at all"),
        ({"snubber_m": 6.0}, "how thick the snubber is"),
        ({"drag_area_m2": 0.0}, "drag area in m2 cannot be 0"),
        ({"length_m": 0.0}, "length over all in metres cannot be 0"),
        ({"chain_kg_per_m": -1.0}, "mass of a metre of chain in kg cannot be -1"),
    ],
)
def test_what_is_not_known_or_cannot_be_is_told_with_its_remedy(
    changed: dict[str, float | None], says: str
) -> None:
    with pytest.raises(UserInputError) as caught:
        plan_boat(evolve(KNOWN, **changed))  # type: ignore[arg-type]
    assert says in caught.value.message
    assert caught.value.remedy


def test_chain_comes_first_and_a_weighed_metre_counts_before_the_table() -> None:
    boat = plan_boat(evolve(KNOWN, rope_m=20.0, rope_size_m=0.014))
    assert [part.length_m for part in boat.rode] == [45.0, 20.0]
    assert boat.rode[0].weight_n_per_m == pytest.approx(11.937, abs=1e-3)
    assert boat.aboard_m == 65.0
    heavier = plan_boat(evolve(KNOWN, chain_kg_per_m=1.45))
    assert heavier.rode[0].weight_n_per_m == pytest.approx(11.937 * 1.45 / 1.40, abs=1e-3)


def test_a_weighed_metre_of_rope_counts_before_its_size() -> None:
    """By Archimedes: nylon of 1140 kg/m3 keeps 1 - 1025/1140 of its weight in sea water."""
    settings = evolve(KNOWN, rope_m=15.0, rope_size_m=0.014, rope_kg_per_m=0.2)
    weight = plan_boat(settings).rode[-1].weight_n_per_m
    assert weight == pytest.approx(0.2 * 9.80665 * (1.0 - 1025.0 / 1140.0), rel=1e-6)
    with pytest.raises(UserInputError, match="a metre of rope in kg cannot be 0"):
        plan_boat(evolve(settings, rope_kg_per_m=0.0))


def test_rope_of_unknown_size_counts_as_weightless() -> None:
    """Never too hopeful: the lighter the rode, the longer it must be."""
    boat = plan_boat(evolve(KNOWN, rope_m=20.0))
    assert boat.rode[1].weight_n_per_m == 0.0


def test_her_own_drag_area_counts_before_the_usual_one() -> None:
    assert plan_boat(evolve(KNOWN, drag_area_m2=9.0)).drag_area_m2 == 9.0
    assert 5.0 < plan_boat(KNOWN).drag_area_m2 < 6.9
    assert plan_boat(evolve(KNOWN, length_m=None, drag_area_m2=9.0)).length_m is None


def test_the_snubber_is_taken_where_it_is_known() -> None:
    boat = plan_boat(evolve(KNOWN, snubber_m=6.0, snubber_size_m=0.012))
    assert boat.snubber == Snubber(length_m=6.0, diameter_m=0.012)
    assert plan_boat(KNOWN).snubber is None
