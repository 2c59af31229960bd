"""The bank of hypotheses, held against brute force: grids, particles, matrix exponentials.

The figures the bank takes for granted may change; what is tested here is that it reckons rightly
with whatever it is given, and that it does what it is for.
"""

import json
import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import simpson
from scipy.linalg import expm
from scipy.special import log_ndtr
from scipy.stats import norm

from driftlead.tackle.drag_circle import DragCircle
from driftlead.watch.bank import (
    ANCHOR_E,
    ANCHOR_N,
    BROKEN_OUT,
    CREEPING,
    DRAGGING,
    HELD_AGAIN,
    MODES,
    MOVED,
    NEVER,
    QUICK_E,
    REACH,
    SIZE,
    SLOW_E,
    Bank,
    BankFigures,
    Lie,
    Start,
)
from driftlead.watch.starts import late_starts

Floats = NDArray[np.float64]
Track = Sequence[tuple[float, float]]

DT_S: Final = 10.0
REACH_M: Final = 30.0
USUAL: Final = BankFigures()
STILL: Final = BankFigures(
    slow_m=0.0,
    quick_m=0.0,
    settle_m=0.0,
    creep_m=0.0,
    reach_walk_m=0.0,
    reach_walk_part=0.0,
    start_rate=0.0,
)
"""Nothing changes of itself and the receiver errs by nothing but the noise of each step."""
CIRCLE: Final = DragCircle(reach_m=REACH_M, antenna_aft_m=0.0, rode_slack_m=0.0, allowance_m=0.0)
TAKEN: Final = {"sigma_m": 0.8, "taut_m": 1.5, "part": 0.16}
"""How a step is usually taken in a breeze."""


def start(**overrides: float) -> Start:
    """An anchor at the origin, known to 2 m, on ``REACH_M`` of rode, but for ``overrides``."""
    figures = {
        "east_m": 0.0,
        "north_m": 0.0,
        "var_ee": 4.0,
        "var_nn": 4.0,
        "var_en": 0.0,
        "reach_m": REACH_M,
        "reach_sigma_m": 1.0,
    }
    return Start(**(figures | overrides))


def polar(bearing_rad: float, distance_m: float) -> tuple[float, float]:
    """Metres east and north."""
    return distance_m * math.sin(bearing_rad), distance_m * math.cos(bearing_rad)


def sheering(
    steps: int,
    *,
    bearing_rad: float = 0.0,
    sheer_rad: float = 0.35,
    from_anchor_m: float = REACH_M - 0.5,
    rate_mps: float = 0.0,
    quiet: int = 0,
) -> list[tuple[float, float]]:
    """She sheers about in a breeze, her anchor at the origin; it comes home after ``quiet``."""
    track = []
    for step in range(1, steps + 1):
        east_m, north_m = polar(bearing_rad, rate_mps * DT_S * max(0, step - quiet))
        lies = polar(bearing_rad + sheer_rad * math.sin(step / 1.7), from_anchor_m)
        track.append((east_m + lies[0], north_m + lies[1]))
    return track


def follow(bank: Bank, track: Track, **how: float) -> list[float]:
    """Predict and take each place of a track; the log-odds after each."""
    taken = TAKEN | how
    odds = []
    for place in track:
        bank.predict(DT_S, place)
        bank.take(*place, **taken)
        odds.append(bank.log_odds_moved())
    return odds


def whole(log_odds: float) -> float:
    """The chance that goes with log-odds."""
    return 1.0 / (1.0 + math.exp(-log_odds))


# -- one step ------------------------------------------------------------------------------------


def along_a_line(
    *,
    x_m: float,
    x_sigma_m: float,
    boat_m: float,
    limit_m: float,
    sigma_m: float,
    rate: float,
    slack_odds: float,
    stray_odds: float,
) -> tuple[float, float, float]:
    """Chance of one step, then mean and variance of the anchor's place on a line, by two grids.

    The likelihood is exp(-slack rate) for a taut rode, 1 anywhere inside the limit for a slack
    one, and a little anywhere for what nothing explains.
    """
    x: Floats = np.linspace(x_m - 9.0 * x_sigma_m, x_m + 9.0 * x_sigma_m, 301)
    excess = boat_m - x - limit_m
    inside: Floats = np.linspace(-60.0, 0.0, 1201)
    believed = (1.0 - slack_odds) * np.exp(rate * inside) + slack_odds
    likelihood = np.array(
        [simpson(believed * norm.pdf(inside, loc=each, scale=sigma_m), x=inside) for each in excess]
    )
    density = norm.pdf(x, loc=x_m, scale=x_sigma_m) * (likelihood + stray_odds)
    chance = float(simpson(density, x=x))
    mean = float(simpson(x * density, x=x)) / chance
    return chance, mean, float(simpson((x - mean) ** 2 * density, x=x)) / chance


