"""How lively a boat lies: one that sheers to and fro has wind to hold her at the end of her rode.

Without a wind instrument this is the best there is to tell a breeze by. In light airs and on a
quiet stream she hardly moves; falling back or dragging she moves, but steadily one way.
"""

import math
from typing import Final

OVER_S: Final = 300.0
"""A few sheers, so that their mean way comes out as nought."""
STILL_MPS: Final = 0.1
LIVELY_MPS: Final = 0.2
"""Standard deviation of her velocity, of both axes together. In the simulated nights that tune (see
docs/proof.md) 95 of 100 with more than this lay in more than 3.6 m/s of wind; with less than the
other, mostly in light airs or under a receiver that holds its position."""


class Liveliness:
    """Follows the velocity over ground, step by step."""

    def __init__(self) -> None:
        self._square = self._east_mps = self._north_mps = 0.0

    def take(self, gap_s: float, east_mps: float, north_mps: float) -> float:
        """Take a step ``gap_s`` after the last; gives 0 (still, or not known) to 1 (sheering)."""
        gain = min(1.0, gap_s / OVER_S)
        self._square += gain * (east_mps * east_mps + north_mps * north_mps - self._square)
        self._east_mps += gain * (east_mps - self._east_mps)
        self._north_mps += gain * (north_mps - self._north_mps)
        steady = self._east_mps * self._east_mps + self._north_mps * self._north_mps
        sheer_mps = math.sqrt(max(0.0, self._square - steady))
        return min(1.0, max(0.0, (sheer_mps - STILL_MPS) / (LIVELY_MPS - STILL_MPS)))
