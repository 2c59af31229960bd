"""A nylon snubber: what it stretches, and how near that is to its strength.

Reckoned as a spring of its secant stiffness. Common practice (makers' curves of three-strand
polyamide, from memory): at a fifth of its breaking load it is some 14 % longer, 10 to 20 % by
make, wear and wet. Rope stiffens as it stretches: lightly loaded it gives more than reckoned here,
beyond a fifth less.
"""

from typing import Final

from attrs import frozen

from driftlead.tackle.checked import not_negative, positive
from driftlead.tackle.rope import RopeKind, rope_strength_n

WORKING_SHARE: Final = 0.2
"""Nylon that is to last should bear no more than a fifth of its breaking load (common practice)."""
STRETCH_AT_WORKING: Final = 0.14


@frozen(kw_only=True)
class SnubberLoad:
    """Under a load: the stretch in metres and what share it is of length and breaking load."""

    load_n: float
    stretch_m: float
    stretch_share: float
    breaking_share: float

    @property
    def is_overworked(self) -> bool:
        """Whether it bears more than a snubber should for a night."""
        return self.breaking_share > WORKING_SHARE


@frozen(kw_only=True)
class Snubber:
    """A nylon snubber: its length from bow to hook and its diameter, in metres."""

    length_m: float
    diameter_m: float

    @property
    def breaking_n(self) -> float:
        """What it breaks at when new, in newtons, roughly."""
        return rope_strength_n(RopeKind.NYLON, self.diameter_m)

    @property
    def stiffness_n_per_m(self) -> float:
        """The secant stiffness: newtons for each metre it stretches."""
        length_m = positive("The snubber's length in metres", self.length_m)
        return WORKING_SHARE * self.breaking_n / (STRETCH_AT_WORKING * length_m)

    def under(self, load_n: float) -> SnubberLoad:
        """Return how it bears a steady load in newtons."""
        stretch_m = not_negative("The load in newtons", load_n) / self.stiffness_n_per_m
        return SnubberLoad(
            load_n=load_n,
            stretch_m=stretch_m,
            stretch_share=stretch_m / self.length_m,
            breaking_share=load_n / self.breaking_n,
        )
