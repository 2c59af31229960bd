"""The wind keeps to its plan."""

import math
from statistics import fmean, pstdev

import pytest

from driftlead.simulate.timeline import Timeline, steady
from driftlead.simulate.wind import WindPlan, WindProcess


def test_the_wind_gusts_and_swings_about_its_mean() -> None:
    """Gusts are a share of the mean speed, the swing some degrees either side."""
    plan = WindPlan(speed_mps=steady(10.0), from_deg=steady(200.0))
    process = WindProcess(plan, seed=1)
    winds = [process.step(float(t_s), 1.0) for t_s in range(20_000)]
    assert fmean(w.speed_mps for w in winds) == pytest.approx(10.0, rel=0.02)
    assert pstdev(w.speed_mps for w in winds) == pytest.approx(1.3, rel=0.1)
    assert fmean(w.from_deg for w in winds) == pytest.approx(200.0, abs=1.0)
    assert pstdev(w.from_deg for w in winds) == pytest.approx(5.0, rel=0.15)


def test_light_air_comes_from_anywhere() -> None:
    """Light and variable: below a knot or so the direction wanders several times as far."""
    spread = {}
    for mean_mps in (0.5, 10.0):
        plan = WindPlan(speed_mps=steady(mean_mps), from_deg=steady(180.0))
        process = WindProcess(plan, seed=2)
        spread[mean_mps] = pstdev(process.step(float(t), 1.0).from_deg for t in range(10_000))
    assert spread[0.5] > 3.0 * spread[10.0]


def test_a_shift_written_through_north_stays_a_bearing() -> None:
    """A wind that veers from 340 to 400 blows from 040 in the end."""
    plan = WindPlan(
        speed_mps=steady(10.0), from_deg=Timeline(((0.0, 340.0), (60.0, 400.0))), swing_deg=0.0
    )
    process = WindProcess(plan, seed=3)
    bearings = [process.step(float(t), 1.0).from_deg for t in range(62)]
    assert all(0.0 <= bearing < 360.0 for bearing in bearings)
    assert math.cos(math.radians(bearings[-1] - 40.0)) > 0.999