class TestStep:
    """One place of the boat, taken in."""

    @pytest.mark.parametrize("mode", [NEVER, DRAGGING])
    @pytest.mark.parametrize("part", [0.0, 0.15, 1.0])
    @pytest.mark.parametrize("excess_m", [-12.0, -2.0, 0.0, 2.0, 9.0])
    def test_it_is_the_brute_force_posterior_where_the_geometry_is_a_line(
        self, excess_m: float, part: float, mode: int
    ) -> None:
        """The moments of the truncated mixture to a ten-thousandth of the standard error."""
        x_sigma_m, sigma_m, limit_m, reach_m = 2.5, 0.9, 3.0, 90.0
        figures = evolve(STILL, slack_odds=0.08, slack_moving=1e-3, stray_odds=5e-4)
        line = {"var_ee": x_sigma_m**2, "var_nn": 0.0, "reach_sigma_m": 0.0, "reach_m": reach_m}
        bank = Bank(figures, [start(**line), start(**line, east_m=3.0)], by_fix=False)
        boat_m = reach_m + limit_m + excess_m
        bank.take(boat_m, 0.0, sigma_m=sigma_m, taut_m=1.5, part=part, limit_m=limit_m)
        truths = [
            along_a_line(
                x_m=x_m,
                x_sigma_m=x_sigma_m,
                boat_m=boat_m,
                limit_m=reach_m + limit_m,
                sigma_m=sigma_m,
                rate=part / 1.5,
                slack_odds=(0.08 if mode == NEVER else 0.08e-3) ** part,
                stray_odds=5e-4,
            )
            for x_m in (0.0, 3.0)
        ]
        for place, (_, mean_m, var) in enumerate(truths):
            assert bank.mean[place, mode, ANCHOR_E] == pytest.approx(mean_m, abs=1e-4 * x_sigma_m)
            assert bank.cov[place, mode, ANCHOR_E, ANCHOR_E] == pytest.approx(var, rel=1e-4)
        if mode == NEVER:
            weights = np.exp(bank.log_weight[:, NEVER])
            assert weights[1] / weights[0] == pytest.approx(truths[1][0] / truths[0][0], rel=1e-5)

    def test_nothing_but_the_boats_distance_is_learned_of(self) -> None:
        """Across the line to the boat the anchor's place is as uncertain as before."""
        bank = Bank(STILL, [start()], by_fix=False)
        bank.take(0.0, REACH_M + 3.0, **TAKEN)
        assert bank.cov[0, NEVER, ANCHOR_E, ANCHOR_E] == pytest.approx(4.0)
        assert bank.cov[0, NEVER, ANCHOR_N, ANCHOR_N] < 3.0
        assert bank.mean[0, NEVER, ANCHOR_E] == pytest.approx(0.0, abs=1e-12)
        assert bank.mean[0, NEVER, ANCHOR_N] > 0.5

    def test_several_steps_from_all_sides_are_near_the_exact_posterior(self) -> None:
        """Anchor and reach on a grid of a quarter of a million cells."""
        prior = start(var_ee=36.0, var_nn=36.0, reach_sigma_m=1.5)
        track = [polar(0.5 * step, 30.4 - 0.9 * (step % 3)) for step in range(9)]
        bank = Bank(STILL, [prior], by_fix=False)
        follow(bank, track)
        axis: Floats = np.linspace(-20.0, 20.0, 81)
        lengths: Floats = np.linspace(REACH_M - 6.0, REACH_M + 7.0, 40)
        east, north, reach = np.meshgrid(axis, axis, lengths, indexing="ij")
        log_p = -0.5 * (east**2 + north**2) / 36.0 - 0.5 * (reach - REACH_M) ** 2 / 1.5**2
        slack_odds = STILL.slack_odds ** TAKEN["part"]
        for place in track:
            excess = np.hypot(place[0] - east, place[1] - north) - reach
            log_p += log_likelihood(excess, slack_odds, STILL.stray_odds)
        weight = np.exp(log_p - log_p.max())
        weight /= weight.sum()
        lie = bank.never_moved()
        for found, quantity in ((lie.east_m, east), (lie.north_m, north), (lie.reach_m, reach)):
            mean = float((weight * quantity).sum())
            sigma = math.sqrt(float((weight * (quantity - mean) ** 2).sum()))
            assert found == pytest.approx(mean, abs=0.35 * sigma)
        spread = 0.5 * float((weight * (east**2 + north**2)).sum())
        spread -= 0.5 * float((weight * east).sum() ** 2 + (weight * north).sum() ** 2)
        assert lie.sigma_m == pytest.approx(math.sqrt(spread), rel=0.25)


