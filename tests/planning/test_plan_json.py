"""The plan as JSON."""

import datetime as dt
import json
import math

import pytest

from driftlead.planning.plan import make_plan
from driftlead.planning.plan_boat import plan_boat
from driftlead.planning.plan_json import plan_to_json
from driftlead.planning.plan_lights import Dark, Darkness
from driftlead.planning.plan_settings import PlanSettings
from driftlead.planning.plan_stay import plan_stay
from driftlead.tide.table import TideTable, Turn

EVENING = dt.datetime(2026, 6, 14, 20, 0, tzinfo=dt.timezone(dt.timedelta(hours=-2)))
TIDE = TideTable(
    (
        Turn(when=EVENING, height_m=4.4),
        Turn(when=EVENING + dt.timedelta(hours=6), height_m=0.8),
        Turn(when=EVENING + dt.timedelta(hours=12), height_m=4.6),
    )
)
PLAN = make_plan(
    plan_boat(
        PlanSettings(
            length_m=9.6, draught_m=1.7, bow_height_m=1.0, chain_m=60.0, chain_size_m=0.008
        )
    ),
    plan_stay(
        begins=EVENING,
        for_s=12 * 3600.0,
        depth_m=None,
        charted_m=0.5,
        tide=TIDE,
        wind_mps=12.0,
        scope=8.0,
    ),
)
KEYS = [
    "v",
    "begins",
    "ends",
    "rode_m",
    "chain_out_m",
    "aboard_m",
    "governs",
    "scope_rule",
    "by_scope_m",
    "by_gusts_m",
    "short_of_scope_m",
    "short_of_gusts_m",
    "wind_mps",
    "gust_mps",
    "drag_area_m2",
    "mean_load_n",
    "gust_load_n",
    "bow_load_n",
    "shank_deg",
    "lying_m",
    "level_to_gust_mps",
    "shank_limit_deg",
    "below_limit_to_gust_mps",
    "snubber",
    "design_load",
    "most_water",
    "least_water",
    "touches",
    "hours",
    "dark",
    "warnings",
]


def test_it_is_version_1_with_its_keys_in_order_and_plain_json() -> None:
    data = plan_to_json(PLAN, None)
    assert list(data) == KEYS
    assert data["v"] == 1
    assert json.loads(json.dumps(data, allow_nan=False)) == data


def test_figures_are_si_as_planned() -> None:
    data = plan_to_json(PLAN, None)
    assert data["rode_m"] == PLAN.rode_m == 49.0
    assert data["wind_mps"] == 12.0
    assert data["gust_load_n"] == pytest.approx(PLAN.gust_load_n, abs=1e-3)
    assert data["most_water"]["depth_m"] == pytest.approx(5.1)
    assert data["most_water"]["turn"] == "HW"
    assert data["least_water"]["under_keel_m"] == pytest.approx(0.5 + 0.8 - 1.7)
    assert len(data["hours"]) == 13
    assert data["hours"][1] == {
        "t": "2026-06-14T21:00:00-02:00",
        "turn": None,
        "tide_m": pytest.approx(4.159, abs=1e-3),
        "depth_m": pytest.approx(4.659, abs=1e-3),
        "under_keel_m": pytest.approx(2.959, abs=1e-3),
        "scope": pytest.approx(49.0 / 5.659, abs=1e-3),
        "shank_deg": 0.0,
        "reach_m": pytest.approx(48.3, abs=0.2),
    }
    assert [list(spell) for spell in data["touches"]] == [["from", "to"]]
    assert any("TOUCH" in warning for warning in data["warnings"])


def test_what_is_infinite_or_unknown_is_null() -> None:
    assert math.isinf(PLAN.bite_to_mps)
    data = plan_to_json(PLAN, None)
    assert data["below_limit_to_gust_mps"] is None
    assert data["snubber"] is None
    assert data["dark"] is None


def test_darkness_is_told_in_the_ships_time() -> None:
    spell = Dark(sunset=EVENING, sunrise=EVENING + dt.timedelta(hours=8, seconds=3.3))
    data = plan_to_json(PLAN, Darkness(spells=(spell,), dark_throughout=False))
    assert data["dark"] == [
        {"sunset": "2026-06-14T20:00:00-02:00", "sunrise": "2026-06-15T04:00:03-02:00"}
    ]
