"""The least we must move our drop point so that everything is clear by a margin.

Moved by v, our area A is clear of theirs, B, if v lies outside the Minkowski sum of B and -A
widened by the margin (the configuration space of motion planning; Lozano-Perez 1983). The least
move is the nearest point outside the union of these sums. The union is built up only from what is
found to be in the way: each round takes the least move so far, looks at every wind and hour, and
adds what is hit. Whatever is left out can only allow more, so the first move that clears everything
is the least there is.
"""

import math
from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np
import shapely
from attrs import frozen
from numpy.typing import NDArray

from driftlead.geodesy.plane import distance_and_bearing
from driftlead.planning.dangers import chains
from driftlead.planning.room_lie import Floats, Geometries

_ROUND: Final = 16
_AIM_M: Final = 0.02
"""Beyond the margin: rounding must not leave the move short of it."""
SHORT_M: Final = 0.005
"""What counts as clear may be short of the margin by so much: figures have their rounding."""
_HOLE_M2: Final = 4.0
"""A pocket smaller than this between all that is in the way is none to anchor in."""
_ADDED: Final = 4
_ROUNDS: Final = 200


@frozen(kw_only=True)
class Move:
    """From the drop point as planned to the one advised: metres, and degrees true."""

    east_m: float
    north_m: float

    @property
    def distance_m(self) -> float:
        """How far."""
        return math.hypot(self.east_m, self.north_m)

    @property
    def bearing_deg(self) -> float:
        """Which way, 0 for no move at all."""
        return distance_and_bearing(self.east_m, self.north_m)[1]


@frozen(kw_only=True, eq=False)
class Pair:
    """Our areas and those of one other, case by case (a case is a wind at an hour).

    ``ours`` and ``theirs`` are arrays of one shape; ``pieces`` gives the corners of convex areas
    that make up the i-th of ours, counted flat.
    """

    ours: Geometries
    theirs: Geometries
    pieces: Callable[[int], Sequence[Floats]]


def least_move(pairs: Sequence[Pair], *, margin_m: float, limit_m: float) -> Move | None:
    """Find the least move that leaves ``margin_m`` to everything; None if none within a limit.

    No move at all is a ``Move`` of no length.
    """
    forbidden = shapely.Polygon()
    origin = shapely.Point(0.0, 0.0)
    for _ in range(_ROUNDS):
        move = _nearest_outside(forbidden, origin)
        if move.distance_m > limit_m:
            return None
        added = [area for pair in pairs for area in _in_the_way(pair, move, margin_m=margin_m)]
        if not added:
            return move
        forbidden = _without_pockets(shapely.union_all([forbidden, *added]))
    return None


def minkowski_difference(theirs: Any, pieces: Sequence[Floats]) -> Any:
    """Return the moves that bring an area, made of convex pieces, to touch a shape: B + (-A).

    With a convex piece C, B + (-C) is what -C sweeps along the boundary of B, and B itself shifted.
    """
    areas = []
    for piece in pieces:
        for chain in chains(theirs):
            begin = chain[:-1] if len(chain) > 1 else chain
            end = chain[1:] if len(chain) > 1 else chain
            both = np.concatenate(
                [begin[:, None, :] - piece[None], end[:, None, :] - piece[None]], axis=1
            )
            areas.append(shapely.convex_hull(shapely.multipoints(both)))
        shifted = shapely.transform(theirs, lambda xy, by=piece[0]: xy - by)
        areas.append(np.array([shifted]))
    return shapely.union_all(np.concatenate(areas))


def _in_the_way(pair: Pair, move: Move, *, margin_m: float) -> list[Any]:
    """The forbidden moves of the cases in which this move is too near, the worst first."""
    by = np.array([move.east_m, move.north_m])
    there = shapely.transform(pair.ours, lambda xy: xy + by)
    distance_m = np.ravel(shapely.distance(there, pair.theirs))
    short = np.flatnonzero(distance_m < margin_m - SHORT_M)
    if not len(short):
        return []
    # Of many that are hit some from all over the list, so that all winds have their say.
    chosen = set(short[np.argsort(distance_m[short], kind="stable")][:2])
    chosen |= set(short[:: max(1, len(short) // _ADDED)])
    theirs = np.ravel(pair.theirs)
    aim_m = (margin_m + _AIM_M) / math.cos(math.pi / (4 * _ROUND))
    return [
        minkowski_difference(theirs[i], pair.pieces(i)).buffer(aim_m, quad_segs=_ROUND)
        for i in sorted(chosen)
    ]


def _nearest_outside(forbidden: Any, origin: Any) -> Move:
    if forbidden.is_empty or not forbidden.intersects(origin):
        return Move(east_m=0.0, north_m=0.0)
    point: NDArray[np.float64] = shapely.get_coordinates(
        shapely.shortest_line(forbidden.boundary, origin)
    )[0]
    return Move(east_m=float(point[0]), north_m=float(point[1]))


def _without_pockets(area: Any) -> Any:
    """Fill holes too small to matter."""
    parts = []
    for part in shapely.get_parts(area):
        if part.geom_type != "Polygon":
            continue
        holes = [hole for hole in part.interiors if shapely.Polygon(hole).area >= _HOLE_M2]
        parts.append(shapely.Polygon(part.exterior, holes))
    return shapely.union_all(parts) if len(parts) > 1 else parts[0]