def log_likelihood(excess: Floats, slack_odds: float | Floats, stray_odds: float) -> Floats:
    """Of a boat so far beyond reach, seen with the usual noise; worked out with scipy."""
    rate, sigma_m = TAKEN["part"] / TAKEN["taut_m"], TAKEN["sigma_m"]
    log_taut = rate * excess + 0.5 * (rate * sigma_m) ** 2
    log_taut += log_ndtr(-(excess + rate * sigma_m**2) / sigma_m) + np.log1p(-slack_odds)
    log_slack = np.log(slack_odds) + log_ndtr(-excess / sigma_m)
    log_p: Floats = np.logaddexp(np.logaddexp(log_taut, log_slack), math.log(stray_odds))
    return log_p


# -- time ----------------------------------------------------------------------------------------


def moments(bank: Bank) -> tuple[Floats, Floats, Floats]:
    """Of each place, over its modes: weight, weighted mean, weighted second moment."""
    weight = np.exp(bank.log_weight)
    outer = bank.mean[..., :, None] * bank.mean[..., None, :]
    return (
        weight.sum(axis=1),
        np.einsum("jm,jma->ja", weight, bank.mean),
        np.einsum("jm,jmab->jab", weight, bank.cov + outer),
    )


class TestTime:
    """What passes between two places of the boat."""

    def test_mixing_conserves_weight_and_the_first_two_moments(self) -> None:
        bank = Bank(evolve(USUAL, start_rate=1e-3), [start(), start(east_m=9.0)], by_fix=True)
        follow(bank, sheering(20, rate_mps=0.1))
        before = moments(bank)
        bank._mix(bank._pace_of(DT_S).change)
        for now, then in zip(moments(bank), before, strict=True):
            assert now == pytest.approx(then, rel=1e-9, abs=1e-9)

    def test_how_likely_each_mode_is_follows_the_matrix_exponential(self) -> None:
        """With nothing seen of the boat; scipy's expm of the rates, in steps of a few seconds."""
        figures = evolve(USUAL, start_rate=2e-4)
        moving = [CREEPING, DRAGGING, BROKEN_OUT]
        rates = np.zeros((MODES, MODES))
        rates[NEVER, moving] = figures.start_rate
        rates[HELD_AGAIN, moving] = figures.again_rate
        for mode in moving:
            rates[mode, moving] = figures.change_rate
            rates[mode, HELD_AGAIN] = figures.stop_rate
        np.fill_diagonal(rates, 0.0)
        np.fill_diagonal(rates, -rates.sum(axis=1))
        bank = Bank(figures, [start()], by_fix=False)
        for _ in range(300):
            bank.predict(4.0, (0.0, REACH_M))
        assert np.exp(bank.log_weight[0]) == pytest.approx(expm(1200.0 * rates)[NEVER], rel=0.03)

    def test_the_receivers_error_is_as_large_at_any_time(self) -> None:
        bank = Bank(USUAL, [start()], by_fix=False)
        for dt_s in (1.0, 10.0, 30.0, 17.3, 500.0):
            bank.predict(dt_s, (0.0, REACH_M))
            assert bank.cov[0, NEVER, SLOW_E, SLOW_E] == pytest.approx(USUAL.slow_m**2)
            assert bank.cov[0, NEVER, QUICK_E, QUICK_E] == pytest.approx(USUAL.quick_m**2)

    def test_a_place_marked_by_a_fix_errs_with_the_receiver_of_that_moment(self) -> None:
        """Where she is seen from the mark is sure at first, and twice as unsure in the end."""
        seen = np.zeros(SIZE)
        seen[[ANCHOR_E, SLOW_E, QUICK_E]] = 1.0
        figures = evolve(STILL, slow_m=1.8, quick_m=1.0)
        bank = Bank(figures, [start(var_ee=0.5)], by_fix=True)
        assert seen @ bank.cov[0, NEVER] @ seen == pytest.approx(0.5)
        for _ in range(2000):
            bank.predict(30.0, (0.0, REACH_M))
        receiver = figures.slow_m**2 + figures.quick_m**2
        assert seen @ bank.cov[0, NEVER] @ seen == pytest.approx(0.5 + 2.0 * receiver)

    def test_a_moving_anchor_comes_towards_the_boat_by_the_way_it_is_said_to(self) -> None:
        bank = Bank(STILL, [start()], by_fix=False)
        bank.predict(20.0, (300.0, 400.0))
        for mode, speed_mps in zip((CREEPING, BROKEN_OUT), STILL.speeds_mps[::2], strict=True):
            way_m = 20.0 * speed_mps
            bank.mean[0, mode] = bank.mean[0, NEVER]
            bank.cov[0, mode] = bank.cov[0, NEVER]
            bank.log_weight[0, mode] = 0.0
            bank.log_weight[0, [each for each in range(MODES) if each != mode]] = -700.0
            bank.predict(20.0, (300.0, 400.0))
            came = bank.mean[0, mode] - bank.mean[0, NEVER]
            assert came[MOVED] == pytest.approx(way_m)
            assert came[[ANCHOR_E, ANCHOR_N]] == pytest.approx([0.6 * way_m, 0.8 * way_m])

    @given(seed=st.integers(0, 2**32 - 1), count=st.integers(1, 4), by_fix=st.booleans())
    @settings(deadline=None, max_examples=6)
    def test_covariances_stay_symmetric_and_positive_through_anything(
        self, seed: int, count: int, by_fix: bool
    ) -> None:
        """Thousands of steps of any length, the boat anywhere, seen well or badly."""
        chance = np.random.default_rng(seed)
        figures = evolve(USUAL, start_rate=float(chance.choice([3e-7, 1e-3])))
        starts = [start(east_m=20.0 * i, var_ee=chance.uniform(0.5, 400.0)) for i in range(count)]
        bank = Bank(figures, starts, by_fix=by_fix)
        wide_m = float(chance.choice([5.0, 30.0, 300.0, 3e4]))
        for step in range(300):
            place = (chance.normal(0.0, wide_m), chance.normal(0.0, wide_m))
            bank.predict(float(chance.choice([0.5, 10.0, 30.0])), place)
            if chance.random() < 0.9:
                bank.take(
                    *place,
                    sigma_m=chance.uniform(0.3, 20.0),
                    taut_m=chance.uniform(1.0, 8.0),
                    part=chance.uniform(0.0, 1.0),
                    limit_m=chance.uniform(0.0, 10.0),
                )
            if step % 25 == 0:
                largest = np.abs(bank.cov).max(axis=(-2, -1))
                off = np.abs(bank.cov - np.swapaxes(bank.cov, -2, -1)).max(axis=(-2, -1))
                assert (off <= 1e-9 * largest).all()
                assert (np.linalg.eigvalsh(bank.cov).min(axis=-1) >= -1e-9 * largest).all()
                assert math.isfinite(bank.log_odds_moved())
                assert np.exp(bank.log_weight).sum() == pytest.approx(1.0)


