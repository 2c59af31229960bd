"""The track of this anchoring, thinned, in memory that does not grow."""

import json
from collections import deque
from collections.abc import Iterable, Sequence
from typing import Any, Final

from attrs import frozen

from driftlead.core.reply import Event
from driftlead.core.state_event import StateEvent
from driftlead.core.status import Status
from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.watch.state_table import WatchEvent

EVERY_S: Final = 5.0
KEPT_S: Final = 8 * 3600.0
MOST_POINTS: Final = int(KEPT_S / EVERY_S)
FAR_M: Final = 10_000.0
"""Farther than this from the origin the plane is not good any more; no anchored boat is."""
BREAK_S: Final = 60.0
"""After so long without a point the line is not drawn on from the one before."""
_DECIMALS: Final = {
    "run_s": 1,
    "utc_s": 1,
    "east_m": 2,
    "north_m": 2,
    "distance_m": 1,
    "radius_m": 1,
    "confidence": 3,
    "heading_deg": 0,
    "wind_from_deg": 0,
    "wind_mps": 1,
    "depth_m": 1,
}
COLUMNS: Final = tuple(_DECIMALS)
_RUN, _UTC, _EAST, _NORTH = range(4)
_BEGINS: Final = frozenset({WatchEvent.LET_GO.value, WatchEvent.SET_LATE.value})
_FROM_STATUS: Final = COLUMNS[_NORTH + 1 :]


@frozen
class SavedTrack:
    """The track as an earlier run of the daemon has left it."""

    origin: Position
    rows: Sequence[Sequence[float | None]]


@frozen
class TrackToSave:
    """What is still to be written: more rows, or, with ``begin``, all of them from its origin."""

    begin: Position | None
    rows: Sequence[str]


class TrackHistory:
    """Keeps a point every ``EVERY_S`` seconds for ``KEPT_S``; the oldest make room.

    Each point is turned into its JSON once, when it comes: whoever asks for the track costs next
    to nothing then. ``east_m`` and ``north_m`` are in a plane about ``origin``, which is the
    anchor as it was let go (the first place seen where none is down).
    """

    def __init__(self) -> None:
        self._plane: LocalPlane | None = None
        self._points: deque[tuple[float, str]] = deque(maxlen=MOST_POINTS)
        self._saved: SavedTrack | None = None
        self._is_new = False
        self._is_watched = False
        self._to_begin = True
        self._written = 0
        self._written_to_s = float("-inf")

    @property
    def origin(self) -> Position | None:
        """Where east_m and north_m are 0."""
        return None if self._plane is None else self._plane.origin

    def __len__(self) -> int:
        return len(self._points)

    def hear(self, event: Event) -> None:
        """Begin anew when an anchor is let go: the track is told from its own anchor."""
        if isinstance(event, StateEvent) and event.name in _BEGINS:
            self._saved, self._is_new = None, True
            self._begin_anew()

    def _begin_anew(self) -> None:
        self._plane = None
        self._points.clear()
        self._to_begin = True

    def look(self, run_s: float, status: Status) -> None:
        """Take a point if it is time to; ``run_s`` never goes backwards."""
        position = status.position
        self._is_watched = status.anchor is not None
        if position is None:
            return
        if self._saved is not None and status.utc_s is not None:
            saved, self._saved = self._saved, None
            self._go_on(saved, run_s, status)
        if self._plane is None:
            self._plane = _plane_about(status.anchor, position)
        if self._points and run_s - self._points[-1][0] < EVERY_S:
            return
        east_m, north_m = self._plane.to_plane(position.lat_deg, position.lon_deg)
        if max(abs(east_m), abs(north_m)) > FAR_M:
            self._begin_anew()
            self.look(run_s, status)
            return
        figures = (getattr(status, name) for name in _FROM_STATUS)
        self._add(run_s, (run_s, status.utc_s, east_m, north_m, *figures))

    def _add(self, run_s: float, figures: Iterable[float | None]) -> None:
        texts = (
            "null" if value is None else f"{value:.{decimals}f}"
            for value, decimals in zip(figures, _DECIMALS.values(), strict=True)
        )
        self._points.append((run_s, f"[{','.join(texts)}]"))

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

    # -- over a restart --------------------------------------------------------------------------

    def take_up(self, saved: SavedTrack) -> None:
        """Go on from there as soon as the time is known, if it is the same watch."""
        if not self._is_new:
            self._saved = saved

    def _go_on(self, saved: SavedTrack, run_s: float, status: Status) -> None:
        """Put the track of before in front of ours, its times on the scale of this run.

        The few points seen until now are given up: they are in another plane.
        """
        anchor, utc_s = status.anchor, status.utc_s
        if anchor is None or utc_s is None:
            return  # no watch is on: that track is over
        plane = LocalPlane(saved.origin)
        if max(map(abs, plane.to_plane(anchor.lat_deg, anchor.lon_deg))) > FAR_M:
            return
        self._plane = plane
        self._points.clear()
        before_s = run_s - KEPT_S
        for row in saved.rows:
            row_utc_s = row[_UTC]
            if row_utc_s is None:
                continue
            at_s = row_utc_s - utc_s + run_s
            if before_s < at_s < run_s:
                before_s = at_s
                self._add(at_s, (at_s, *row[_UTC:]))
        if self._points and run_s - self._points[-1][0] > BREAK_S:
            at_s = self._points[-1][0] + EVERY_S
            self._add(at_s, (at_s, *(None for _ in COLUMNS[_UTC:])))
        self._to_begin = True

    def to_save(self) -> TrackToSave | None:
        """What has not been written since the last time; None: nothing, or not yet.

        Only a watch is worth the disk.
        """
        origin = self.origin
        if self._saved is not None or origin is None or not self._is_watched:
            return None
        begin = self._to_begin or self._written > 2 * MOST_POINTS
        after_s = float("-inf") if begin else self._written_to_s
        rows = self.rows(after_s=after_s, step_s=0.0)
        if not rows:
            return None
        self._to_begin = False
        self._written = len(rows) if begin else self._written + len(rows)
        self._written_to_s = self._points[-1][0]
        return TrackToSave(origin if begin else None, rows)

    def not_saved(self) -> None:
        """It could not be written: all of it is to be, the next time."""
        self._to_begin = True


def _plane_about(anchor: AnchorEstimate | None, position: Position) -> LocalPlane:
    """The plane about the anchor; about the boat where none is down, or she is not with it."""
    if anchor is not None:
        plane = LocalPlane(Position(anchor.lat_deg, anchor.lon_deg))
        if max(map(abs, plane.to_plane(position.lat_deg, position.lon_deg))) <= FAR_M:
            return plane
    return LocalPlane(position)


def saved_row(text: str) -> Sequence[float | None] | None:
    """Read one row as it was written; None for what is none, as where the power went."""
    try:
        row: Any = json.loads(text)
    except (ValueError, RecursionError):
        return None
    if not isinstance(row, list) or len(row) != len(COLUMNS):
        return None
    if not all(value is None or type(value) in (int, float) for value in row):
        return None
    return row
