"""Boats at anchor or on moorings, ours and those round it: what each swings on, and how far.

Places are (east_m, north_m) in one plane for all. Depths are depths of water at one moment; a rise
of the water since then is given with each question.
"""

import enum
import math
from typing import Final

from attrs import Factory, field, frozen

from driftlead.errors import UserInputError
from driftlead.tackle.checked import not_negative, positive
from driftlead.tackle.reach import bar_taut_reach_m


class Gear(enum.StrEnum):
    """What a boat lies to."""

    CHAIN = "chain"
    ROPE = "rope"
    MOORING = "mooring"


SPREAD_DEG: Final = {Gear.CHAIN: 20.0, Gear.ROPE: 35.0, Gear.MOORING: 30.0}
"""How far to either side of dead to leeward a boat may lie in the same wind as her neighbours.

She sheers about, and the stream takes a deep keel more than a shallow one. That boats on rope
range about more than those on chain is common experience; the figures are our choice from it.
"""

STRETCH: Final = {Gear.CHAIN: 0.0, Gear.ROPE: 0.10, Gear.MOORING: 0.0}
"""What a rode gains in a blow, as a fraction: nylon about a tenth (common practice)."""

BEAM_OF_LENGTH: Final = 1.0 / 3.0
"""Beam over length where nobody has said it: on the wide side for a sailing boat of ten metres."""

MAX_SPREAD_DEG: Final = 90.0


@frozen(kw_only=True)
class Boat:
    """A boat and what she lies to. Lengths in metres.

    ``rode_m`` is from anchor or mooring block to the bow roller; ``spread_deg`` how far to
    either side of dead to leeward she may lie. ``depth_known``: somebody has said how deep it is.
    Raises UserInputError for a measure that cannot be.
    """

    name: str
    gear: Gear = Gear.CHAIN
    east_m: float = 0.0
    north_m: float = 0.0
    rode_m: float
    depth_m: float
    length_m: float
    bow_height_m: float = 1.0
    beam_m: float = field(
        default=Factory(lambda boat: boat.length_m * BEAM_OF_LENGTH, takes_self=True)
    )
    spread_deg: float = field(default=Factory(lambda boat: SPREAD_DEG[boat.gear], takes_self=True))
    depth_known: bool = True

    def __attrs_post_init__(self) -> None:
        positive(f"The rode of {self.name} in metres", self.rode_m)
        not_negative(f"The depth of water of {self.name} in metres", self.depth_m)
        positive(f"The length of {self.name} in metres", self.length_m)
        positive(f"The beam of {self.name} in metres", self.beam_m)
        not_negative(f"The bow height of {self.name} in metres", self.bow_height_m)
        _check_place(self.name, self.east_m, self.north_m)
        if not 0.0 <= self.spread_deg <= MAX_SPREAD_DEG:
            raise UserInputError(
                f"The spread of {self.name} cannot be {self.spread_deg} degrees.",
                remedy=f"Give 0 to {MAX_SPREAD_DEG:.0f} degrees to either side.",
            )

    def drop_m(self, rise_m: float = 0.0) -> float:
        """From the bow roller down to the bottom, when the water has risen by ``rise_m``.

        A berth that has dried out counts as no water.
        """
        return max(0.0, self.depth_m + rise_m) + self.bow_height_m

    def reach_m(self, rise_m: float = 0.0) -> float:
        """How far her bow can lie from the anchor: the rode bar-taut, and stretched."""
        return bar_taut_reach_m(self.rode_m * (1.0 + STRETCH[self.gear]), self.drop_m(rise_m))

    def least_reach_m(self, rise_m: float = 0.0) -> float:
        """How near it she may lie in an air that just lays the rode out: it hangs up and down."""
        return max(0.0, self.rode_m - self.drop_m(rise_m))

    def circle_m(self, rise_m: float = 0.0) -> float:
        """Radius of her swinging circle: reach and length over all (see ``room``)."""
        return self.reach_m(rise_m) + self.length_m


@frozen(kw_only=True)
class GivenCircle:
    """A neighbour of whom only a circle is known, within which she keeps."""

    name: str
    east_m: float
    north_m: float
    radius_m: float

    def __attrs_post_init__(self) -> None:
        positive(f"The circle of {self.name} in metres", self.radius_m)
        _check_place(self.name, self.east_m, self.north_m)

    def circle_m(self, rise_m: float = 0.0) -> float:  # noqa: ARG002 - as a Boat's
        """Radius of the circle, the same at any state of the tide."""
        return self.radius_m


Neighbour = Boat | GivenCircle


def _check_place(name: str, east_m: float, north_m: float) -> None:
    if not (math.isfinite(east_m) and math.isfinite(north_m)):
        raise UserInputError(
            f"The place of {name} is not a place in the plane.", remedy="Give finite metres."
        )
