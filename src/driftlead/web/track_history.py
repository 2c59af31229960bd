"""The track of this anchoring, thinned, in memory that does not grow."""

from collections import deque
from collections.abc import Sequence
from typing import Final

from driftlead.core.reply import Event
from driftlead.core.state_event import StateEvent
from driftlead.core.status import Status
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.watch.state_table import WatchEvent

EVERY_S: Final = 5.0
KEPT_S: Final = 8 * 3600.0
FAR_M: Final = 10_000.0
"""Farther than this from the origin the plane is not good any more; no anchored boat is."""
COLUMNS: Final = (
    *("run_s", "utc_s", "east_m", "north_m", "distance_m"),
    *("heading_deg", "wind_from_deg", "wind_mps", "depth_m"),
)
_BEGINS: Final = frozenset({WatchEvent.LET_GO.value, WatchEvent.SET_LATE.value})


class TrackHistory:
    """Keeps a point every ``EVERY_S`` seconds for ``KEPT_S``; the oldest make room.

    Each point is turned into its JSON once, when it comes: whoever asks for the track costs next
    to nothing then. ``east_m`` and ``north_m`` are in a plane about ``origin``, which is the
    anchor as it was let go (the first place seen where none is down).
    """

    def __init__(self) -> None:
        self._plane: LocalPlane | None = None
        self._points: deque[tuple[float, str]] = deque(maxlen=int(KEPT_S / EVERY_S))

    @property
    def origin(self) -> Position | None:
        """Where east_m and north_m are 0."""
        return None if self._plane is None else self._plane.origin

    def __len__(self) -> int:
        return len(self._points)

    def hear(self, event: Event) -> None:
        """Begin anew when an anchor is let go: the track is told from its own anchor."""
        if isinstance(event, StateEvent) and event.name in _BEGINS:
            self._begin_anew()

    def _begin_anew(self) -> None:
        self._plane = None
        self._points.clear()

    def look(self, run_s: float, status: Status) -> None:
        """Take a point if it is time to; ``run_s`` never goes backwards."""
        position = status.position
        if position is None:
            return
        if self._plane is None:
            anchor = status.anchor
            self._plane = LocalPlane(
                position if anchor is None else Position(anchor.lat_deg, anchor.lon_deg)
            )
        if self._points and run_s - self._points[-1][0] < EVERY_S:
            return
        east_m, north_m = self._plane.to_plane(position.lat_deg, position.lon_deg)
        if max(abs(east_m), abs(north_m)) > FAR_M:
            self._begin_anew()
            self.look(run_s, status)
            return
        figures = (
            (run_s, 1),
            (status.utc_s, 1),
            (east_m, 2),
            (north_m, 2),
            (status.distance_m, 1),
            (status.heading_deg, 0),
            (status.wind_from_deg, 0),
            (status.wind_mps, 1),
            (status.depth_m, 1),
        )
        row = ",".join("null" if value is None else f"{value:.{n}f}" for value, n in figures)
        self._points.append((run_s, f"[{row}]"))

    def in_plane(self, lat_deg: float, lon_deg: float) -> tuple[float, float]:
        """East and north of a place in metres from the origin. Raises RuntimeError without one."""
        if self._plane is None:
            raise RuntimeError("there is no origin before there is a position")
        return self._plane.to_plane(lat_deg, lon_deg)

    def rows(self, *, after_s: float, step_s: float) -> Sequence[str]:
        """The points after ``after_s``, ``step_s`` apart at the least, each a JSON array."""
        if step_s <= EVERY_S:
            return [row for run_s, row in self._points if run_s > after_s]
        rows = []
        next_s = after_s
        for run_s, row in self._points:
            if run_s > after_s and run_s >= next_s:
                rows.append(row)
                next_s = run_s + step_s
        return rows