# -- what it is for ------------------------------------------------------------------------------


def by_particles(
    track: Track, figures: BankFigures, anchor: Start, *, count: int = 8000
) -> list[tuple[float, float]]:
    """The same question put to particles: chance of a drag and expected way, after each place.

    Written from the model's description alone, with scipy's expm and log_ndtr.
    """
    chance = np.random.default_rng(5)
    place = chance.normal(size=(count, 2)) * math.sqrt(anchor.var_ee)
    errors = [
        (spread_m, math.exp(-DT_S / lasts_s), chance.normal(size=(count, 2)) * spread_m)
        for spread_m, lasts_s in (
            (figures.slow_m, figures.slow_s),
            (figures.quick_m, figures.quick_s),
        )
    ]
    reach = anchor.reach_m + anchor.reach_sigma_m * chance.normal(size=count)
    reach_walk_m = math.hypot(figures.reach_walk_m, figures.reach_walk_part * anchor.reach_sigma_m)
    way, mode = np.zeros(count), np.full(count, NEVER)
    speeds = np.array([0.0, *figures.speeds_mps, 0.0])
    spreads = np.array([0.0, *figures.spreads_mps, 0.0])
    moving = [CREEPING, DRAGGING, BROKEN_OUT]
    slack = np.full(MODES, figures.slack_odds)
    slack[moving] *= figures.slack_moving
    slack = slack ** TAKEN["part"]
    rates = np.zeros((MODES, MODES))
    rates[NEVER, moving], rates[HELD_AGAIN, moving] = figures.start_rate, figures.again_rate
    for each in moving:
        rates[each, moving], rates[each, HELD_AGAIN] = figures.change_rate, figures.stop_rate
    np.fill_diagonal(rates, 0.0)
    np.fill_diagonal(rates, -rates.sum(axis=1))
    up_to = expm(rates * DT_S).cumsum(axis=1)
    found = []
    for step, boat in enumerate(track):
        mode = (chance.random(count)[:, None] > up_to[mode]).sum(axis=1)
        errors = [
            (
                spread_m,
                keep,
                keep * error + spread_m * math.sqrt(1.0 - keep**2) * chance.normal(size=(count, 2)),
            )
            for spread_m, keep, error in errors
        ]
        reach = reach + reach_walk_m * math.sqrt(DT_S / 3600.0) * chance.normal(size=count)
        settling = figures.settle_m**2 * DT_S / figures.settle_s
        settling *= math.exp(-DT_S * step / figures.settle_s)
        walk = math.sqrt(settling + figures.creep_m**2 * DT_S / 3600.0)
        place = place + walk * chance.normal(size=(count, 2))
        lasting = math.sqrt(DT_S * max(DT_S, figures.spread_s))
        came = speeds[mode] * DT_S + spreads[mode] * lasting * chance.normal(size=count)
        off = np.array(boat) - place
        place = place + off / np.hypot(off[:, 0], off[:, 1])[:, None] * came[:, None]
        way = way + came
        off = np.array(boat) - place - errors[0][2] - errors[1][2]
        log_p = log_likelihood(
            np.hypot(off[:, 0], off[:, 1]) - reach, slack[mode], figures.stray_odds
        )
        weight = np.exp(log_p - log_p.max())
        weight /= weight.sum()
        found.append((float(weight @ (way > figures.least_moved_m)), float(weight @ way)))
        drawn = np.searchsorted(weight.cumsum(), (np.arange(count) + chance.random()) / count)
        kept = np.minimum(drawn, count - 1)
        place, reach, way, mode = place[kept], reach[kept], way[kept], mode[kept]
        errors = [(spread_m, keep, error[kept]) for spread_m, keep, error in errors]
    return found


