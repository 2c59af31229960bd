"""The boat does what boats at anchor do."""

import math
from itertools import pairwise
from statistics import fmean

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.simulate.boat import Boat, BoatFigures, Tether
from driftlead.simulate.wind import Wind
from driftlead.tackle.catenary import hang, submerged_weight_n_per_m
from driftlead.tackle.reach import bar_taut_reach_m

STILL_WATER = (0.0, 0.0)
RODE = Tether(anchor_en_m=(0.0, 0.0), rode_m=38.0, drop_m=7.7)
DT_S = 0.25


def lie(
    boat: Boat, wind: Wind, *, seconds: int, stream: tuple[float, float] = STILL_WATER
) -> list[tuple[float, float, float]]:
    """Let her lie; bow east, north and heading, each second."""
    seen = []
    for _ in range(seconds):
        for _ in range(4):
            boat.step(DT_S, wind=wind, stream_en_mps=stream, tether=RODE)
        seen.append((*boat.bow_en_m, boat.heading_deg))
    return seen


def boat(*, bow: tuple[float, float] = (0.0, -30.0), heading_deg: float = 0.0) -> Boat:
    return Boat(BoatFigures(), seed=11, bow_en_m=bow, heading_deg=heading_deg)


@pytest.mark.parametrize("speed_mps", [4.0, 8.0, 14.0])
def test_she_lies_downwind_as_far_off_as_the_catenary_says(speed_mps: float) -> None:
    """Her reach is that of the rode under the mean drag of the wind, F = 1/2 rho CdA V^2."""
    figures = BoatFigures()
    seen = lie(boat(), Wind(speed_mps, 0.0), seconds=3000)[1000:]
    pull = 0.5 * 1.225 * figures.windage_m2 * speed_mps**2
    chain = submerged_weight_n_per_m(figures.chain_kg_per_m)
    reach = fmean(math.hypot(east, north) for east, north, _ in seen)
    assert reach == pytest.approx(hang(38.0, 7.7, pull, chain).reach_m, abs=0.7)
    assert fmean(north for _, north, _ in seen) == pytest.approx(-reach, rel=0.06)
    assert fmean(east for east, _, _ in seen) == pytest.approx(0.0, abs=3.0)


def test_she_sheers_through_tens_of_degrees_in_a_minute_to_a_few() -> None:
    """15 to 45 degrees to either side, 60 to 200 s there and back."""
    seen = lie(boat(), Wind(9.0, 0.0), seconds=6000)
    off = [(heading + 180.0) % 360.0 - 180.0 for _, _, heading in seen]
    starts = [second for second in range(1, len(off)) if off[second - 1] < 0.0 <= off[second]]
    periods = sorted(b - a for a, b in pairwise(starts))
    peaks = sorted(max(off[a:b]) for a, b in pairwise(starts))
    middle = len(peaks) // 2
    assert 60 <= periods[middle] <= 200
    assert 15.0 <= peaks[middle] <= 45.0
    assert peaks[-1] < 60.0


def test_a_stream_stronger_than_the_wind_turns_her_round() -> None:
    """Tide-rode: a knot and more of stream from astern of a light air."""
    seen = lie(boat(), Wind(2.0, 0.0), seconds=6000, stream=(0.0, 0.7))
    _, north, heading_deg = seen[-1]
    assert north > 25.0
    assert math.cos(math.radians(heading_deg - 180.0)) > 0.7


def test_in_a_calm_she_may_lie_anywhere_above_her_rode() -> None:
    """With nothing to push her she stays where she is, far inside the circle."""
    seen = lie(boat(bow=(5.0, 0.0)), Wind(0.0, 0.0), seconds=1200)
    assert all(math.hypot(east - 5.0, north) < 1.0 for east, north, _ in seen)


def test_a_boat_whose_anchor_no_longer_holds_her_head_falls_off_beam_to_the_wind() -> None:
    """In a breakout she lies across the wind and stops sheering."""
    drifting = boat()
    for _ in range(4 * 300):
        drifting.step(
            DT_S, wind=Wind(12.0, 0.0), stream_en_mps=STILL_WATER, tether=None, adrift=1.0
        )
    assert 50.0 < drifting.heading_deg < 90.0
    assert drifting.bow_n_m < -60.0


