"""From the events of a watch, and looks at its status, to anchorings.

Events are dicts as the journal and ``replay --events`` have them (docs/events.md), so that a live
watch, its journal and a replayed night all tell the same story. Looks add what events do not say:
the track, the rode, depth and wind.
"""

import datetime as dt
import math
from collections.abc import Mapping
from typing import Any, Final

from attrs import evolve

from driftlead.core.status import Status
from driftlead.geodesy.plane import LocalPlane, distance_and_bearing
from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring, Drag, RaisedAlert, Slip, TrackSample

APART_M: Final = 3.0
APART_S: Final = 15.0
AT_LEAST_EVERY_S: Final = 300.0
"""The track keeps a point when she is ``APART_M`` from the last one kept, but none sooner than
``APART_S`` after it, and one every five minutes in any case: no place she was at is farther from
the kept track than what she does in ``APART_S``."""

BEGINS: Final = ("let_go", "set_late")
ENDS: Final = ("weigh", "slipped", "stowed")


class AnchoringBuilder:
    """Hears events in order, takes looks in between, and gives each anchoring as it ends."""

    def __init__(self, anchoring: Anchoring | None = None, *, state: str = "") -> None:
        """Begin with nothing, or with an anchoring that a restart has interrupted in ``state``."""
        self._now = anchoring
        self._track: list[TrackSample] = list(anchoring.track) if anchoring else []
        self._plane = LocalPlane(anchoring.drop) if anchoring else None
        self._state = state

    @property
    def under_way(self) -> Anchoring | None:
        """The anchoring that has not ended yet."""
        return None if self._now is None else evolve(self._now, track=tuple(self._track))

    def begins(self, event: Mapping[str, Any]) -> bool:
        """Whether an event, if heard now, begins another anchoring: let go said again does not."""
        return event.get("name") in BEGINS and not self._said_again(event)

    def hear(self, event: Mapping[str, Any]) -> Anchoring | None:
        """Take one event; give the anchoring it ends, if any.

        An event without a time, from before the receiver told it, cannot begin an anchoring that
        could be found again; it is passed over.
        """
        if event.get("kind") == "alert":
            self._hear_alert(event)
            return None
        utc_s = utc_from_text(event.get("t"))
        name = str(event.get("name"))
        if name in BEGINS:
            again = self._said_again(event)
            self._state = str(event.get("state"))
            return self._begin(event, utc_s, again=again)
        self._state = str(event.get("state"))
        if self._now is None:
            return None
        anchor = _position(event.get("anchor"))
        if anchor is not None:
            self._now = evolve(self._now, anchor=anchor)
        if name == "mark_corrected" and anchor is not None:
            self._correct(anchor, str((event.get("anchor") or {}).get("method", "")))
        elif name == "drag_found" and utc_s is not None:
            self._add_drag(event, utc_s)
        elif name == "held_again":
            self._end_drag(event, utc_s)
        elif name == "veer":
            veered = tuple(evolve(drag, veered=True) for drag in self._now.drags)
            self._now = evolve(self._now, drags=veered)
        elif name in ENDS:
            self._now = evolve(self._now, slip=_slip(event, utc_s))
            return self._end(utc_s)
        return None

    def look(self, status: Status) -> None:
        """Take note of the watch as it stands; call it every few seconds."""
        now, plane = self._now, self._plane
        if now is None or plane is None or status.utc_s is None:
            return
        wind_mps, depth_m = status.wind_mps, status.depth_m
        self._now = evolve(
            now,
            rode_m=now.rode_m if status.rode_m is None else status.rode_m,
            depth_m=depth_m if now.depth_m is None else now.depth_m,
            least_depth_m=_least(now.least_depth_m, depth_m),
            greatest_depth_m=_greatest(now.greatest_depth_m, depth_m),
            least_wind_mps=_least(now.least_wind_mps, wind_mps),
            greatest_wind_mps=_greatest(now.greatest_wind_mps, wind_mps),
            radius_m=now.radius_m if status.radius_m is None else status.radius_m,
        )
        if status.anchor is not None:
            self._drag_on(Position(status.anchor.lat_deg, status.anchor.lon_deg), status.moved_m)
        if status.position is not None:
            self._keep(status.utc_s, status.position, status.state, plane)

    def _said_again(self, event: Mapping[str, Any]) -> bool:
        return self._state == event.get("name") == "let_go"

    def _begin(
        self, event: Mapping[str, Any], utc_s: float | None, *, again: bool
    ) -> Anchoring | None:
        """A let go said again, with the boat still over it, corrects the one before."""
        unfinished = None if again else self.under_way
        if again and self._now is not None:
            utc_s = self._now.began_utc_s
        drop = _position(event.get("anchor"))
        if utc_s is None or drop is None:
            self._now, self._plane, self._track = None, None, []
            return unfinished
        method = str((event.get("anchor") or {}).get("method", ""))
        self._now = Anchoring(began_utc_s=utc_s, drop=drop, method=method, anchor=drop)
        self._plane = LocalPlane(drop)
        self._track = []
        return unfinished

    def _correct(self, drop: Position, method: str) -> None:
        """The mark was wrong; a drag that was found from it was none.

        Only one from which she held again by herself was real. Where rode was veered meanwhile
        it was the rode that ended it, and nothing vouches for it.
        """
        now = self._now
        if now is not None:
            real = tuple(
                drag for drag in now.drags if drag.held_utc_s is not None and not drag.veered
            )
            self._now = evolve(now, drop=drop, method=method, drags=real)
            self._plane = LocalPlane(drop)

    def _end(self, utc_s: float | None) -> Anchoring | None:
        if self._now is not None and self._now.anchor is not None:
            self._drag_on(self._now.anchor, None)
        ended = self.under_way
        self._now, self._plane, self._track = None, None, []
        return None if ended is None else evolve(ended, ended_utc_s=utc_s)

    def _drag_on(self, anchor: Position, moved_m: float | None) -> None:
        """A drag that goes on: it comes to what the anchor is from the drop point by now."""
        now, plane = self._now, self._plane
        if now is None or plane is None or not now.drags or now.drags[-1].held_utc_s is not None:
            return
        self._now = now = evolve(now, anchor=anchor)
        from_drop = distance_and_bearing(*plane.to_plane(anchor.lat_deg, anchor.lon_deg))
        if len(now.drags) > 1 and moved_m is None:
            return  # the earlier drags are in it too
        *earlier, drag = now.drags
        further = {
            "moved_m": round(from_drop[0] if moved_m is None else moved_m, 1),
            "bearing_deg": round(from_drop[1], 1),
        }
        self._now = evolve(now, drags=(*earlier, _farther(drag, further)))

    def _add_drag(self, event: Mapping[str, Any], utc_s: float) -> None:
        if self._now is None:
            return
        drag = Drag(
            found_utc_s=utc_s,
            moved_m=event.get("moved_m"),
            bearing_deg=event.get("bearing_deg"),
        )
        self._now = evolve(self._now, drags=(*self._now.drags, drag))

    def _end_drag(self, event: Mapping[str, Any], utc_s: float | None) -> None:
        if self._now is None or not self._now.drags:
            return
        *before, drag = self._now.drags
        held = evolve(_farther(drag, event), held_utc_s=utc_s)
        self._now = evolve(self._now, drags=(*before, held))

    def _hear_alert(self, event: Mapping[str, Any]) -> None:
        now = self._now
        if now is None:
            return
        number = int(event.get("number") or 0)
        alert = RaisedAlert(
            number=number,
            name=str(event.get("name")),
            instance=str(event.get("instance") or ""),
            priority=str(event.get("priority")),
            raised_utc_s=utc_from_text(event.get("t")),
            text=str(event.get("text") or ""),
        )
        known = {each.number: each for each in now.alerts}
        if number in known:
            # It may have become an alarm since, or been told better; it was raised when it was.
            before = known[number]
            worse = _RANK.get(alert.priority, 0) > _RANK.get(before.priority, 0)
            if worse:
                known[number] = evolve(before, priority=alert.priority, text=alert.text)
        elif event.get("state") not in ("normal", "rectified_unacknowledged"):
            known[number] = alert
        self._now = evolve(now, alerts=tuple(known.values()))
        if alert.name == "drag" and self._now.drags and self._now.drags[-1].held_utc_s is None:
            *earlier, drag = self._now.drags
            self._now = evolve(self._now, drags=(*earlier, _farther(drag, event)))

    def _keep(self, utc_s: float, position: Position, state: str, plane: LocalPlane) -> None:
        sample = TrackSample(
            round(utc_s, 1), round(position.lat_deg, 7), round(position.lon_deg, 7), state
        )
        if self._track:
            last = self._track[-1]
            since_s = utc_s - last.utc_s
            east_m, north_m = plane.to_plane(position.lat_deg, position.lon_deg)
            last_east_m, last_north_m = plane.to_plane(last.lat_deg, last.lon_deg)
            apart_m = math.hypot(east_m - last_east_m, north_m - last_north_m)
            due = since_s >= AT_LEAST_EVERY_S or (since_s >= APART_S and apart_m >= APART_M)
            if since_s <= 0.0 or not (due or state != last.state):
                return
        self._track.append(sample)


