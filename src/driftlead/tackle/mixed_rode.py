"""The curve in which a rode of several kinds hangs: rope above chain, or any other order.

Statics of a hanging cable (any text on mechanics): the level pull H is the same everywhere, the
vertical load V grows by the weight of the rode passed, and the rode points along the two. A part
of length l and weight w per metre, with V and tension T at its lower end and V', T' at its upper,
rises by l (V + V') / (T + T') and spans (H/w) ln((V' + T') / (V + T)). Written so, both hold for a
weightless part too. Still water; friction on the bottom, stretch and the push of a stream on the
rode are left out.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.tackle.catenary import Catenary
from driftlead.tackle.checked import not_negative, positive

# A pull this small moves no rode by a tenth of a millimetre, and spares every formula its case of
# H = 0. Smaller still, and the loads of weightless rope would be lost in the rounding of the rest.
_LEAST_PULL_N = 1e-7
_GREATEST_PULL_N = 1e12
_NEXT_TO_NOTHING = 1e-12


@frozen(kw_only=True)
class RodePart:
    """A length of one kind of rode, and its weight in water in N/m.

    The weight is zero or more: rope that floats rises in a bight, which this does not reckon.
    """

    length_m: float
    weight_n_per_m: float


def total_length_m(parts: Sequence[RodePart]) -> float:
    """Return the length of all parts together, in metres."""
    return math.fsum(part.length_m for part in parts)


def hang_parts(parts: Sequence[RodePart], drop_m: float, pull_n: float) -> Catenary:
    """Return how a rode lies under a horizontal pull; the first part is the one at the anchor.

    ``drop_m`` is from bow roller to bottom, ``pull_n`` the horizontal pull. With one part this is
    ``catenary.hang``. Raises UserInputError if the rode is no longer than the drop, or for a
    negative measure.
    """
    parts, drop_m, pull_n = _checked(parts, drop_m, pull_n)
    lying_m, lift_n = _lie(parts, drop_m, pull_n)
    ends = list(_ends(_without(parts, lying_m), pull_n, lift_n))
    bow_n = ends[-1][2]
    return Catenary(
        reach_m=lying_m + ends[-1][0],
        lying_m=lying_m,
        bow_tension_n=math.hypot(pull_n, bow_n),
        bow_angle_deg=math.degrees(math.atan2(bow_n, pull_n)),
        anchor_angle_deg=math.degrees(math.atan2(lift_n, pull_n)),
    )


def curve(
    parts: Sequence[RodePart], drop_m: float, pull_n: float, *, steps: int = 24
) -> tuple[tuple[float, float], ...]:
    """Return points along the rode, (level distance from the anchor, height above the bottom), m.

    The first is the anchor, the last the bow roller; each part is cut into ``steps`` pieces.
    """
    parts, drop_m, pull_n = _checked(parts, drop_m, pull_n)
    lying_m, lift_n = _lie(parts, drop_m, pull_n)
    pieces = [
        RodePart(length_m=part.length_m / steps, weight_n_per_m=part.weight_n_per_m)
        for part in _without(parts, lying_m)
        for _ in range(steps)
    ]
    hanging = [(lying_m + x, y) for x, y, _ in _ends(pieces, pull_n, lift_n)]
    return ((0.0, 0.0), *hanging) if lying_m > 0.0 else tuple(hanging)


def shortest_rode_m(
    parts: Sequence[RodePart], drop_m: float, pull_n: float, *, anchor_angle_deg: float = 0.0
) -> float:
    """Return the shortest rode in metres that rises from the anchor by no more than an angle.

    By default the rode still pulls level at the anchor: with one part that is
    ``catenary.zero_lift_length_m``. The first part is the one at the anchor. Where all of them are
    too short, the length is that with as much more of the last kind as it takes: compare it with
    what there is. It is infinite where no length does it, as with weightless rope all the way.
    """
    parts, drop_m, pull_n = _checked(parts, drop_m, pull_n)
    angle_deg = not_negative("The angle in degrees", anchor_angle_deg)
    out_m = climbed_m = 0.0
    vertical_n = pull_n * math.tan(math.radians(angle_deg))
    tension_n = math.hypot(pull_n, vertical_n)
    for part in parts[:-1]:
        needed_m = _rest_m(part, drop_m - climbed_m, pull_n, vertical_n)
        if needed_m <= part.length_m:
            return out_m + needed_m
        out_m += part.length_m
        next_vertical_n = vertical_n + part.weight_n_per_m * part.length_m
        next_tension_n = math.hypot(pull_n, next_vertical_n)
        climbed_m += part.length_m * (vertical_n + next_vertical_n) / (tension_n + next_tension_n)
        vertical_n, tension_n = next_vertical_n, next_tension_n
    return out_m + _rest_m(parts[-1], drop_m - climbed_m, pull_n, vertical_n)


def _rest_m(part: RodePart, rise_m: float, pull_n: float, vertical_n: float) -> float:
    """Give how much of one kind rises so far from where the vertical load is given."""
    tension_n = math.hypot(pull_n, vertical_n)
    # A part's rise is the gain of tension over its weight: T' - T = w dy.
    top_n = tension_n + part.weight_n_per_m * rise_m
    both_n = vertical_n + math.sqrt((top_n - pull_n) * (top_n + pull_n))
    return rise_m * (tension_n + top_n) / both_n if both_n > 0.0 else math.inf


def pull_that_lifts_n(parts: Sequence[RodePart], drop_m: float, angle_deg: float) -> float:
    """Return the horizontal pull under which the rode rises from the anchor by ``angle_deg``.

    For an angle of zero: the pull that leaves the whole rode just level at the anchor. Infinite
    where the rode is so long that even bar-taut it leads off no steeper. Raises UserInputError if
    the rode is no longer than the drop.
    """
    parts, drop_m, _ = _checked(parts, drop_m, 0.0)
    slope = math.tan(math.radians(not_negative("The angle in degrees", angle_deg)))
    length_m = total_length_m(parts)
    weight_n = math.fsum(part.length_m * part.weight_n_per_m for part in parts)
    if weight_n == 0.0 or length_m * math.sin(math.radians(angle_deg)) >= drop_m:
        bar_taut_deg = math.degrees(math.asin(drop_m / length_m))
        return math.inf if bar_taut_deg <= angle_deg else 0.0

    def climbs_too_far(pull_n: float) -> bool:
        return _climb_m(parts, pull_n, pull_n * slope) > drop_m

    return _last(climbs_too_far, _LEAST_PULL_N, _GREATEST_PULL_N, geometric=True)


def _checked(
    parts: Sequence[RodePart], drop_m: float, pull_n: float
) -> tuple[tuple[RodePart, ...], float, float]:
    for part in parts:
        not_negative("The length of a part of the rode in metres", part.length_m)
        not_negative("The rode's weight in water in N/m", part.weight_n_per_m)
    drop_m = positive("The drop from bow roller to bottom in metres", drop_m)
    pull_n = max(not_negative("The pull in newtons", pull_n), _LEAST_PULL_N)
    length_m = total_length_m(parts)
    if length_m <= drop_m:
        raise UserInputError(
            f"{length_m:.6g} m of rode does not reach the bottom {drop_m:.6g} m below the bow "
            "roller.",
            remedy="Give a rode longer than depth plus bow height.",
        )
    return tuple(part for part in parts if part.length_m > 0.0), drop_m, pull_n


def _lie(parts: Sequence[RodePart], drop_m: float, pull_n: float) -> tuple[float, float]:
    """Find how much of the rode lies on the bottom, and the lift at the anchor in newtons.

    One of the two is zero.
    """
    length_m = total_length_m(parts)
    if _climb_m(parts, pull_n, 0.0) >= drop_m:

        def still_climbs(lying_m: float) -> bool:
            return _climb_m(_without(parts, lying_m), pull_n, 0.0) > drop_m

        return _last(still_climbs, 0.0, length_m), 0.0

    def falls_short(lift_n: float) -> bool:
        return _climb_m(parts, pull_n, lift_n) < drop_m

    high_n = pull_n
    while falls_short(high_n):
        high_n *= 2.0
    return 0.0, _last(falls_short, 0.0, high_n)


def _without(parts: Sequence[RodePart], lying_m: float) -> tuple[RodePart, ...]:
    """Take what lies on the bottom away from the anchor's end."""
    hanging = []
    for part in parts:
        lies_m = min(lying_m, part.length_m)
        lying_m -= lies_m
        if part.length_m > lies_m:
            rest_m = part.length_m - lies_m
            hanging.append(RodePart(length_m=rest_m, weight_n_per_m=part.weight_n_per_m))
    return tuple(hanging)


