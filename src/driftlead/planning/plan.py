"""How much rode to veer, and whether it will hold: the plan of one stay at anchor.

Two answers stand side by side: the rule of scope, and mechanics, the length that keeps the chain
level at the anchor in the gusts at high water (with rope alone, the shank below eight degrees).
The longer one governs. Reckoned in still water, so neither stream nor waves are in it.
"""

import datetime as dt
import math
from collections.abc import Iterator
from enum import StrEnum
from typing import Final

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.planning.plan_boat import PlanBoat
from driftlead.planning.plan_scope import ScopeRule, scope_rule
from driftlead.planning.plan_stay import Stay
from driftlead.tackle.catenary import Catenary
from driftlead.tackle.design_load import DesignLoad, design_load, duty_for
from driftlead.tackle.mixed_rode import (
    hang_parts,
    part_lengths_out,
    pull_that_lifts_n,
    shortest_rode_m,
)
from driftlead.tackle.snubber import SnubberLoad
from driftlead.tackle.wind_load import wind_load_n, wind_of_load_mps

SHANK_LIMIT_DEG: Final = 8.0
"""About the most an anchor bears without losing hold (SAIL magazine, Hancock)."""

_LONGEST_BY_HOUR: Final = dt.timedelta(hours=24)


class Governs(StrEnum):
    """Which of the two answers is the longer."""

    SCOPE = "scope"
    GUSTS = "gusts"


@frozen(kw_only=True)
class Moment:
    """How she lies in the gusts at one time of the stay.

    ``turn`` is ``HW`` or ``LW`` or empty. ``lie`` is None where there is no water to lie in.
    """

    when: dt.datetime
    turn: str
    tide_m: float | None
    depth_m: float
    under_keel_m: float | None
    scope: float
    lie: Catenary | None


@frozen(kw_only=True)
class Plan:
    """The plan. Lengths in metres, loads in newtons, winds in m/s.

    ``rode_m`` is what to veer: the longer of ``by_scope_m`` and ``by_gusts_m`` in whole steps, or
    all there is; ``most`` and ``least`` are when the water is deepest and least deep. The anchor's
    end of ``rode_m`` stays level at high water in gusts up to ``level_to_mps``, and below
    ``SHANK_LIMIT_DEG`` up to ``bite_to_mps``; infinite: in any.
    """

    boat: PlanBoat
    stay: Stay
    rule: ScopeRule
    by_scope_m: float
    by_gusts_m: float
    governs: Governs
    rode_m: float
    chain_out_m: float
    most: Moment
    least: Moment
    moments: tuple[Moment, ...]
    mean_load_n: float
    gust_load_n: float
    bow_load_n: float
    shank_deg: float
    lying_m: float
    level_to_mps: float
    bite_to_mps: float
    snubber: SnubberLoad | None
    design: DesignLoad | None
    touches: tuple[tuple[dt.datetime, dt.datetime], ...]

    @property
    def short_of_scope_m(self) -> float:
        """How much rode is missing for the rule of scope; zero where there is enough."""
        return max(0.0, self.by_scope_m - self.boat.aboard_m)

    @property
    def short_of_gusts_m(self) -> float:
        """How much rode is missing for the gusts; zero where there is enough."""
        return max(0.0, self.by_gusts_m - self.boat.aboard_m)


