"""What a dragging boat is driving towards, and how long that takes: figures, and a sentence."""

import json
import math
from typing import TYPE_CHECKING, Any, Final

from driftlead.errors import DriftleadError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerAhead
from driftlead.track.point import TrackPoint

if TYPE_CHECKING:
    from driftlead.planning.dangers import Dangers
    from driftlead.planning.room import Around

SLOWEST_MPS: Final = 0.01
"""A slower drift than this is not yet known to be one; it is taken for this fast."""
LIE_KEPT_DEG: Final = 10.0
"""The others are drawn anew, lying to the wind, when the drift has turned by more than this."""
BANDS_MIN: Final = (3.0, 5.0, 10.0, 20.0)
"""The time left is told anew when it falls through one of these."""
CALMLY_S: Final = 60.0
"""What is other news than less time is told no oftener than this: a drift yaws about."""
EASED: Final = 2.0
"""So many times the time that was told is less pressing, worth telling too."""

_UNREADABLE: Final = " What lies to leeward cannot be read."


class ToLeeward:
    """Knows what lies round the anchorage, read once and only when she drags.

    ``around`` is the setting of that name (see WatchSettings), ``hull_m`` how far the hull may
    stretch from the antenna.
    """

    def __init__(self, around: str, *, hull_m: float) -> None:
        self._around = around
        self._hull_m = hull_m
        self._unreadable = False
        self._known: Around | None = None
        self._of: tuple[LocalPlane, Position] | None = None
        self._dangers: Dangers | None = None
        self._lie_deg = 0.0
        self._told: DangerAhead | None = None
        self._told_s = -math.inf
        self.danger: DangerAhead | None = None
        """What she drives towards, as last looked at; None if nothing is known to be there."""

    def look(
        self,
        plane: LocalPlane,
        drop: Position,
        point: TrackPoint,
        *,
        bearing_deg: float,
        rate_mps: float | None,
    ) -> None:
        """Look where a drift from ``point`` leads; ``drop`` is where the anchor was let go."""
        if not self._around or self._unreadable:
            return
        try:
            dangers = self._drawn(plane, drop, bearing_deg)
            self.danger = dangers.ahead(
                point.east_m, point.north_m, bearing_deg, max(SLOWEST_MPS, rate_mps or 0.0)
            )
        except (DriftleadError, ValueError):
            # Nothing may keep an alarm from being raised.
            self._unreadable, self.danger = True, None

    def forget(self) -> None:
        """She drags no more."""
        self.danger = self._told = None
        self._told_s = -math.inf

    def tell(self, time_s: float) -> str:
        """A sentence about ``danger`` for the alarm, with a space before it; empty for none."""
        self._told, self._told_s = self.danger, time_s
        if self._unreadable:
            return _UNREADABLE
        ahead = self.danger
        if ahead is None:
            return ""
        if ahead.minutes is None:
            return (
                f" Nothing known lies that way; {ahead.nearest_name} is {ahead.nearest_m:.0f} m "
                f"off, bearing {round(ahead.nearest_bearing_deg) % 360:03d}."
            )
        left = "under a minute" if ahead.minutes < 1.0 else f"{math.floor(ahead.minutes)} min"
        return f" {ahead.name} is {ahead.distance_m:.0f} m ahead, {left} at this rate."

    def is_news(self, time_s: float) -> bool:
        """Whether ``danger`` is materially other than what was told last."""
        told, ahead = self._told, self.danger
        if ahead is None:
            return False
        if told is not None:
            if _band(ahead) < _band(told):
                return True
            if not _is_other(told, ahead):
                return False
        return time_s - self._told_s >= CALMLY_S

    def _drawn(self, plane: LocalPlane, drop: Position, bearing_deg: float) -> "Dangers":
        # Geometry is a heavy thing to load, and few nights need it.
        from driftlead.planning.dangers import Dangers  # noqa: PLC0415
        from driftlead.planning.room_lie import boats_as_dangers  # noqa: PLC0415

        if self._known is None or self._of != (plane, drop):
            self._known = _read(json.loads(self._around), plane, drop)
            self._of, self._dangers = (plane, drop), None
        turned_deg = (bearing_deg - self._lie_deg + 180.0) % 360.0 - 180.0
        turned = bool(self._known.boats) and abs(turned_deg) > LIE_KEPT_DEG
        if self._dangers is None or turned:
            # She drifts down wind, and to that wind the others lie.
            others = boats_as_dangers(self._known.boats, (bearing_deg + 180.0) % 360.0)
            self._dangers = Dangers([*self._known.dangers, *others], hull_m=self._hull_m)
            self._lie_deg = bearing_deg
        return self._dangers


def _read(document: Any, plane: LocalPlane, drop: Position) -> "Around":
    from driftlead.planning.room_around import (  # noqa: PLC0415
        around_from_geojson,
        around_from_toml,
    )

    name = "the neighbourhood"
    if isinstance(document, dict) and "type" not in document:
        own_drop = plane.to_plane(drop.lat_deg, drop.lon_deg)
        return around_from_toml(document, file=name, plane=plane, own_drop=own_drop)
    return around_from_geojson(document, file=name, plane=plane)


def _band(ahead: DangerAhead) -> int:
    """How pressing it is, 0 the most."""
    return sum(_minutes(ahead) >= limit for limit in BANDS_MIN)


def _is_other(told: DangerAhead, ahead: DangerAhead) -> bool:
    """Whether it is another danger, leads there or no more, or has become much less pressing."""
    if told.name != ahead.name or (told.minutes is None) is not (ahead.minutes is None):
        return True
    return _minutes(ahead) > EASED * _minutes(told)


def _minutes(ahead: DangerAhead) -> float:
    return math.inf if ahead.minutes is None else ahead.minutes