def _ends(
    parts: Sequence[RodePart], pull_n: float, lift_n: float
) -> Iterator[tuple[float, float, float]]:
    """Give x, y (m) and the vertical load (N) at the lower end and after each part."""
    x_m = y_m = 0.0
    vertical_n, tension_n = lift_n, math.hypot(pull_n, lift_n)
    yield x_m, y_m, vertical_n
    for part in parts:
        gain_n = part.length_m * part.weight_n_per_m
        next_vertical_n = vertical_n + gain_n
        next_tension_n = math.hypot(pull_n, next_vertical_n)
        steep = (vertical_n + next_vertical_n) / (tension_n + next_tension_n)
        y_m += part.length_m * steep
        # ln(1 + w u)/w; where w u is next to nothing that is u.
        u = part.length_m * (1.0 + steep) / (vertical_n + tension_n)
        grown = part.weight_n_per_m * u
        x_m += pull_n * (u * math.log1p(grown) / grown if grown > _NEXT_TO_NOTHING else u)
        vertical_n, tension_n = next_vertical_n, next_tension_n
        yield x_m, y_m, vertical_n


def _climb_m(parts: Sequence[RodePart], pull_n: float, lift_n: float) -> float:
    """Give the height the rode climbs from its lower end."""
    y_m = 0.0
    vertical_n, tension_n = lift_n, math.hypot(pull_n, lift_n)
    for part in parts:
        next_vertical_n = vertical_n + part.length_m * part.weight_n_per_m
        next_tension_n = math.hypot(pull_n, next_vertical_n)
        y_m += part.length_m * (vertical_n + next_vertical_n) / (tension_n + next_tension_n)
        vertical_n, tension_n = next_vertical_n, next_tension_n
    return y_m


