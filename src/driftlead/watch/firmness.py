"""How firmly wind holds the boat at the end of her rode: how much where she lies tells.

In a breeze she lies near full reach with the anchor ahead; in light airs anywhere over her rode,
heading anyhow. The wind instrument says which; without one the head does: a boat that sheers comes
back to the wind, one in light airs points all round in half an hour.
"""

import math
from typing import Final

SLOW_S: Final = 100.0
"""Wind is taken over a minute or two, a boat's answer to it."""
LIGHT_MPS: Final = 2.0
FIRM_MPS: Final = 5.0
LEAST: Final = 0.02
HEAD_S: Final = 900.0
UNKNOWN: Final = 0.6
"""With no wind instrument: it may be blowing or not."""
LEAST_BY_HEAD: Final = 0.05
LOOSE_HEAD: Final = 0.5
FIRM_HEAD: Final = 0.8
"""Mean resultant length of the head (1: always the same; Mardia & Jupp, Directional Statistics):
sheering 45 degrees to either side gives 0.85, all round the compass 0."""


class Firmness:
    """Follows wind and head, step by step."""

    def __init__(self) -> None:
        self._wind_mps: float | None = None
        self._head: tuple[float, float] | None = None

    def take(self, gap_s: float, *, wind_mps: float | None, heading_deg: float | None) -> float:
        """Take a step ``gap_s`` after the last; gives 0 (tells nothing) to 1 (tells all)."""
        if heading_deg is not None:
            head_rad = math.radians(heading_deg)
            cos_h, sin_h = math.cos(head_rad), math.sin(head_rad)
            if self._head is None:
                self._head = cos_h, sin_h
            gain = min(1.0, gap_s / HEAD_S)
            cos_m, sin_m = self._head
            self._head = cos_m + gain * (cos_h - cos_m), sin_m + gain * (sin_h - sin_m)
        if wind_mps is not None:
            if self._wind_mps is None:
                self._wind_mps = wind_mps
            self._wind_mps += min(1.0, gap_s / SLOW_S) * (wind_mps - self._wind_mps)
            return min(1.0, max(LEAST, (self._wind_mps - LIGHT_MPS) / (FIRM_MPS - LIGHT_MPS)))
        if self._head is None or heading_deg is None:
            return UNKNOWN
        steady = (math.hypot(*self._head) - LOOSE_HEAD) / (FIRM_HEAD - LOOSE_HEAD)
        return min(UNKNOWN, max(LEAST_BY_HEAD, steady))