class TestDrag:
    """Has the anchor moved."""

    def test_it_agrees_with_a_particle_filter_about_a_drag(self) -> None:
        """Ten quiet steps, then 0.1 m/s; drags are made likelier so that few particles serve."""
        figures = evolve(USUAL, start_rate=1.0 / 1500.0)
        track = sheering(40, rate_mps=0.1, quiet=10)
        bank = Bank(figures, [start()], by_fix=False)
        chances = [whole(each) for each in follow(bank, track)]
        weight = np.exp(bank.log_weight)
        way_m = float((weight * bank.mean[..., MOVED]).sum())
        particles = by_particles(track, figures, start())
        for step in range(4, 10):
            assert chances[step] < 3.0 * particles[step][0]
        even = [chance > 0.5 for chance in chances].index(True)
        assert even == pytest.approx([p > 0.5 for p, _ in particles].index(True), abs=3)
        assert particles[-1][0] > 0.99
        assert chances[-1] > 0.99
        assert way_m == pytest.approx(particles[-1][1], abs=2.0)

    @pytest.mark.parametrize("rate_mps", [0.03, 0.1, 0.3])
    def test_a_drag_raises_the_odds_from_nothing_to_certainty(self, rate_mps: float) -> None:
        bank = Bank(USUAL, [start()], by_fix=True)
        odds = follow(bank, sheering(60 + round(3.0 / rate_mps), rate_mps=rate_mps, quiet=60))
        assert max(odds[:61]) < -5.0
        assert odds[-1] > 8.0
        # Rising for good: a receding glance is never a large part of what has been gained.
        best = np.maximum.accumulate(odds[60:])
        assert (best - np.array(odds[60:]) < 3.0).all()
        moved = bank.moved()
        assert math.hypot(moved.east_m, moved.north_m) == pytest.approx(30.0, abs=6.0)
        assert moved.moved_m == pytest.approx(30.0, abs=8.0)

    @given(seed=st.integers(0, 2**32 - 1), slackest=st.floats(0.1, 0.8))
    @settings(deadline=None, max_examples=5)
    def test_wandering_about_inside_the_circle_never_raises_the_odds(
        self, seed: int, slackest: float
    ) -> None:
        """Whatever she does in a calm, it makes a drag no likelier than it was of itself."""
        chance = np.random.default_rng(seed)
        bank = Bank(USUAL, [start()], by_fix=False)
        blind = Bank(USUAL, [start()], by_fix=False)
        bearing_rad, distance_m = chance.uniform(0.0, math.tau), 10.0
        for _ in range(180):
            bearing_rad += chance.normal(0.0, 0.2)
            distance_m = min(slackest * REACH_M, abs(distance_m + chance.normal(0.0, 1.5)))
            place = polar(bearing_rad, distance_m)
            bank.predict(DT_S, place)
            bank.take(*place, sigma_m=0.8, taut_m=5.0, part=0.003)
            blind.predict(DT_S, place)
            assert bank.log_odds_moved() < blind.log_odds_moved() + 0.5

    @pytest.mark.parametrize("from_anchor_m", [REACH_M - 3.0, REACH_M - 0.5, REACH_M + 0.5])
    def test_hours_of_sheering_are_no_drag(self, from_anchor_m: float) -> None:
        """The wind backs through half the compass meanwhile."""
        bank = Bank(USUAL, [start()], by_fix=True)
        track = [
            polar(math.pi * step / 400 + 0.35 * math.sin(step / 1.7), from_anchor_m)
            for step in range(400)
        ]
        assert max(follow(bank, track)) < -3.0

    def test_a_long_rope_that_goes_on_to_stretch_is_no_drag(self) -> None:
        """97 m of rope, 12 m longer as the wind gets up. Chain does not: that would be a drag."""
        track = [
            polar(0.35 * math.sin(step / 1.7), 97.0 + 12.0 * min(1.0, max(0, step - 180) / 60.0))
            for step in range(540)
        ]
        rope = Bank(USUAL, [start(reach_m=98.0, reach_sigma_m=7.8)], by_fix=True)
        chain = Bank(USUAL, [start(reach_m=98.0, reach_sigma_m=1.0)], by_fix=True)
        assert max(follow(rope, track)) < -3.0
        assert max(follow(chain, track)) > 3.0

    def test_a_calm_makes_no_rode_shorter(self) -> None:
        """Three hours half way over it, and she falls back to where she lay: that is no drag."""
        bank = Bank(USUAL, [start(reach_sigma_m=2.0)], by_fix=True)
        follow(bank, sheering(180))
        follow(bank, [polar(0.1 * step, 15.0) for step in range(1080)])
        assert bank.never_moved().reach_m > REACH_M - 2.0 * USUAL.reach_least_sigmas - 0.3
        assert max(follow(bank, sheering(180))) < -3.0

    def test_the_least_reach_goes_with_the_tide(self) -> None:
        bank = Bank(evolve(USUAL, reach_least_sigmas=0.0), [start()], by_fix=True)
        bank.stretch(-3.0)
        follow(bank, [polar(0.1 * step, 5.0) for step in range(1080)])
        assert REACH_M - 3.1 < bank.never_moved().reach_m < REACH_M - 2.0

    def test_the_odds_are_those_of_the_hypotheses_it_holds(self) -> None:
        """Worked out with scipy."""
        bank = Bank(evolve(USUAL, start_rate=1e-4), [start(), start(north_m=6.0)], by_fix=True)
        follow(bank, sheering(30, rate_mps=0.04, quiet=10))
        weight = np.exp(bank.log_weight)
        beyond = (bank.mean[..., MOVED] - USUAL.least_moved_m) / np.sqrt(
            bank.cov[..., MOVED, MOVED]
        )
        moved = float((weight * norm.cdf(beyond)).sum())
        assert whole(bank.log_odds_moved()) == pytest.approx(moved, rel=1e-5)
        assert 0.01 < moved < 0.999