def _last(
    holds: Callable[[float], bool], low: float, high: float, *, geometric: bool = False
) -> float:
    """Halve the interval to the last float for which ``holds``, which is true before, then false.

    Halving needs no derivative and cannot run away; it takes some sixty steps.
    """
    while True:
        middle = math.sqrt(low * high) if geometric else 0.5 * (low + high)
        if not low < middle < high:
            return low
        low, high = (middle, high) if holds(middle) else (low, middle)


def part_lengths_out(parts: Sequence[RodePart], length_m: float) -> tuple[RodePart, ...]:
    """Return the parts that are out when ``length_m`` is veered, the one at the anchor first.

    Raises UserInputError if there is not so much aboard.
    """
    if not_negative("The rode in metres", length_m) > total_length_m(parts) * (1.0 + 1e-12):
        raise UserInputError(
            f"There is no {length_m:.6g} m of rode aboard, only {total_length_m(parts):.6g} m.",
            remedy="Give a shorter rode, or correct what is aboard.",
        )
    starts = [0.0]
    for part in parts:
        starts.append(starts[-1] + part.length_m)
    return tuple(
        RodePart(length_m=min(end, length_m) - start, weight_n_per_m=part.weight_n_per_m)
        for part, (start, end) in zip(parts, pairwise(starts), strict=True)
        if start < length_m
    )
