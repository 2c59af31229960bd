"""The demo nights are what they are named for."""

import math

import pytest
from attrs import evolve

from driftlead.simulate.manoeuvre import Manoeuvre
from driftlead.simulate.receiver import Multipath
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.scenarios import EARLIEST_DATE, demo_nights
from driftlead.simulate.truth import TruthProcess, TruthSample, depth_at_m

NIGHTS = {scenario.name: scenario for scenario in demo_nights()}


def truth_of(scenario: Scenario) -> list[TruthSample]:
    """The true night alone, a sample a quarter of a minute; nobody talks."""
    coarse = evolve(scenario, fix_interval_s=15.0, talk={})
    let_go_s = scenario.anchoring.let_go_s
    manoeuvre = Manoeuvre(
        scenario.anchoring,
        drop_m=depth_at_m(scenario, let_go_s, (0.0, 0.0)) + scenario.boat.bow_height_m,
        into_wind_deg=scenario.wind.from_deg.at(let_go_s),
    )
    return list(TruthProcess(coarse, manoeuvre).samples())


def riding(samples: list[TruthSample]) -> list[tuple[TruthSample, float, float]]:
    """Samples well after laying back, with the bow's distance and bearing from the anchor."""
    found = []
    for sample in samples:
        if sample.anchor_en_m is None or sample.t_s < 900.0 or sample.rode_m is None:
            continue
        east = sample.bow_en_m[0] - sample.anchor_en_m[0]
        north = sample.bow_en_m[1] - sample.anchor_en_m[1]
        bearing_deg = math.degrees(math.atan2(east, north)) % 360.0
        found.append((sample, math.hypot(east, north), bearing_deg))
    return found


def turned_deg(a_deg: float, b_deg: float) -> float:
    return abs((b_deg - a_deg + 180.0) % 360.0 - 180.0)


@pytest.mark.parametrize("scenario", demo_nights(), ids=lambda scenario: scenario.name)
def test_every_night_is_the_corvid_in_open_ocean(scenario: Scenario) -> None:
    """10.4 m, far from any land, six to eight metres deep, 35 to 40 m of rode, 2 to 8 hours."""
    assert scenario.drop.lat_deg == pytest.approx(46.5, abs=0.02)
    assert scenario.drop.lon_deg == pytest.approx(-31.2, abs=0.02)
    assert (scenario.boat.length_m, scenario.boat.bow_height_m) == (10.4, 1.2)
    assert scenario.boat.antenna_aft_m == 8.0
    assert 35.0 <= scenario.anchoring.rode_m <= 40.0
    assert 2.0 <= scenario.lasts_s / 3600.0 <= 8.0
    assert scenario.start_utc.date() > EARLIEST_DATE
    depths = [depth_at_m(scenario, t_s, (0.0, 0.0)) for t_s in range(0, int(scenario.lasts_s), 600)]
    assert min(depths) > 5.5
    assert max(depths) < 8.1


def test_names_and_seeds_are_each_used_once() -> None:
    """A night is known by its name."""
    assert len(NIGHTS) == len(demo_nights())
    assert len({scenario.seed for scenario in demo_nights()}) == len(NIGHTS)


def test_only_the_three_dragging_nights_drag() -> None:
    """The rest hold, whatever happens in them."""
    dragging = {name for name, scenario in NIGHTS.items() if scenario.holding.drag}
    assert dragging == {"slow-drag", "breakout", "late-set"}


def test_in_the_quiet_night_she_wanders_over_her_rode_in_the_calm() -> None:
    """Far inside the reach she has in the breeze, and she comes back to it."""
    seen = riding(truth_of(NIGHTS["quiet-night"]))
    calm = [reach for sample, reach, _ in seen if 4.2 * 3600 < sample.t_s < 5.8 * 3600]
    breeze = [reach for sample, reach, _ in seen if sample.t_s < 3 * 3600]
    assert min(calm) < 12.0
    assert min(breeze) > 30.0


def test_the_wind_shift_swings_her_through_120_degrees() -> None:
    """From a southerly to a north-westerly: from north of the anchor to south-east of it."""
    seen = riding(truth_of(NIGHTS["wind-shift"]))
    before = [bearing for sample, _, bearing in seen if sample.t_s < 1.9 * 3600]
    after = [bearing for sample, _, bearing in seen if sample.t_s > 2.6 * 3600]
    assert all(turned_deg(bearing, 10.0) < 35.0 for bearing in before)
    assert all(turned_deg(bearing, 134.0) < 35.0 for bearing in after)


def test_the_turn_of_tide_puts_her_on_the_other_side_of_her_anchor() -> None:
    """West of it on the ebb, east of it on the flood."""
    seen = riding(truth_of(NIGHTS["tide-turn"]))
    ebb = [bearing for sample, _, bearing in seen if sample.t_s < 1.5 * 3600]
    flood = [bearing for sample, _, bearing in seen if sample.t_s > 5.0 * 3600]
    assert all(turned_deg(bearing, 255.0) < 30.0 for bearing in ebb)
    assert all(turned_deg(bearing, 75.0) < 30.0 for bearing in flood)


def test_the_slow_drag_holds_for_hours_and_then_drags_in_the_squall() -> None:
    """Slower than 0.11 m/s: no speed of the boat's would give it away."""
    scenario = NIGHTS["slow-drag"]
    drag = scenario.holding.drag
    assert drag is not None
    assert drag.begins_s > 4 * 3600
    assert 0.05 <= max(mps for _, mps in drag.speed_mps.points) <= 0.1
    assert scenario.wind.speed_mps.at(drag.begins_s) > 13.0
    samples = truth_of(scenario)
    assert max(sample.dragged_m for sample in samples if sample.t_s <= drag.begins_s) == 0.0
    assert samples[-1].dragged_m > 100.0


def test_the_breakout_goes_off_at_a_knot_and_more() -> None:
    """And bites again."""
    drag = NIGHTS["breakout"].holding.drag
    assert drag is not None
    assert max(mps for _, mps in drag.speed_mps.points) > 0.51
    assert drag.ends_s < NIGHTS["breakout"].lasts_s - 600.0


def test_the_glitches_are_of_the_kinds_real_receivers_have() -> None:
    """Steps of 5 to 300 m for 10 to 90 s, some with a telling HDOP, none overlapping."""
    troubles = NIGHTS["receiver-glitches"].troubles
    assert {type(trouble).__name__ for trouble in troubles} == {
        "Multipath",
        "Held",
        "Void",
        "Silence",
    }
    steps = [trouble for trouble in troubles if isinstance(trouble, Multipath)]
    assert all(5.0 <= step.offset_m <= 300.0 and 10.0 <= step.lasts_s <= 90.0 for step in steps)
    assert {step.hdop is None for step in steps} == {True, False}
    times = [time for t in troubles for time in (t.begins_s, t.begins_s + t.lasts_s)]
    assert times == sorted(times)


def test_the_late_night_is_set_half_an_hour_after_she_lay_back() -> None:
    """With the boat far from over her anchor, and the drag long after."""
    scenario = NIGHTS["late-set"]
    late_s = scenario.anchoring.late_s
    drag = scenario.holding.drag
    assert late_s is not None
    assert drag is not None
    assert late_s - scenario.anchoring.let_go_s > 1800.0
    assert drag.begins_s - late_s > 3 * 3600