def make_plan(boat: PlanBoat, stay: Stay, *, rode_step_m: float = 1.0) -> Plan:
    """Work it out. ``rode_step_m`` is what rode is counted in: the answer is whole steps.

    Raises UserInputError where there is no water, or less rode than it takes to reach the bottom.
    """
    most_when, most_depth_m = stay.water.deepest(stay.begins, stay.ends)
    drop_m = _drop_m(boat, most_depth_m)
    gust_n = wind_load_n(stay.gust_mps, boat.drag_area_m2)
    rule = (
        scope_rule(drop_m=drop_m, chain_m=boat.chain_m, wind_mps=stay.wind_mps)
        if stay.scope is None
        else ScopeRule(ratio=stay.scope, why="your own rule")
    )
    by_scope_m = rule.ratio * drop_m
    # Rope hardly hangs: no useful length of it alone pulls level in any wind.
    limit_deg = 0.0 if boat.chain_m > 0.0 else SHANK_LIMIT_DEG
    by_gusts_m = shortest_rode_m(boat.rode, drop_m, gust_n, anchor_angle_deg=limit_deg)
    wanted_m = max(by_scope_m, by_gusts_m)
    rode_m = min(stepped_up_m(wanted_m, rode_step_m), boat.aboard_m)
    out = part_lengths_out(boat.rode, rode_m)
    lie = hang_parts(out, drop_m, gust_n)
    reckoning = _Reckoning(boat, stay, rode_m, gust_n)
    least_when, _ = stay.water.shallowest(stay.begins, stay.ends)
    design = (
        design_load(
            duty_for(stay.wind_mps), loa_m=boat.length_m, beam_m=boat.beam_m, hull=boat.hull
        )
        if boat.length_m is not None
        else None
    )
    return Plan(
        boat=boat,
        stay=stay,
        rule=rule,
        by_scope_m=by_scope_m,
        by_gusts_m=by_gusts_m,
        governs=Governs.SCOPE if by_scope_m >= by_gusts_m else Governs.GUSTS,
        rode_m=rode_m,
        chain_out_m=min(rode_m, boat.chain_m),
        most=reckoning.moment(most_when),
        least=reckoning.moment(least_when),
        moments=tuple(reckoning.moment(when) for when in _times(stay)),
        mean_load_n=wind_load_n(stay.wind_mps, boat.drag_area_m2),
        gust_load_n=gust_n,
        bow_load_n=lie.bow_tension_n,
        shank_deg=lie.anchor_angle_deg,
        lying_m=lie.lying_m,
        level_to_mps=_wind_mps(pull_that_lifts_n(out, drop_m, 0.0), boat),
        bite_to_mps=_wind_mps(pull_that_lifts_n(out, drop_m, SHANK_LIMIT_DEG), boat),
        snubber=boat.snubber.under(lie.bow_tension_n) if boat.snubber is not None else None,
        design=design,
        touches=_touches(boat, stay),
    )


def _drop_m(boat: PlanBoat, depth_m: float) -> float:
    if depth_m <= 0.0:
        raise UserInputError(
            f"There is no water at any time of the stay: {depth_m:.1f} m at the most.",
            remedy="Correct the depth or the tide table.",
        )
    drop_m = depth_m + boat.bow_height_m
    if boat.aboard_m <= drop_m:
        raise UserInputError(
            f"The {boat.aboard_m:g} m of rode aboard do not reach the bottom, {drop_m:.1f} m below "
            "the bow roller at its deepest.",
            remedy="Anchor in less water, or correct the depth, chain or rope.",
        )
    return drop_m


def _touches(boat: PlanBoat, stay: Stay) -> tuple[tuple[dt.datetime, dt.datetime], ...]:
    if boat.draught_m is None:
        return ()
    spells = stay.water.shallower_than(boat.draught_m, stay.begins, stay.ends)
    return tuple((stay.in_zone(start), stay.in_zone(end)) for start, end in spells)


def stepped_up_m(length_m: float, step_m: float) -> float:
    """Count a length up to whole steps; what is whole but for a rounding stays."""
    return math.ceil(length_m / step_m - 1e-9) * step_m


def _wind_mps(pull_n: float, boat: PlanBoat) -> float:
    return pull_n if math.isinf(pull_n) else wind_of_load_mps(pull_n, boat.drag_area_m2)


def _times(stay: Stay) -> Iterator[dt.datetime]:
    """Give begin and end, the tide's turns, and the full hours if that is a day or less.

    Without a tide nothing changes from one time to another, so there are none.
    """
    tide = stay.water.tide
    if tide is None:
        return
    times = {stay.begins, stay.ends}
    times.update(turn.when for turn in tide.turns_within(stay.begins, stay.ends))
    if stay.ends - stay.begins <= _LONGEST_BY_HOUR:
        hour = stay.begins.replace(minute=0, second=0, microsecond=0)
        while (hour := hour + dt.timedelta(hours=1)) < stay.ends:
            times.add(hour)
    yield from sorted(times)


@frozen
class _Reckoning:
    """What stays the same from one moment to the next."""

    boat: PlanBoat
    stay: Stay
    rode_m: float
    gust_n: float

    def moment(self, when: dt.datetime) -> Moment:
        boat, water = self.boat, self.stay.water
        depth_m = water.depth_m(when)
        drop_m = depth_m + boat.bow_height_m
        draught_m = boat.draught_m
        afloat = depth_m > 0.0
        return Moment(
            when=self.stay.in_zone(when),
            turn=self._turn(when),
            tide_m=water.tide.height_m(when) if water.tide is not None else None,
            depth_m=depth_m,
            under_keel_m=depth_m - draught_m if draught_m is not None else None,
            scope=self.rode_m / drop_m if afloat else math.inf,
            lie=(
                hang_parts(part_lengths_out(boat.rode, self.rode_m), drop_m, self.gust_n)
                if afloat
                else None
            ),
        )

    def _turn(self, when: dt.datetime) -> str:
        tide = self.stay.water.tide
        for turn in tide.turns_within(when, when) if tide is not None else ():
            return "HW" if tide is not None and tide.is_high(turn) else "LW"
        return ""
