"""What rope weighs and bears."""

import math

import pytest

from driftlead.errors import UserInputError
from driftlead.tackle.rope import (
    RopeKind,
    rope_mass_kg_per_m,
    rope_strength_n,
    rope_weight_n_per_m,
)


@pytest.mark.parametrize(
    ("kind", "diameter_mm", "kg_per_100_m"),
    [
        (RopeKind.NYLON, 8, 4.2),
        (RopeKind.NYLON, 16, 16.9),
        (RopeKind.NYLON, 20, 26.3),
        (RopeKind.POLYESTER, 8, 5.1),
        (RopeKind.POLYESTER, 16, 20.5),
        (RopeKind.POLYESTER, 20, 32.0),
    ],
)
def test_masses_are_near_the_standards_for_three_strand_rope(
    kind: RopeKind, diameter_mm: float, kg_per_100_m: float
) -> None:
    """ISO 1140 and ISO 1141, from memory."""
    mass = rope_mass_kg_per_m(kind, diameter_mm / 1000.0)
    assert 100.0 * mass == pytest.approx(kg_per_100_m, rel=0.03)


@pytest.mark.parametrize(("kind", "density"), [("nylon", 1140.0), ("polyester", 1380.0)])
def test_about_three_quarters_of_the_round_is_fibre(kind: str, density: float) -> None:
    """Three-strand rope is filled to some 0.7 to 0.8 (common figure, from memory)."""
    mass = rope_mass_kg_per_m(RopeKind(kind), 0.012)
    assert 0.70 < mass / (density * math.pi / 4.0 * 0.012**2) < 0.80


def test_in_water_nylon_keeps_a_tenth_of_its_weight_and_polyester_a_quarter() -> None:
    """1 - 1025/1140 = 0.101, 1 - 1025/1380 = 0.257."""
    for kind, share in ((RopeKind.NYLON, 0.1009), (RopeKind.POLYESTER, 0.2572)):
        in_air_n = rope_mass_kg_per_m(kind, 0.014) * 9.80665
        assert rope_weight_n_per_m(kind, 0.014) / in_air_n == pytest.approx(share, abs=5e-4)


@pytest.mark.parametrize(("diameter_mm", "strength_kn"), [(10, 20.4), (12, 29.4), (16, 52.0)])
def test_nylon_breaks_at_about_what_makers_print(diameter_mm: float, strength_kn: float) -> None:
    """Three-strand polyamide, from memory of makers' tables."""
    strength_n = rope_strength_n(RopeKind.NYLON, diameter_mm / 1000.0)
    assert strength_n / 1000.0 == pytest.approx(strength_kn, rel=0.05)


def test_a_rope_without_thickness_is_refused() -> None:
    with pytest.raises(UserInputError, match="diameter in metres cannot be 0"):
        rope_weight_n_per_m(RopeKind.NYLON, 0.0)