_RANK: Final = {"caution": 0, "warning": 1, "alarm": 2}


def utc_from_text(text: Any) -> float | None:
    """Unix seconds from an event's ``t``; None for null, or what is no time."""
    if not isinstance(text, str):
        return None
    try:
        moment = dt.datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment.timestamp() if moment.tzinfo is not None else None


def _farther(drag: Drag, event: Mapping[str, Any]) -> Drag:
    """The drag with the latest word on how far it went."""
    moved_m, bearing_deg = event.get("moved_m"), event.get("bearing_deg")
    if not moved_m or moved_m < (drag.moved_m or 0.0):
        return drag
    return evolve(drag, moved_m=float(moved_m), bearing_deg=bearing_deg)


def _slip(event: Mapping[str, Any], utc_s: float | None) -> Slip | None:
    anchor, bow = event.get("anchor"), event.get("bow")
    place = _position(anchor)
    if event.get("name") != "slipped" or place is None:
        return None
    return Slip(
        utc_s=utc_s,
        anchor=place,
        sigma_m=float((anchor or {}).get("sigma_m") or 0.0),
        bow=_position(bow),
        bow_sigma_m=bow.get("sigma_m") if isinstance(bow, Mapping) else None,
        rode_m=event.get("rode_m"),
        depth_m=event.get("depth_m"),
    )


def _position(anchor: Any) -> Position | None:
    if not isinstance(anchor, Mapping):
        return None
    lat_deg, lon_deg = anchor.get("lat"), anchor.get("lon")
    if not (isinstance(lat_deg, int | float) and isinstance(lon_deg, int | float)):
        return None
    return Position(float(lat_deg), float(lon_deg))


def _least(a: float | None, b: float | None) -> float | None:
    return b if a is None else a if b is None else min(a, b)


def _greatest(a: float | None, b: float | None) -> float | None:
    return b if a is None else a if b is None else max(a, b)
