"""Will we fit? Our swinging circle among the neighbours and dangers of an anchorage.

The swinging circle is reach plus length over all, about the anchor (the US Navy's form, rode plus
length over all, NAVEDTRA 14221, chapter 12, with the rode by its bar-taut reach). The least depth
of the stay gives the largest reach, so it decides.

Whole circles that do not overlap are safe in a calm, when each boat lies as she likes. In a wind
all lie roughly the same way, and boats may lie much nearer: for each wind and hour the areas in
which each may then lie are laid out (``room_lie``) and the distances between them measured. Against
dangers the ground between anchor and boat counts as ours too: no rode should lie across a pier.
"""

import math
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely
from attrs import evolve, field, frozen

from driftlead.errors import UserInputError
from driftlead.planning.dangers import Danger
from driftlead.planning.neighbours import Boat, Gear, GivenCircle, Neighbour
from driftlead.planning.room_hours import Hour
from driftlead.planning.room_lie import Geometries, circle_corners, lie_of, lying_areas, turned
from driftlead.planning.room_move import SHORT_M, Move, Pair, least_move
from driftlead.tackle.checked import not_negative

SECTORS: Final = 16
WIND_STEP_DEG: Final = 4.5
"""Five winds to each of the sixteen points; boats between them are covered by their spreads."""
MOVE_LIMIT_M: Final = 300.0
"""Farther off it is another anchorage, and the chart must be asked, not this program."""
_LIMITS_M: Final = (40.0, 120.0, MOVE_LIMIT_M)
"""A near move is looked for first: then most of a long coast need not be reckoned with."""


@frozen(kw_only=True)
class Around:
    """What there is round an anchorage."""

    boats: tuple[Neighbour, ...] = ()
    dangers: tuple[Danger, ...] = ()


@frozen(kw_only=True)
class SwingingCircle:
    """Our circle's radius in metres, its parts, and the least depth and its hour."""

    reach_m: float
    length_m: float
    least_depth_m: float
    hour: Hour

    @property
    def radius_m(self) -> float:
        """Anchor to stern at the farthest."""
        return self.reach_m + self.length_m


@frozen(kw_only=True)
class CircleGap:
    """What is left between our whole circle and another's, or a danger; below zero: overlap."""

    other: str
    kind: str
    gap_m: float


@frozen(kw_only=True)
class Clearance:
    """How near one other may come in one sector of wind (true, from) at one hour; 0: touching."""

    other: str
    kind: str
    wind_from_deg: float
    hour: Hour
    clearance_m: float


@frozen(kw_only=True)
class Room:
    """The answer. Lists have the worst first.

    ``move`` is the least move of our drop point after which every clearance is at least
    ``margin_m``, ``calm_move`` the one after which the whole circles are as clear; None: there is
    none within ``MOVE_LIMIT_M``.
    """

    own: Boat
    around: Around
    hours: tuple[Hour, ...]
    winds_deg: tuple[float, ...]
    margin_m: float
    circle: SwingingCircle
    circles: tuple[CircleGap, ...]
    clearances: tuple[Clearance, ...]
    move: Move | None = field(default=None)
    calm_move: Move | None = field(default=None)

    @property
    def worst(self) -> Clearance | None:
        """The least clearance of all, None if nothing is round us."""
        return self.clearances[0] if self.clearances else None

    @property
    def fits(self) -> bool:
        """Whether everything is clear by the margin in every wind and hour looked at."""
        return self.worst is None or self.worst.clearance_m >= self.margin_m - SHORT_M

    def worst_of_each(self) -> tuple[Clearance, ...]:
        """The least clearance of each other, the worst first."""
        first: dict[str, Clearance] = {}
        for clearance in self.clearances:
            first.setdefault(clearance.other, clearance)
        return tuple(first.values())

    def worst_of_sectors(self) -> tuple[Clearance, ...]:
        """The least clearance in each sector of wind, the worst first."""
        first: dict[float, Clearance] = {}
        for clearance in self.clearances:
            first.setdefault(clearance.wind_from_deg, clearance)
        return tuple(first.values())


def all_winds() -> tuple[float, ...]:
    """Winds (from, degrees true) all round, ``WIND_STEP_DEG`` apart."""
    return tuple(n * WIND_STEP_DEG for n in range(round(360.0 / WIND_STEP_DEG)))


