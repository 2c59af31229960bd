"""The depth of water at a place, over time."""

import datetime as dt
from itertools import pairwise

from attrs import frozen

from driftlead.tide.table import TideTable, Turn


@frozen(kw_only=True)
class Water:
    """The depth at a place: that at chart datum in metres, and the tide over it.

    Negative at datum is a height that dries. Without a tide the depth never changes.
    """

    datum_depth_m: float
    tide: TideTable | None = None

    @classmethod
    def sounded(cls, depth_m: float, *, at: dt.datetime, tide: TideTable | None = None) -> "Water":
        """Make it of a depth measured at a time."""
        height_m = tide.height_m(at) if tide is not None else 0.0
        return cls(datum_depth_m=depth_m - height_m, tide=tide)

    def depth_m(self, when: dt.datetime) -> float:
        """Return the depth in metres; below zero it is dry."""
        return self.datum_depth_m + (self.tide.height_m(when) if self.tide is not None else 0.0)

    def deepest(self, begins: dt.datetime, ends: dt.datetime) -> tuple[dt.datetime, float]:
        """Return when in a time the water is deepest, and the depth."""
        if self.tide is None:
            return begins, self.datum_depth_m
        return self._depth_of(self.tide.highest(begins, ends))

    def shallowest(self, begins: dt.datetime, ends: dt.datetime) -> tuple[dt.datetime, float]:
        """Return when in a time the water is least deep, and the depth."""
        if self.tide is None:
            return begins, self.datum_depth_m
        return self._depth_of(self.tide.lowest(begins, ends))

    def shallower_than(
        self, depth_m: float, begins: dt.datetime, ends: dt.datetime
    ) -> tuple[tuple[dt.datetime, dt.datetime], ...]:
        """Return the times, from and to, in which there is less water than a depth."""
        if self.tide is None:
            return ((begins, ends),) if self.datum_depth_m < depth_m else ()
        height_m = depth_m - self.datum_depth_m
        marks = [begins, *self.tide.times_at(height_m, begins, ends), ends]
        return tuple(
            (start, end)
            for start, end in pairwise(marks)
            if start < end and self.depth_m(start + (end - start) / 2) < depth_m
        )

    def _depth_of(self, turn: Turn) -> tuple[dt.datetime, float]:
        return turn.when, self.datum_depth_m + turn.height_m
