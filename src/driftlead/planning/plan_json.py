"""The plan as JSON, version 1 (described in docs/planning.md): SI units, named in the keys."""

import datetime as dt
import math
from typing import TYPE_CHECKING, Any, Final

from driftlead.planning.plan import SHANK_LIMIT_DEG, Moment, Plan
from driftlead.planning.plan_words import PlanWords
from driftlead.units import Printer

if TYPE_CHECKING:
    from driftlead.planning.plan_lights import Darkness

PLAN_VERSION: Final = 1


def plan_to_json(plan: Plan, darkness: "Darkness | None") -> dict[str, Any]:
    """Give a plain dict. What is infinite or not known is null."""
    boat, stay = plan.boat, plan.stay
    return {
        "v": PLAN_VERSION,
        "begins": stay.begins.isoformat(),
        "ends": stay.ends.isoformat(),
        "rode_m": _rounded(plan.rode_m),
        "chain_out_m": _rounded(plan.chain_out_m),
        "aboard_m": _rounded(boat.aboard_m),
        "governs": plan.governs.value,
        "scope_rule": plan.rule.ratio,
        "by_scope_m": _rounded(plan.by_scope_m),
        "by_gusts_m": _rounded(plan.by_gusts_m),
        "short_of_scope_m": _rounded(plan.short_of_scope_m),
        "short_of_gusts_m": _rounded(plan.short_of_gusts_m),
        "wind_mps": _rounded(stay.wind_mps),
        "gust_mps": _rounded(stay.gust_mps),
        "drag_area_m2": _rounded(boat.drag_area_m2),
        "mean_load_n": _rounded(plan.mean_load_n),
        "gust_load_n": _rounded(plan.gust_load_n),
        "bow_load_n": _rounded(plan.bow_load_n),
        "shank_deg": _rounded(plan.shank_deg),
        "lying_m": _rounded(plan.lying_m),
        "level_to_gust_mps": _rounded(plan.level_to_mps),
        "shank_limit_deg": SHANK_LIMIT_DEG,
        "below_limit_to_gust_mps": _rounded(plan.bite_to_mps),
        "snubber": None
        if plan.snubber is None
        else {
            "stretch_m": _rounded(plan.snubber.stretch_m),
            "breaking_share": _rounded(plan.snubber.breaking_share),
        },
        "design_load": None
        if plan.design is None
        else {
            "duty": plan.design.duty.value,
            "wind_mps": _rounded(plan.design.wind_mps),
            "load_n": _rounded(plan.design.load_n),
        },
        "most_water": _moment(plan.most),
        "least_water": _moment(plan.least),
        "touches": [
            {"from": start.isoformat(timespec="seconds"), "to": end.isoformat(timespec="seconds")}
            for start, end in plan.touches
        ],
        "hours": [_moment(moment) for moment in plan.moments],
        "dark": None if darkness is None else _dark(darkness),
        "warnings": PlanWords(plan, Printer()).warnings(),
    }


def _moment(moment: Moment) -> dict[str, Any]:
    lie = moment.lie
    return {
        "t": moment.when.isoformat(),
        "turn": moment.turn or None,
        "tide_m": _rounded(moment.tide_m),
        "depth_m": _rounded(moment.depth_m),
        "under_keel_m": _rounded(moment.under_keel_m),
        "scope": _rounded(moment.scope),
        "shank_deg": None if lie is None else _rounded(lie.anchor_angle_deg),
        "reach_m": None if lie is None else _rounded(lie.reach_m),
    }


def _dark(darkness: "Darkness") -> list[dict[str, str]]:
    def text(when: dt.datetime) -> str:
        return when.isoformat(timespec="seconds")

    return [
        {"sunset": text(spell.sunset), "sunrise": text(spell.sunrise)} for spell in darkness.spells
    ]


def _rounded(value: float | None) -> float | None:
    return None if value is None or math.isinf(value) else round(value, 3)
