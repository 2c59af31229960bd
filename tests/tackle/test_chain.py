"""The chain table."""

import math

import pytest

from driftlead.errors import UserInputError
from driftlead.tackle.catenary import submerged_weight_n_per_m
from driftlead.tackle.chain import CHAINS, Chain, chain_of


@pytest.mark.parametrize(
    ("wire_mm", "mass_kg_per_m", "pitch_mm"),
    [
        (6, 0.80, 18.5),
        (7, 1.15, 22),
        (8, 1.40, 24),
        (10, 2.25, 30),
        (12, 3.25, 36),
        (13, 3.90, 36),
        (14, 4.25, 41),
        (16, 5.80, 45),
    ],
)
def test_masses_and_pitches_are_those_printed(
    wire_mm: int, mass_kg_per_m: float, pitch_mm: float
) -> None:
    """A chandler's table to ISO 4565 (chains.ie)."""
    chain = chain_of(wire_mm / 1000.0)
    assert (chain.mass_kg_per_m, chain.pitch_iso_4565_mm) == (mass_kg_per_m, pitch_mm)


def test_the_standards_differ_in_the_pitch_of_10_mm_alone() -> None:
    """DIN 766 has 28 mm where ISO 4565 has 30."""
    differing = [c.wire_mm for c in CHAINS if c.pitch_iso_4565_mm != c.pitch_din_766_mm]
    assert differing == [10]
    assert chain_of(0.010).pitch_din_766_mm == 28.0


@pytest.mark.parametrize(
    ("wire_mm", "other_kg_per_m"), [(6, 0.85), (7, 1.1), (8, 1.45), (10, 2.3), (12, 3.8)]
)
def test_another_published_table_is_no_more_than_17_percent_off(
    wire_mm: int, other_kg_per_m: float
) -> None:
    """Vyv Cox's figures: the reason why the mass can be set."""
    mass = chain_of(wire_mm / 1000.0).mass_kg_per_m
    assert abs(other_kg_per_m / mass - 1.0) < 0.175
    assert other_kg_per_m != mass


@pytest.mark.parametrize("chain", CHAINS, ids=lambda chain: f"{chain.wire_mm} mm")
def test_each_mass_is_about_that_of_the_steel_in_its_links(chain: Chain) -> None:
    """By geometry: a link's wire is two straights and two half rounds about its inside width.

    The width, 1.35 wires, is from memory of the standards' drawings.
    """
    wire_m, pitch_m = chain.wire_mm / 1000.0, chain.pitch_iso_4565_mm / 1000.0
    width_m = 1.35 * wire_m
    around_m = 2.0 * (pitch_m - width_m) + math.pi * (width_m + wire_m)
    mass_kg_per_m = 7850.0 * math.pi / 4.0 * wire_m**2 * around_m / pitch_m
    assert chain.mass_kg_per_m == pytest.approx(mass_kg_per_m, rel=0.12)


@pytest.mark.parametrize(("mass", "weight"), [(0.80, 6.821), (1.40, 11.937), (2.25, 19.184)])
def test_in_water_it_weighs_an_eighth_less(mass: float, weight: float) -> None:
    """By Archimedes: m g (1 - 1025/7850)."""
    assert submerged_weight_n_per_m(mass) == pytest.approx(weight, abs=0.00051)


def test_a_size_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(UserInputError, match="9 mm is not in the table, which has 6, 7, 8, 10"):
        chain_of(0.009)
