"""How much it tells where she lies: by the wind, or by how she heads."""

import math
from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import j0

from driftlead.watch import firmness
from driftlead.watch.firmness import Firmness

STEP_S = 10.0


def after(
    headings: Iterable[float | None] = (), *, winds: Iterable[float | None] | None = None
) -> float:
    """What it comes to after steps of ten seconds."""
    headings = list(headings)
    winds = [None] * len(headings) if winds is None else list(winds)
    headings = headings or [None] * len(winds)
    follows = Firmness()
    for wind_mps, heading_deg in zip(winds, headings, strict=True):
        told = follows.take(STEP_S, wind_mps=wind_mps, heading_deg=heading_deg)
    return told


def sheering(amplitude_deg: float, steps: int = 720) -> list[float]:
    """Heading south and sheering to either side, in a minute and a half."""
    return [180.0 + amplitude_deg * math.sin(math.tau * step / 9.3) for step in range(steps)]


class TestWind:
    """With a wind instrument."""

    def test_in_a_breeze_it_tells_all_and_in_light_airs_nearly_nothing(self) -> None:
        assert after(winds=[firmness.FIRM_MPS + 0.1] * 10) == 1.0
        assert after(winds=[firmness.LIGHT_MPS - 0.1] * 10) == firmness.LEAST
        assert after(winds=[0.0] * 10) == firmness.LEAST

    def test_the_more_wind_the_more_it_tells(self) -> None:
        told = [after(winds=[0.5 * half] * 3) for half in range(30)]
        assert told == sorted(told)
        assert all(0.0 < each <= 1.0 for each in told)

    def test_a_gust_in_light_airs_does_not_pull_the_rode_straight(self) -> None:
        calm = [1.0] * 60
        assert after(winds=[*calm, 12.0]) < 0.5
        assert after(winds=[*calm, *[12.0] * 60]) == 1.0

    def test_a_lull_in_a_breeze_does_not_let_it_go_slack(self) -> None:
        assert after(winds=[*[9.0] * 60, 0.0]) == 1.0
        assert after(winds=[*[9.0] * 60, *[0.0] * 60]) == firmness.LEAST

    def test_it_counts_and_not_the_head(self) -> None:
        assert after([180.0] * 60, winds=[0.5] * 60) == firmness.LEAST
        assert after([37.0 * step for step in range(60)], winds=[9.0] * 60) == 1.0


class TestHead:
    """Without one."""

    def test_nothing_known_it_tells_something(self) -> None:
        assert after([None] * 10) == firmness.UNKNOWN

    def test_a_boat_that_sheers_comes_back_to_the_wind(self) -> None:
        for amplitude_deg in (0.0, 10.0, 25.0, 40.0):
            assert after(sheering(amplitude_deg)) == firmness.UNKNOWN

    def test_one_that_points_all_round_in_half_an_hour_lies_in_light_airs(self) -> None:
        round_and_round = [2.0 * step for step in range(720)]
        assert after(round_and_round) < 0.2
        assert after(round_and_round) >= firmness.LEAST_BY_HEAD

    def test_the_mean_resultant_length_of_sheering_is_as_published(self) -> None:
        """Of a head that swings by a sine of amplitude a: J0(a), here with scipy's; 45 deg: 0.85.

        Mardia & Jupp's measure; the step from loose to firm lies so that she then counts as firm.
        """
        assert j0(math.radians(45.0)) == pytest.approx(0.85, abs=0.005)
        assert j0(math.radians(45.0)) > firmness.FIRM_HEAD
        assert after(sheering(45.0)) == firmness.UNKNOWN

    def test_the_wider_she_sheers_the_less_it_tells(self) -> None:
        told = [after(sheering(amplitude_deg)) for amplitude_deg in (40, 60, 80, 100, 120)]
        assert told == sorted(told, reverse=True)
        assert told[-1] < told[0]

    def test_a_head_that_is_lost_leaves_it_unknown(self) -> None:
        assert after([*[2.0 * step for step in range(720)], None]) == firmness.UNKNOWN

    def test_north_is_as_good_as_any_other_way(self) -> None:
        assert after([(each + 180.0) % 360.0 for each in sheering(20.0)]) == firmness.UNKNOWN


@given(
    steps=st.lists(
        st.tuples(
            st.floats(0.0, 1000.0),
            st.none() | st.floats(0.0, 80.0),
            st.none() | st.floats(-720.0, 720.0),
        ),
        min_size=1,
        max_size=30,
    )
)
def test_it_is_always_a_part_of_the_whole(
    steps: list[tuple[float, float | None, float | None]],
) -> None:
    follows = Firmness()
    for gap_s, wind_mps, heading_deg in steps:
        assert 0.0 < follows.take(gap_s, wind_mps=wind_mps, heading_deg=heading_deg) <= 1.0
