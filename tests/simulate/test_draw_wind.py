"""Chance winds have the kinds of weather a watch must live through."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.simulate.draw_wind import Blow, draw_wind
from driftlead.simulate.noise import stream
from driftlead.simulate.timeline import Timeline
from driftlead.simulate.wind import WindPlan

HOUR_S = 3600.0
NIGHT_S = 8 * HOUR_S
NIGHTS = [draw_wind(stream(seed, "test wind"), lasts_s=NIGHT_S) for seed in range(300)]


def every_minute(plan: Timeline) -> list[float]:
    return [plan.at(60.0 * minute) for minute in range(int(NIGHT_S / 60) + 1)]


def calm_minutes(plan: WindPlan) -> int:
    return sum(mps < 1.0 for mps in every_minute(plan.speed_mps))


def most_turned_within_an_hour_deg(plan: WindPlan) -> float:
    bearings = every_minute(plan.from_deg)
    return max(abs(b - a) for a, b in zip(bearings, bearings[60:], strict=False))


def test_some_nights_have_a_calm_of_an_hour_and_more_and_most_have_none() -> None:
    """Three in ten die, and a few are light all night; a calm lasts three hours and its edges."""
    calms = [calm_minutes(plan) for plan in NIGHTS]
    assert 0.2 < sum(minutes >= 60 for minutes in calms) / len(NIGHTS) < 0.45
    assert sum(minutes == 0 for minutes in calms) / len(NIGHTS) > 0.5


def test_after_a_calm_the_wind_comes_back() -> None:
    """In most nights that have one: it may last until the end of the night."""
    died = [plan for plan in NIGHTS if calm_minutes(plan) >= 60]
    back = [plan for plan in died if plan.speed_mps.at(NIGHT_S) > 1.5]
    assert len(back) > 0.5 * len(died)


def test_in_half_of_the_nights_the_wind_shifts_far_within_an_hour() -> None:
    """By 40 degrees and more."""
    turned = [most_turned_within_an_hour_deg(plan) for plan in NIGHTS]
    assert 0.4 < sum(deg >= 40.0 for deg in turned) / len(NIGHTS) < 0.85
    assert max(turned) > 150.0
    assert min(turned) < 20.0


@given(
    begins_s=st.floats(3000.0, 20_000.0),
    lasts_s=st.floats(10.0, 8000.0),
    least_mps=st.floats(5.0, 12.0),
    seed=st.integers(0, 10_000),
)
def test_it_blows_where_it_has_to(
    begins_s: float, lasts_s: float, least_mps: float, seed: int
) -> None:
    """Never less than asked for while the anchor drags, whatever the weather else."""
    blow = Blow(begins_s, begins_s + lasts_s, least_mps)
    plan = draw_wind(stream(seed, "test blow"), lasts_s=NIGHT_S, blow=blow)
    for part in range(21):
        assert plan.speed_mps.at(begins_s + part / 20.0 * lasts_s) >= least_mps - 1e-6


def test_a_blow_gets_up_and_dies_within_an_hour() -> None:
    """Full from ten minutes before to ten minutes after, half an hour further off half of it."""
    blow = Blow(10_000.0, 12_000.0, 8.0)
    assert blow.at(10_000.0 - 600.0) == blow.at(12_600.0) == pytest.approx(8.0)
    assert blow.at(10_000.0 - 2400.0) == blow.at(14_400.0) == pytest.approx(4.0)
    assert blow.at(10_000.0 - 4200.0) == blow.at(16_200.0) == 0.0