def winds_between(from_deg: float, to_deg: float) -> tuple[float, ...]:
    """Winds from one bearing clockwise to another, both included. The same twice is one wind."""
    if not (math.isfinite(from_deg) and math.isfinite(to_deg)):
        raise UserInputError("That is no wind.", remedy="Give degrees true, 0 to 360.")
    across_deg = (to_deg - from_deg) % 360.0
    count = math.ceil(across_deg / WIND_STEP_DEG)
    return tuple((from_deg + n * across_deg / max(1, count)) % 360.0 for n in range(count + 1))


def sector_deg(wind_from_deg: float) -> float:
    """The middle of the sector, one of the sixteen points, that a wind belongs to."""
    return round(wind_from_deg / (360.0 / SECTORS)) % SECTORS * (360.0 / SECTORS)


def swinging_circle(own: Boat, hours: Sequence[Hour] = (Hour(),)) -> SwingingCircle:
    """Work out our circle at the least depth of the hours.

    Raises UserInputError where the rode does not reach the bottom at the greatest depth, or
    where the berth dries out.
    """
    if not hours:
        raise UserInputError("There is no hour to look at.", remedy="Give one at least.")
    _check_reaches(own, hours)
    lowest = min(hours, key=lambda hour: hour.rise_m)
    least_m = own.depth_m + lowest.rise_m
    if least_m <= 0.0:
        at = f" at {lowest.text}" if lowest.text else ""
        raise UserInputError(
            f"{own.name} would lie aground{at}: the depth there falls to {least_m:.1f} m.",
            remedy="Choose a deeper place, or correct depth and tides.",
        )
    return SwingingCircle(
        reach_m=own.reach_m(lowest.rise_m),
        length_m=own.length_m,
        least_depth_m=least_m,
        hour=lowest,
    )


def look_round(
    own: Boat,
    around: Around,
    *,
    hours: Sequence[Hour] = (Hour(),),
    winds_deg: Sequence[float] | None = None,
    margin_m: float = 10.0,
) -> Room:
    """Measure everything. ``winds_deg`` are the winds that may come, by default all.

    Raises UserInputError for what cannot be: see ``swinging_circle``, and neighbours likewise.
    """
    not_negative("The margin in metres", margin_m)
    winds = all_winds() if winds_deg is None else tuple(winds_deg)
    circle = swinging_circle(own, hours)
    for boat in around.boats:
        if isinstance(boat, Boat):
            _check_reaches(boat, hours)
    pairs, cases = _pairs(own, around, hours, winds), _names(around)
    clearances = [
        clearance
        for (name, kind), pair in zip(cases, pairs, strict=True)
        for clearance in _clearances(name, kind, pair, hours, winds)
    ]
    gaps = [
        CircleGap(other=name, kind=kind, gap_m=gap_m)
        for (name, kind), gap_m in zip(cases, _gaps(own, around, circle), strict=True)
    ]
    return Room(
        own=own,
        around=around,
        hours=tuple(hours),
        winds_deg=winds,
        margin_m=margin_m,
        circle=circle,
        circles=tuple(sorted(gaps, key=lambda gap: (gap.gap_m, gap.other))),
        clearances=tuple(sorted(clearances, key=lambda each: _order(each, hours))),
        move=_least_move(pairs, own, circle, margin_m),
        calm_move=_least_move(_calm_pairs(own, around, circle), own, circle, margin_m),
    )


def _least_move(
    pairs: Sequence[Pair], own: Boat, circle: SwingingCircle, margin_m: float
) -> Move | None:
    for limit_m in _LIMITS_M:
        # Nothing beyond can be touched by a move within the limit.
        far_m = circle.radius_m + own.beam_m + limit_m + margin_m + 1.0
        here = shapely.box(
            own.east_m - far_m, own.north_m - far_m, own.east_m + far_m, own.north_m + far_m
        )
        near = [evolve(pair, theirs=_clipped(pair.theirs, here)) for pair in pairs]
        move = least_move(near, margin_m=margin_m, limit_m=limit_m)
        if move is not None:
            return move
    return None


def _clipped(theirs: Geometries, here: Any) -> Geometries:
    """What is within a box; a danger that is the same in every case is cut once."""
    if len({id(shape) for shape in theirs.flat}) > 1:
        return theirs
    return _everywhere(theirs.flat[0].intersection(here), theirs.shape)


