"""The drag circle as the tide runs: the same rode reaches less far in more water."""

from typing import Final

from attrs import evolve

from driftlead.tackle.drag_circle import DragCircle
from driftlead.tide.turns import Turns
from driftlead.watch.anchored import Anchored
from driftlead.watch.settings import WatchSettings

CHANGED_M: Final = 0.05
"""A radius that differs by less than this is not drawn anew."""
SHORTEST_SCOPE: Final = 1.5
"""Where the tide makes the scope shorter than this the circle shrinks no further: there a
decimetre of error in the table would be a decimetre of radius."""
RISE_WITHIN_S: Final = 13 * 3600.0
"""Within this there is a high water."""
HALF_A_TIDE_S: Final = 6.5 * 3600.0


class Breathing:
    """Draws the circle for the depth of now, by the tide table of the settings.

    The depth now is that of let go and what the tide has risen since. Without a table, or where it
    does not cover the let go, it stays what it was. After the table's end it is the least there is
    with the lowest tide of the table, which makes the circle the largest.
    """

    def __init__(self, settings: WatchSettings) -> None:
        self._settings = settings
        self._tide = Turns(settings.outlook.tide)
        self._drawn: DragCircle | None = None
        self._resumed_m: float | None = None
        self.drawn_depth_m: float | None = None
        """The depth the circle is drawn for, None where it is not known."""

    def circle(self, anchored: Anchored, utc_s: float | None) -> tuple[DragCircle | None, bool]:
        """The circle of now, and whether the whole rode had to serve (see Anchored)."""
        depth_m = self._drawn_for_m(anchored, utc_s)
        return evolve(anchored, depth_m=depth_m).circle(self._settings)

    def draw(self, anchored: Anchored, utc_s: float | None) -> tuple[DragCircle | None, bool]:
        """The same, for the detector to go by from now on."""
        if utc_s is not None:
            self._resumed_m = None
        self._drawn, whole_rode = self.circle(anchored, utc_s)
        self.drawn_depth_m = self._drawn_for_m(anchored, utc_s)
        return self._drawn, whole_rode

    def breathe(self, anchored: Anchored, utc_s: float | None) -> DragCircle | None:
        """The circle of now, for the detector, if it is another than that drawn last."""
        if self._drawn is None or utc_s is None or not self._tide:
            return None
        circle, _ = self.circle(anchored, utc_s)
        if circle is None or abs(circle.radius_m - self._drawn.radius_m) <= CHANGED_M:
            return None
        return self.draw(anchored, utc_s)[0]

    def resume(self, drawn_depth_m: float | None) -> None:
        """Stand where a snapshot says it stood, until the receiver tells the time."""
        self._resumed_m = drawn_depth_m

    def depth_m(self, anchored: Anchored, utc_s: float | None) -> float | None:
        """The depth where the anchor lies now, or the last that is known of it."""
        datum_m = self._datum_m(anchored)
        height_m = None if utc_s is None or datum_m is None else self._tide.height_m(utc_s)
        if datum_m is None or height_m is None:
            return anchored.depth_m
        return max(0.0, datum_m + height_m)

    def rise_m(self, utc_s: float | None) -> float | None:
        """How much more the tide rises until high water, None if the table does not tell."""
        if utc_s is None or not self._tide:
            return None
        now_m = self._tide.height_m(utc_s)
        if now_m is None or self._tide.height_m(utc_s + HALF_A_TIDE_S) is None:
            return None
        return max(level.height_m for level in self._tide.ahead(utc_s, RISE_WITHIN_S)) - now_m

    def _datum_m(self, anchored: Anchored) -> float | None:
        """The depth at chart datum where the anchor lies."""
        depth_m, then_s = anchored.depth_m, anchored.depth_utc_s
        if not self._tide or depth_m is None or then_s is None:
            return None
        then_m = self._tide.height_m(then_s)
        return None if then_m is None else depth_m - then_m

    def _drawn_for_m(self, anchored: Anchored, utc_s: float | None) -> float | None:
        if utc_s is None:
            return anchored.depth_m if self._resumed_m is None else self._resumed_m
        datum_m = self._datum_m(anchored)
        if datum_m is None or anchored.depth_m is None:
            return anchored.depth_m
        height_m = self._tide.height_m(utc_s)
        depth_m = datum_m + (self._tide.lowest_m if height_m is None else height_m)
        tackle = self._settings.tackle
        rode_m = anchored.rode_m if anchored.rode_m is not None else tackle.rode_aboard_m
        if rode_m is not None:
            deepest_m = rode_m / SHORTEST_SCOPE - self._settings.boat.bow_height_m
            depth_m = min(depth_m, max(deepest_m, anchored.depth_m))
        # Where it dries nothing is taken off the rode.
        return max(0.0, depth_m)
