"""Which remembered anchorings were near a place, and which of them were bad."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import shapely
from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane, distance_and_bearing, offset
from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring
from driftlead.records.store import Stored
from driftlead.records.words import clock, tackle_text
from driftlead.units import Printer, format_bearing

CIRCLE_M: Final = 60.0
"""How near a drag counts where her own circle is not known, or smaller: common practice."""


@frozen(kw_only=True)
class Near:
    """A remembered anchoring, and where its drop point lies from the place asked about."""

    stored: Stored
    distance_m: float
    bearing_deg: float


@frozen(kw_only=True)
class DraggedHere:
    """A drag whose ground passes within ``distance_m`` of the place asked about."""

    stored: Stored
    distance_m: float


def near(all_stored: Iterable[Stored], place: Position, *, within_m: float) -> tuple[Near, ...]:
    """Give the anchorings whose drop points lie within a distance, the nearest first."""
    if not within_m > 0.0:
        raise UserInputError(
            f"Nothing lies within {within_m} m.", remedy="Give a distance above zero."
        )
    plane = LocalPlane(place)
    found = []
    for stored in all_stored:
        drop = stored.anchoring.drop
        distance_m, bearing_deg = distance_and_bearing(*plane.to_plane(drop.lat_deg, drop.lon_deg))
        if distance_m <= within_m:
            found.append(Near(stored=stored, distance_m=distance_m, bearing_deg=bearing_deg))
    return tuple(sorted(found, key=lambda each: (each.distance_m, each.stored.number)))


def dragged_here(
    all_stored: Iterable[Stored], place: Position, *, circle_m: float
) -> tuple[DraggedHere, ...]:
    """Give the anchorings that dragged within a swinging circle of a place, the nearest first.

    The ground that counts is all the way from the drop point to where the anchor held again, or
    was weighed.
    """
    plane = LocalPlane(place)
    found = []
    for stored in all_stored:
        if not stored.anchoring.dragged:
            continue
        points = [plane.to_plane(each.lat_deg, each.lon_deg) for each in _way(stored.anchoring)]
        ground = shapely.LineString(points) if len(points) > 1 else shapely.Point(points[0])
        distance_m = float(ground.distance(shapely.Point(0.0, 0.0)))
        if distance_m <= circle_m:
            found.append(DraggedHere(stored=stored, distance_m=distance_m))
    return tuple(sorted(found, key=lambda each: (each.distance_m, each.stored.number)))


def warning_text(dragged: DraggedHere, units: Printer, *, bow_height_m: float | None = None) -> str:
    """One sentence of warning about a place where she dragged; with the bow's height, the scope."""
    anchoring = dragged.stored.anchoring
    farthest = max(anchoring.drags, key=lambda drag: drag.moved_m or 0.0)
    how = ""
    if farthest.moved_m is not None and farthest.bearing_deg is not None:
        how = f", {units.rode(farthest.moved_m)} towards {format_bearing(farthest.bearing_deg)}"
    tackle = tackle_text(anchoring, units)
    on = "" if anchoring.rode_m is None else f", on {tackle}"
    scope = _scope(anchoring, bow_height_m)
    wind = anchoring.greatest_wind_mps
    blew = f", in up to {units.wind(wind)} of wind" if wind is not None else ""
    return (
        f"She dragged here before: anchoring {dragged.stored.number}, "
        f"{clock(farthest.found_utc_s)} UTC{how}{on}{scope}{blew}, "
        f"{units.rode(dragged.distance_m)} from this place."
    )


def remark(
    found: Sequence[DraggedHere], units: Printer, *, bow_height_m: float | None = None
) -> str | None:
    """What to say of these as she lets go there: the latest, and that there were more.

    None if there are none.
    """
    if not found:
        return None
    latest = max(found, key=lambda each: each.stored.anchoring.began_utc_s)
    text = warning_text(latest, units, bow_height_m=bow_height_m)
    more = len(found) - 1
    if more:
        text += f" So she did at {more} other anchoring{'' if more == 1 else 's'} near here."
    return f"{text} More rode, or another spot, is worth considering."


def _scope(anchoring: Anchoring, bow_height_m: float | None) -> str:
    if anchoring.rode_m is None or anchoring.depth_m is None or bow_height_m is None:
        return ""
    # What was there at high water, if it was sounded: the scope that counted.
    depth_m = max(anchoring.depth_m, anchoring.greatest_depth_m or 0.0)
    return f" ({anchoring.rode_m / (depth_m + bow_height_m):.1f}:1)"


def _way(anchoring: Anchoring) -> Iterator[Position]:
    """The places the anchor is known to have been at, in order."""
    yield anchoring.drop
    plane = LocalPlane(anchoring.drop)
    east_m = north_m = 0.0
    for drag in anchoring.drags:
        if drag.moved_m is not None and drag.bearing_deg is not None:
            # Each drag begins where the one before it ended.
            on_east_m, on_north_m = offset(drag.bearing_deg, drag.moved_m)
            east_m, north_m = east_m + on_east_m, north_m + on_north_m
            yield plane.to_position(east_m, north_m)
    if anchoring.anchor is not None:
        yield anchoring.anchor