def _order(clearance: Clearance, hours: Sequence[Hour]) -> tuple[float, int, float, str]:
    # Equal ones in the order of the night, so that the same question has the same answer.
    return (
        round(clearance.clearance_m, 3),
        hours.index(clearance.hour),
        clearance.wind_from_deg,
        clearance.other,
    )


def _names(around: Around) -> list[tuple[str, str]]:
    boats = [
        (boat.name, "circle" if isinstance(boat, GivenCircle) else boat.gear.value)
        for boat in around.boats
    ]
    return boats + [(danger.name, danger.kind.value) for danger in around.dangers]


def _pairs(own: Boat, around: Around, hours: Sequence[Hour], winds: Sequence[float]) -> list[Pair]:
    shape = (len(hours), len(winds))
    at = (own.east_m, own.north_m)
    lies = {
        with_rode: [lie_of(own, hour, with_rode=with_rode) for hour in hours]
        for with_rode in (False, True)
    }
    ours = {
        with_rode: lying_areas(own, hours, winds, with_rode=with_rode)
        for with_rode in (False, True)
    }

    def pieces(with_rode: bool, case: int) -> Sequence[Any]:
        hour, wind = divmod(case, len(winds))
        own_pieces = lies[with_rode][hour].pieces
        return [turned(piece, [winds[wind]], at)[0] for piece in own_pieces]

    boats = [
        Pair(
            ours=ours[False],
            theirs=lying_areas(boat, hours, winds),
            pieces=lambda case: pieces(False, case),
        )
        for boat in around.boats
    ]
    return boats + [
        Pair(
            ours=ours[True],
            theirs=_everywhere(danger.shape, shape),
            pieces=lambda case: pieces(True, case),
        )
        for danger in around.dangers
    ]


def _calm_pairs(own: Boat, around: Around, circle: SwingingCircle) -> list[Pair]:
    disc = circle_corners(circle.radius_m, at=(own.east_m, own.north_m))
    others = [_disc(boat, circle.hour) for boat in around.boats]
    others += [danger.shape for danger in around.dangers]
    ours = np.array([[shapely.Polygon(disc)]])
    return [
        Pair(ours=ours, theirs=_everywhere(other, (1, 1)), pieces=lambda _case: [disc])
        for other in others
    ]


def _disc(boat: Neighbour, hour: Hour) -> Any:
    return shapely.Polygon(
        circle_corners(boat.circle_m(hour.rise_m), at=(boat.east_m, boat.north_m))
    )


def _gaps(own: Boat, around: Around, circle: SwingingCircle) -> list[float]:
    gaps = [
        math.hypot(boat.east_m - own.east_m, boat.north_m - own.north_m)
        - circle.radius_m
        - boat.circle_m(circle.hour.rise_m)
        for boat in around.boats
    ]
    at = shapely.Point(own.east_m, own.north_m)
    return gaps + [float(danger.shape.distance(at)) - circle.radius_m for danger in around.dangers]


def _everywhere(shape: Any, cases: tuple[int, ...]) -> Geometries:
    """The same shape in every case, at the cost of one."""
    only = np.empty((1, 1), dtype=object)
    only[0, 0] = shape
    return np.broadcast_to(only, cases)


def _clearances(
    name: str, kind: str, pair: Pair, hours: Sequence[Hour], winds: Sequence[float]
) -> list[Clearance]:
    """The least clearance in each sector at each hour."""
    distance_m = shapely.distance(pair.ours, pair.theirs)
    sectors = np.array([sector_deg(wind) for wind in winds])
    return [
        Clearance(
            other=name,
            kind=kind,
            wind_from_deg=float(sector),
            hour=hour,
            clearance_m=float(row[sectors == sector].min()),
        )
        for hour, row in zip(hours, distance_m, strict=True)
        for sector in np.unique(sectors)
    ]


def _check_reaches(boat: Boat, hours: Sequence[Hour]) -> None:
    highest = max(hours, key=lambda hour: hour.rise_m)
    drop_m = boat.drop_m(highest.rise_m)
    if boat.rode_m > drop_m:
        return
    at = f" at {highest.text}" if highest.text else ""
    what = "mooring" if boat.gear is Gear.MOORING else "anchor"
    raise UserInputError(
        f"{boat.rode_m:.1f} m of rode do not take {boat.name} to her {what}{at}: "
        f"the bottom is {drop_m:.1f} m below her bow.",
        remedy="Give a longer rode, or correct the depth, bow height or tides.",
    )
