"""Where a boat at anchor may lie in a given wind, as areas of the plane.

In a wind she lies to leeward of her anchor, give or take her spread, at any distance from where the
rode just hangs up and down to where it is bar-taut. The area all her outlines cover then is a piece
of a ring; it is put together from convex pieces of at most ``PIECE_DEG``, which cover a
decimetre or two more than the outlines, never less.

The outline is pointed at the bow and full from ``SHOULDER`` of the length aft.
"""

import itertools
import math
from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np
import shapely
from attrs import frozen
from numpy.typing import NDArray

from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.dangers import Danger
from driftlead.planning.neighbours import Boat, GivenCircle, Neighbour
from driftlead.planning.room_hours import Hour

Floats = NDArray[np.float64]
Geometries = NDArray[Any]

SHOULDER: Final = 0.35
PIECE_DEG: Final = 10.0
_ARC_DEG: Final = 2.5
_CIRCLE_CORNERS: Final = 96
_NOW: Final = Hour()


@frozen(eq=False)
class Lie:
    """Where one boat may lie about her anchor, for a wind that sets towards +x.

    ``ring`` are the corners of the whole area; ``pieces`` those of convex areas that make it up.
    """

    ring: Floats
    pieces: tuple[Floats, ...]


def lie_of(neighbour: Neighbour, hour: Hour, *, with_rode: bool = False) -> Lie:
    """Work out where she may lie; ``with_rode``: the ground under her rode counts too."""
    if isinstance(neighbour, GivenCircle):
        disc = circle_corners(neighbour.radius_m)
        return Lie(disc, (disc,))
    pieces = _pieces(neighbour, hour.rise_m, with_rode=with_rode)
    whole = shapely.union_all([shapely.Polygon(piece) for piece in pieces])
    return Lie(_corners(whole), tuple(pieces))


def circle_corners(radius_m: float, *, at: tuple[float, float] = (0.0, 0.0)) -> Floats:
    """Return the corners of a polygon that just holds a circle about a point."""
    turn = np.arange(_CIRCLE_CORNERS) * (math.tau / _CIRCLE_CORNERS)
    outer_m = radius_m / math.cos(math.pi / _CIRCLE_CORNERS)
    corners: Floats = outer_m * np.column_stack([np.cos(turn), np.sin(turn)]) + np.array(at)
    return corners


def turned(corners: Floats, winds_deg: Sequence[float], at: tuple[float, float]) -> Floats:
    """Turn corners from +x to leeward of each wind (true, from) and shift them to an anchor.

    Gives an array of shape (winds, corners, 2).
    """
    lee_rad = np.radians(np.asarray(winds_deg) + 180.0)[:, None]
    x, y = corners[:, 0], corners[:, 1]
    # A bearing counts clockwise from north: along is (sin, cos), to port of it (-cos, sin).
    east = x * np.sin(lee_rad) - y * np.cos(lee_rad)
    north = x * np.cos(lee_rad) + y * np.sin(lee_rad)
    return np.stack([east + at[0], north + at[1]], axis=-1)


def lying_areas(
    neighbour: Neighbour,
    hours: Sequence[Hour],
    winds_deg: Sequence[float],
    *,
    with_rode: bool = False,
) -> Geometries:
    """Return her area for each hour and wind, an array of polygons of shape (hours, winds)."""
    at = (neighbour.east_m, neighbour.north_m)
    rows = [
        shapely.polygons(turned(lie_of(neighbour, hour, with_rode=with_rode).ring, winds_deg, at))
        for hour in hours
    ]
    return np.array(rows)


def boats_as_dangers(
    boats: Iterable[Neighbour], wind_from_deg: float, hour: Hour = _NOW
) -> tuple[Danger, ...]:
    """Return where the neighbours may lie in the present wind, for a boat that drags among them."""
    return tuple(
        Danger(
            name=boat.name,
            kind=DangerKind.VESSEL,
            shape=lying_areas(boat, [hour], [wind_from_deg])[0][0],
        )
        for boat in boats
    )


def _pieces(boat: Boat, rise_m: float, *, with_rode: bool) -> list[Floats]:
    bow_m, far_bow_m = boat.least_reach_m(rise_m), boat.reach_m(rise_m)
    half_m = boat.beam_m / 2.0
    stern_m = math.hypot(far_bow_m + boat.length_m, half_m)
    corner_rad = math.atan2(half_m, far_bow_m + boat.length_m)
    shoulder_m = bow_m + SHOULDER * boat.length_m
    spread_rad = math.radians(boat.spread_deg)
    count = max(1, math.ceil(2.0 * boat.spread_deg / PIECE_DEG))
    edges = np.linspace(-spread_rad, spread_rad, count + 1)
    ends = [(0.0, 0.0)] if spread_rad == 0.0 else list(itertools.pairwise(edges))
    pieces = []
    for begin_rad, end_rad in ends:
        points = [] if not with_rode else [np.zeros((1, 2))]
        for angle in {begin_rad, end_rad}:
            own = np.array([(bow_m, 0.0), (shoulder_m, half_m), (shoulder_m, -half_m)])
            points.append(_rotated(own, angle))
        points.append(_arc(stern_m, begin_rad - corner_rad, end_rad + corner_rad, spread_rad))
        hull = shapely.convex_hull(shapely.multipoints(np.concatenate(points)))
        pieces.append(_corners(hull))
    return pieces


def _arc(radius_m: float, begin_rad: float, end_rad: float, spread_rad: float) -> Floats:
    if spread_rad == 0.0:
        angles = np.array([begin_rad, end_rad])
    else:
        steps = math.ceil(math.degrees(end_rad - begin_rad) / _ARC_DEG)
        angles = np.linspace(begin_rad, end_rad, steps + 1)
        radius_m /= math.cos((angles[1] - angles[0]) / 2.0)  # the chords must not cut the arc
    return radius_m * np.column_stack([np.cos(angles), np.sin(angles)])


def _rotated(points: Floats, angle_rad: float) -> Floats:
    sine, cosine = math.sin(angle_rad), math.cos(angle_rad)
    turned_points: Floats = points @ np.array([[cosine, sine], [-sine, cosine]])
    return turned_points


def _corners(polygon: Any) -> Floats:
    corners: Floats = shapely.get_coordinates(shapely.get_exterior_ring(polygon))
    return corners[:-1]