def late(**overrides: float) -> list[Start]:
    """A wheel of places about a boat that lies at a point, heading not known."""
    where = {"east_m": 0.0, "north_m": 0.0} | overrides
    return list(
        late_starts(
            east_m=where["east_m"],
            north_m=where["north_m"],
            circle=CIRCLE,
            toward_deg=None,
            at_bow=True,
        )
    )


class TestLateSet:
    """Where the anchor is of a boat that lies back already."""

    @pytest.mark.parametrize("turn_s", [1800.0, 3600.0, -2400.0])
    def test_a_boat_that_goes_round_gives_it_away(self, turn_s: float) -> None:
        """Without any heading; and it is never farther off than three of its standard errors."""
        anchor = (12.0, -7.0)
        track = []
        for step in range(271):
            lies = polar(1.0 + math.tau * DT_S * step / turn_s, REACH_M)
            track.append((anchor[0] + lies[0], anchor[1] + lies[1]))
        bank = Bank(USUAL, late(east_m=track[0][0], north_m=track[0][1]), by_fix=True)
        for step, place in enumerate(track[1:]):
            bank.predict(DT_S, place)
            bank.take(*place, **TAKEN)
            if step % 30 == 29:
                bank.thin()
            lie = bank.never_moved()
            off_m = math.hypot(lie.east_m - anchor[0], lie.north_m - anchor[1])
            assert off_m < 3.0 * lie.sigma_m
            assert bank.log_odds_moved() < -5.0
        assert lie.sigma_m < 0.15 * REACH_M
        assert off_m < 0.15 * REACH_M

    def test_places_that_have_become_hopeless_are_given_up_and_the_others_unharmed(self) -> None:
        track = [polar(math.tau * step / 200, REACH_M) for step in range(60)]
        bank = Bank(USUAL, late(north_m=REACH_M), by_fix=True)
        follow(bank, track)
        before, odds, count = bank.never_moved(), bank.log_odds_moved(), len(bank.mean)
        bank.thin()
        after = bank.never_moved()
        assert len(bank.mean) < count
        assert (after.east_m, after.north_m) == pytest.approx(
            (before.east_m, before.north_m), abs=0.3
        )
        assert np.exp(bank.log_weight).sum() == pytest.approx(1.0)
        assert bank.log_odds_moved() == pytest.approx(odds, abs=0.1)
        left = len(bank.mean)
        bank.thin()
        assert len(bank.mean) == left

    def test_something_else_that_is_known_of_the_places_weighs_them(self) -> None:
        bank = Bank(STILL, [start(), start(east_m=10.0), start(east_m=20.0)], by_fix=False)
        bank.lean(np.log(np.array([1.0, 3.0, 6.0])))
        assert np.exp(bank.log_weight[:, NEVER]) == pytest.approx([0.1, 0.3, 0.6])
        assert bank.never_moved().east_m == pytest.approx(15.0)


