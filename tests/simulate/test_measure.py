"""Compass and vane err by their mounting."""

import pytest
from attrs import evolve

from driftlead.simulate.measure import Measuring
from driftlead.simulate.scenario import Instruments
from driftlead.simulate.scenarios import steady_breeze
from driftlead.simulate.truth import TruthSample
from driftlead.simulate.wind import Wind

SCENARIO = steady_breeze(seed=3, lasts_s=60.0)
TRUTH = TruthSample(
    t_s=0.0,
    bow_en_m=(0.0, 0.0),
    bow_v_mps=(0.0, 0.0),
    antenna_en_m=(0.0, -8.0),
    antenna_v_mps=(0.0, 0.0),
    heading_deg=0.0,
    wind=Wind(7.0, 350.0),
    depth_m=6.0,
    anchor_en_m=None,
    rode_m=None,
    dragged_m=0.0,
    dragged_path_m=0.0,
)


@pytest.mark.parametrize(
    ("heading_deg", "told_deg"), [(0.0, 2.0), (90.0, 95.0), (180.0, 182.0), (270.0, 269.0)]
)
def test_the_compass_has_an_offset_and_a_deviation_that_goes_with_the_heading(
    heading_deg: float, told_deg: float
) -> None:
    """2 degrees always, and 3 times the sine of the heading (coefficient B of a deviation card)."""
    instruments = Instruments(
        compass_off_deg=2.0, compass_deviation_deg=3.0, compass_deg=0.0, sounder_m=0.0
    )
    measuring = Measuring(evolve(SCENARIO, instruments=instruments))
    reading = measuring.step(evolve(TRUTH, heading_deg=heading_deg))
    assert reading.heading_deg == pytest.approx(told_deg)
    assert reading.depth_m == pytest.approx(6.0)


def test_a_vane_that_is_set_askew_turns_the_wind() -> None:
    measuring = Measuring(evolve(SCENARIO, instruments=Instruments(vane_off_deg=4.0)))
    assert measuring.step(TRUTH).wind == Wind(7.0, 354.0)
