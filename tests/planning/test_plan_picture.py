"""The rode drawn from the side."""

import datetime as dt
from xml.etree import ElementTree as ET

import pytest

from driftlead.planning.plan import Plan, make_plan
from driftlead.planning.plan_boat import plan_boat
from driftlead.planning.plan_picture import MARGIN, WIDTH, draw_plan
from driftlead.planning.plan_settings import PlanSettings
from driftlead.planning.plan_stay import plan_stay
from driftlead.tide.table import TideTable, Turn
from driftlead.units import Printer, UnitSystem

SVG = "{http://www.w3.org/2000/svg}"
EVENING = dt.datetime(2026, 6, 14, 20, 0, tzinfo=dt.UTC)
TIDE = TideTable(
    (
        Turn(when=EVENING, height_m=4.4),
        Turn(when=EVENING + dt.timedelta(hours=6), height_m=0.8),
        Turn(when=EVENING + dt.timedelta(hours=12), height_m=4.6),
    )
)


def plan(*, depth_m: float = 6.0, tide: TideTable | None = TIDE) -> Plan:
    """One of a sloop."""
    settings = PlanSettings(
        length_m=9.6, bow_height_m=1.0, chain_m=20.0, chain_size_m=0.008, rope_m=60.0
    )
    stay = plan_stay(
        begins=EVENING,
        for_s=12 * 3600.0,
        depth_m=depth_m,
        charted_m=None,
        tide=tide,
        wind_mps=9.0,
    )
    return make_plan(plan_boat(settings), stay)


def drawn(svg: str) -> ET.Element:
    """The picture's root."""
    return ET.fromstring(svg)  # noqa: S314  # we wrote it ourselves


def lines(svg: str) -> list[list[tuple[float, float]]]:
    """The points of every rode drawn."""
    found = drawn(svg).findall(f"{SVG}polyline")
    return [
        [(float(x), float(y)) for x, y in (p.split(",") for p in each.attrib["points"].split())]
        for each in found
    ]


def test_three_rodes_run_from_the_anchor_to_the_bow_all_to_one_scale() -> None:
    made = plan()
    gusts, wind, calm = lines(draw_plan(made, Printer()))
    assert gusts[0] == wind[0] == calm[0]
    assert gusts[-1][0] > wind[-1][0] > calm[-1][0]
    assert made.most.lie is not None
    scale = (gusts[-1][0] - MARGIN) / made.most.lie.reach_m
    climbed_m = (gusts[0][1] - gusts[-1][1]) / scale
    assert climbed_m == pytest.approx(made.most.depth_m + 1.0, abs=0.05)
    assert gusts[-1][0] == pytest.approx(WIDTH - MARGIN, abs=0.1)


@pytest.mark.parametrize("tide", [TIDE, None])
def test_high_and_low_water_are_drawn_if_there_is_a_tide(tide: TideTable | None) -> None:
    texts = [each.text or "" for each in drawn(draw_plan(plan(tide=tide), Printer())).iter()]
    assert any("high water, 6.2 m" in text for text in texts) is (tide is not None)
    assert any("low water" in text for text in texts) is (tide is not None)
    assert any(text == "water, 6.0 m" for text in texts) is (tide is None)


def test_water_that_dries_away_is_left_out() -> None:
    svg = draw_plan(plan(depth_m=3.0), Printer())
    assert "low water" not in svg
    assert "high water" in svg


def test_it_is_labelled_in_the_units_of_the_printout() -> None:
    svg = draw_plan(plan(), Printer(UnitSystem.FEET))
    assert "lbf" in svg
    assert "kN" not in svg
