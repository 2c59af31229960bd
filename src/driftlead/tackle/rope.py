"""What rope weighs and bears, by kind and diameter.

From memory of makers' tables of three-strand rope (after ISO 1140 for polyamide, ISO 1141 for
polyester): 12 mm polyamide 9.5 kg per 100 m and some 29 kN, 12 mm polyester 11.6 kg per 100 m and
some 27 kN, both growing with the square of the diameter. Other lays differ by a fifth, and old or
wet rope bears less. Rope weighs so little in water that none of this moves a catenary much.
"""

from enum import StrEnum
from typing import Final

from attrs import frozen

from driftlead.tackle.catenary import submerged_weight_n_per_m
from driftlead.tackle.checked import positive


class RopeKind(StrEnum):
    """What a rope is made of. Rope that floats is none to anchor with, and is not here."""

    NYLON = "nylon"
    POLYESTER = "polyester"


@frozen(kw_only=True)
class _Fibre:
    """Mass in kg per metre and per mm2 of diameter squared, density, strength in N per mm2."""

    mass_kg_per_m_mm2: float
    kg_per_m3: float
    strength_n_per_mm2: float


# Densities of polyamide 6 and of PET are those of any materials handbook.
_FIBRES: Final = {
    RopeKind.NYLON: _Fibre(
        mass_kg_per_m_mm2=0.0948 / 144.0, kg_per_m3=1140.0, strength_n_per_mm2=29_000.0 / 144.0
    ),
    RopeKind.POLYESTER: _Fibre(
        mass_kg_per_m_mm2=0.116 / 144.0, kg_per_m3=1380.0, strength_n_per_mm2=27_000.0 / 144.0
    ),
}


def rope_mass_kg_per_m(kind: RopeKind, diameter_m: float) -> float:
    """Return the mass of a metre of dry rope in kg."""
    diameter_mm = 1000.0 * positive("The rope's diameter in metres", diameter_m)
    return _FIBRES[kind].mass_kg_per_m_mm2 * diameter_mm**2


def rope_density_kg_per_m3(kind: RopeKind) -> float:
    """Return the density of its fibre in kg/m3."""
    return _FIBRES[kind].kg_per_m3


def rope_weight_n_per_m(kind: RopeKind, diameter_m: float) -> float:
    """Return the weight in sea water of a metre of rope in N/m."""
    mass_kg_per_m = rope_mass_kg_per_m(kind, diameter_m)
    return submerged_weight_n_per_m(mass_kg_per_m, rode_kg_per_m3=rope_density_kg_per_m3(kind))


def rope_strength_n(kind: RopeKind, diameter_m: float) -> float:
    """Return what new, dry rope without knots breaks at, in newtons, roughly."""
    diameter_mm = 1000.0 * positive("The rope's diameter in metres", diameter_m)
    return _FIBRES[kind].strength_n_per_mm2 * diameter_mm**2