# -- that it may be relied on --------------------------------------------------------------------


class TestReliance:
    """The same again, elsewhere, later."""

    @given(
        turn_rad=st.floats(0.0, math.tau),
        east_m=st.floats(-5e3, 5e3),
        north_m=st.floats(-5e3, 5e3),
        rate_mps=st.sampled_from([0.0, 0.06]),
    )
    @settings(deadline=None, max_examples=10)
    def test_another_plane_and_another_way_up_change_nothing(
        self, turn_rad: float, east_m: float, north_m: float, rate_mps: float
    ) -> None:
        """The whole night moved and turned: the same odds, and the anchor moved and turned."""

        def there(place: tuple[float, float]) -> tuple[float, float]:
            east, north = place
            cos, sin = math.cos(turn_rad), math.sin(turn_rad)
            return east_m + cos * east + sin * north, north_m + cos * north - sin * east

        cos, sin = math.cos(turn_rad), math.sin(turn_rad)
        track = sheering(60, rate_mps=rate_mps, quiet=20)
        here = Bank(USUAL, [start(), start(var_ee=90.0, var_nn=30.0)], by_fix=True)
        turned = {
            "var_ee": 90.0 * cos * cos + 30.0 * sin * sin,
            "var_nn": 90.0 * sin * sin + 30.0 * cos * cos,
            "var_en": (30.0 - 90.0) * sin * cos,
        }
        where = {"east_m": east_m, "north_m": north_m}
        elsewhere = Bank(USUAL, [start(**where), start(**where, **turned)], by_fix=True)
        odds = follow(here, track)
        assert follow(elsewhere, [there(place) for place in track]) == pytest.approx(odds, abs=1e-4)
        for one, other in (
            (here.never_moved(), elsewhere.never_moved()),
            (here.moved(), elsewhere.moved()),
        ):
            assert (other.east_m, other.north_m) == pytest.approx(
                there((one.east_m, one.north_m)), abs=1e-4
            )
            assert other.sigma_m == pytest.approx(one.sigma_m, abs=1e-4)
            assert other.moved_m == pytest.approx(one.moved_m, abs=1e-4)

    def test_the_same_night_twice_is_the_same_to_the_last_bit(self) -> None:
        def night() -> tuple[list[float], Lie, Lie, bytes]:
            bank = Bank(USUAL, late(north_m=REACH_M), by_fix=True)
            odds = follow(bank, sheering(40, rate_mps=0.05, quiet=20))
            bank.thin()
            return odds, bank.never_moved(), bank.moved(), bank.cov.tobytes()

        assert night() == night()

    def test_a_lie_is_the_mean_and_the_spread_of_all_there_is(self) -> None:
        """Of two places 20 m apart, one three times as likely: mean 5 m, spread sqrt(75) m."""
        starts = [
            start(log_weight=math.log(3.0), var_ee=1.0, var_nn=1.0),
            start(east_m=20.0, var_ee=1.0, var_nn=1.0),
        ]
        lie = Bank(STILL, starts, by_fix=False).never_moved()
        assert (lie.east_m, lie.north_m) == pytest.approx((5.0, 0.0))
        assert lie.sigma_m == pytest.approx(math.sqrt(0.5 * (1.0 + 75.0 + 1.0)))
        assert (lie.reach_m, lie.reach_sigma_m) == pytest.approx((REACH_M, 1.0))

    def test_another_length_of_rode_leaves_the_place_and_begins_the_reach_anew(self) -> None:
        bank = Bank(USUAL, [start()], by_fix=True)
        follow(bank, sheering(40))
        before = bank.never_moved()
        bank.refit(50.0, 2.0)
        after = bank.never_moved()
        assert (after.east_m, after.north_m, after.sigma_m) == pytest.approx(
            (before.east_m, before.north_m, before.sigma_m)
        )
        assert (after.reach_m, after.reach_sigma_m) == pytest.approx((50.0, 2.0))
        assert (np.linalg.eigvalsh(bank.cov) > -1e-9).all()
        assert max(follow(bank, sheering(60, from_anchor_m=49.0))) < -3.0