@settings(max_examples=25, deadline=None)
@given(
    speed_mps=st.floats(0.0, 30.0),
    from_deg=st.floats(0.0, 360.0),
    bearing_deg=st.floats(0.0, 360.0),
    thrust_n=st.floats(-3000.0, 3000.0),
)
def test_the_bow_never_goes_beyond_the_bar_taut_rode(
    speed_mps: float, from_deg: float, bearing_deg: float, thrust_n: float
) -> None:
    """Whatever blows and whatever the engine does."""
    toward = math.radians(bearing_deg)
    riding = boat(bow=(36.0 * math.sin(toward), 36.0 * math.cos(toward)))
    limit_m = bar_taut_reach_m(RODE.rode_m, RODE.drop_m)
    for _ in range(800):
        riding.step(
            DT_S,
            wind=Wind(speed_mps, from_deg),
            stream_en_mps=(0.5, -0.5),
            tether=RODE,
            thrust_n=thrust_n,
        )
        assert math.hypot(*riding.bow_en_m) <= limit_m + 1e-9


def test_the_antenna_is_its_length_aft_of_the_bow_and_swings_with_her() -> None:
    """Its velocity is the rate of change of its place, the swing of the stern included."""
    riding = boat(heading_deg=80.0)
    before = None
    for step in range(2000):
        riding.step(DT_S, wind=Wind(10.0, 30.0), stream_en_mps=STILL_WATER, tether=RODE)
        now, velocity = riding.antenna_en_m, riding.antenna_v_mps
        assert math.dist(now, riding.bow_en_m) == pytest.approx(8.0)
        if before is not None and step > 40:
            moved = ((now[0] - before[0]) / DT_S, (now[1] - before[1]) / DT_S)
            assert moved == pytest.approx(velocity, abs=0.02)
        before = now
    ahead = math.radians(riding.heading_deg)
    bow = riding.antenna_en_m[0] + 8.0 * math.sin(ahead)
    assert bow == pytest.approx(riding.bow_e_m)


def test_rope_stretches_with_the_load_and_no_farther_than_it_can() -> None:
    """10 % at 700 N: she lies a few metres farther off in a gale, and hardly so in a breeze."""
    chain_taut_m = bar_taut_reach_m(RODE.rode_m, RODE.drop_m)
    rope = evolve(BoatFigures(), chain_kg_per_m=0.4, stretch=0.10, stretch_n=700.0)
    farthest = {}
    for speed_mps in (4.0, 20.0):
        riding = Boat(rope, seed=11, bow_en_m=(0.0, -30.0), heading_deg=0.0)
        seen = lie(riding, Wind(speed_mps, 0.0), seconds=1200)[300:]
        farthest[speed_mps] = max(math.hypot(east, north) for east, north, _ in seen)
    assert farthest[4.0] < chain_taut_m + 1.0
    assert chain_taut_m + 2.0 < farthest[20.0]
    assert farthest[20.0] <= bar_taut_reach_m(1.10 * RODE.rode_m, RODE.drop_m) + 1e-6


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_half_a_second_is_a_fine_enough_step(seed: int) -> None:
    """She lies as far off and as quietly as worked out five times as finely."""
    reach, speed = {}, {}
    for dt_s in (0.1, 0.5):
        riding = Boat(BoatFigures(), seed=seed, bow_en_m=(0.0, -30.0), heading_deg=0.0)
        seen = []
        for step in range(round(1800 / dt_s)):
            riding.step(dt_s, wind=Wind(9.0, 0.0), stream_en_mps=STILL_WATER, tether=RODE)
            if step * dt_s > 300.0:
                seen.append((math.hypot(*riding.bow_en_m), math.hypot(*riding.bow_v_mps)))
        reach[dt_s] = fmean(reach_m for reach_m, _ in seen)
        speed[dt_s] = fmean(mps for _, mps in seen)
    assert reach[0.5] == pytest.approx(reach[0.1], abs=0.4)
    assert speed[0.5] == pytest.approx(speed[0.1], rel=0.35)
