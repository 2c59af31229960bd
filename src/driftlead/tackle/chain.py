"""What chain weighs, by the diameter of its wire.

Masses and pitches are those of a chandler's printed table to ISO 4565 and DIN 766 (chains.ie).
Other published tables differ by 3 to 17 % (Vyv Cox gives 0.85, 1.1, 1.45, 2.3 and 3.8 kg/m for
6, 7, 8, 10 and 12 mm), so whoever has weighed a metre of his own should give that.
"""

from typing import Final

from attrs import frozen

from driftlead.errors import UserInputError


@frozen(kw_only=True)
class Chain:
    """Calibrated short link chain: wire in mm, mass of a metre in kg, pitch in mm.

    The two standards agree on the pitch except at 10 mm.
    """

    wire_mm: int
    mass_kg_per_m: float
    pitch_iso_4565_mm: float
    pitch_din_766_mm: float


CHAINS: Final = (
    Chain(wire_mm=6, mass_kg_per_m=0.80, pitch_iso_4565_mm=18.5, pitch_din_766_mm=18.5),
    Chain(wire_mm=7, mass_kg_per_m=1.15, pitch_iso_4565_mm=22.0, pitch_din_766_mm=22.0),
    Chain(wire_mm=8, mass_kg_per_m=1.40, pitch_iso_4565_mm=24.0, pitch_din_766_mm=24.0),
    Chain(wire_mm=10, mass_kg_per_m=2.25, pitch_iso_4565_mm=30.0, pitch_din_766_mm=28.0),
    Chain(wire_mm=12, mass_kg_per_m=3.25, pitch_iso_4565_mm=36.0, pitch_din_766_mm=36.0),
    Chain(wire_mm=13, mass_kg_per_m=3.90, pitch_iso_4565_mm=36.0, pitch_din_766_mm=36.0),
    Chain(wire_mm=14, mass_kg_per_m=4.25, pitch_iso_4565_mm=41.0, pitch_din_766_mm=41.0),
    Chain(wire_mm=16, mass_kg_per_m=5.80, pitch_iso_4565_mm=45.0, pitch_din_766_mm=45.0),
)
"""The table; 10 mm chain of the DIN pitch weighs 2.20 kg/m (there 9.5 mm wire passes for 10)."""


def chain_of(wire_m: float) -> Chain:
    """Return the chain of a wire's diameter in metres, to half a millimetre.

    Raises UserInputError for a size that is not in the table.
    """
    for chain in CHAINS:
        if abs(chain.wire_mm - 1000.0 * wire_m) <= 0.5:
            return chain
    sizes = ", ".join(str(chain.wire_mm) for chain in CHAINS)
    raise UserInputError(
        f"Chain of {1000.0 * wire_m:.3g} mm is not in the table, which has {sizes} mm.",
        remedy="Give the mass of a metre of it in kg (chain_kg_per_m).",
    )