class TestMemory:
    """Written down and taken up again."""

    def learned(self) -> Bank:
        """A late set after a quarter of an hour."""
        bank = Bank(USUAL, late(north_m=REACH_M), by_fix=True)
        follow(bank, [polar(math.tau * step / 200, REACH_M) for step in range(90)])
        bank.thin()
        return bank

    def test_what_is_likely_comes_back_through_json(self) -> None:
        bank = self.learned()
        rows = json.loads(json.dumps(bank.rows()))
        again = Bank.of_rows(
            USUAL, tuple(tuple(row) for row in rows), reach_m=30.0, reach_sigma_m=1.0
        )
        one, other = bank.never_moved(), again.never_moved()
        assert (other.east_m, other.north_m) == pytest.approx((one.east_m, one.north_m), abs=0.2)
        assert other.sigma_m == pytest.approx(one.sigma_m, rel=0.05)
        assert (other.reach_m, other.reach_sigma_m) == pytest.approx(
            (one.reach_m, one.reach_sigma_m), abs=0.05
        )
        best = int(np.argmax(bank.log_weight[:, NEVER]))
        assert again.mean[0, NEVER, : REACH + 1] == pytest.approx(
            bank.mean[best, NEVER, : REACH + 1], abs=1e-5
        )
        assert again.cov[0, NEVER, : REACH + 1, : REACH + 1] == pytest.approx(
            bank.cov[best, NEVER, : REACH + 1, : REACH + 1], abs=2e-4
        )

    def test_written_down_twice_it_is_the_same(self) -> None:
        rows = self.learned().rows()
        again = Bank.of_rows(USUAL, rows, reach_m=30.0, reach_sigma_m=1.0).rows()
        assert len(again) == len(rows)
        for one, other in zip(rows, again, strict=True):
            assert other == pytest.approx(one, abs=1.1e-3)

    def test_no_drag_is_remembered(self) -> None:
        """Nothing has moved for the one who takes it up; and a drag then shows as ever."""
        bank = Bank.of_rows(USUAL, self.learned().rows(), reach_m=30.0, reach_sigma_m=1.0)
        assert bank.log_odds_moved() < -20.0
        odds = follow(bank, sheering(60, bearing_rad=2.8, rate_mps=0.1, quiet=20))
        assert max(odds[:20]) < -3.0
        assert odds[-1] > 5.0

    @pytest.mark.parametrize(
        "rows", [(), ((),), ((1.0,),), ((0.0,) * 35,), ((0.0,) * 36, (0.0,) * 37)]
    )
    def test_rows_of_another_make_are_refused(self, rows: tuple[tuple[float, ...], ...]) -> None:
        with pytest.raises(ValueError, match="no hypotheses"):
            Bank.of_rows(USUAL, rows, reach_m=30.0, reach_sigma_m=1.0)

    def test_a_late_set_that_may_lie_on_any_side_is_remembered_on_every_side(self) -> None:
        """A boat lies still, her head unknown: wherever the anchor may be, some place is near.

        That there is room for a few places only must not turn ignorance into knowledge.
        """
        bank = Bank(USUAL, late(), by_fix=True)
        follow(bank, [(0.0, 0.0)] * 30)
        again = Bank.of_rows(USUAL, bank.rows(), reach_m=30.0, reach_sigma_m=1.0)
        for bearing_deg in range(0, 360, 5):
            anchor = polar(math.radians(bearing_deg), 0.95 * REACH_M)
            assert sigmas_away(bank, anchor) < 2.0
            assert sigmas_away(again, anchor) < 3.0, bearing_deg


def sigmas_away(bank: Bank, anchor: tuple[float, float]) -> float:
    """From the nearest place a bank thinks of to an anchor, in standard errors."""
    off = np.array(anchor) - bank.mean[:, NEVER, :REACH][:, :2]
    cov = bank.cov[:, NEVER, :2, :2]
    squares = (off * np.linalg.solve(cov, off[..., None])[..., 0]).sum(axis=-1)
    return math.sqrt(float(squares.min()))
