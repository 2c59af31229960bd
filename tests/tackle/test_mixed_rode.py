"""Rodes of several kinds, against a worked table and a hanging cable integrated numerically."""

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from driftlead.errors import UserInputError
from driftlead.tackle.catenary import Catenary, hang, submerged_weight_n_per_m, zero_lift_length_m
from driftlead.tackle.mixed_rode import (
    RodePart,
    curve,
    hang_parts,
    part_lengths_out,
    pull_that_lifts_n,
    shortest_rode_m,
    total_length_m,
)

CHAIN_8_MM = 11.937
ROPE = 0.13  # a 14 mm nylon warp in water, roughly


def rode(*parts: tuple[float, float]) -> tuple[RodePart, ...]:
    """Make parts of (length, weight) pairs, the one at the anchor first."""
    return tuple(RodePart(length_m=m, weight_n_per_m=w) for m, w in parts)


RODES = st.lists(st.tuples(st.floats(0.5, 60.0), st.floats(0.0, 60.0)), min_size=1, max_size=4).map(
    lambda parts: rode(*parts)
)


def integrated(
    parts: tuple[RodePart, ...], pull_n: float, lie: Catenary
) -> tuple[float, float, float]:
    """Follow the rode from where it leaves the bottom, by the balance of forces alone.

    The vertical load grows by the weight of each piece; the rode points along the two loads. Gives
    x and y of its upper end and its angle there in degrees.
    """
    x_m, y_m = lie.lying_m, 0.0
    vertical_n = pull_n * math.tan(math.radians(lie.anchor_angle_deg))
    lying_m = lie.lying_m
    for part in parts:
        length_m = part.length_m - min(lying_m, part.length_m)
        lying_m -= min(lying_m, part.length_m)
        if length_m == 0.0:
            continue

        def along(
            s: float, _: Any, low_n: float = vertical_n, weight: float = part.weight_n_per_m
        ) -> list[float]:
            load_n = low_n + weight * s
            tension_n = math.hypot(load_n, pull_n)
            return [pull_n / tension_n, load_n / tension_n]

        end = solve_ivp(along, (0.0, length_m), [x_m, y_m], rtol=1e-10, atol=1e-10, method="DOP853")
        x_m, y_m = end.y[:, -1]
        vertical_n += part.weight_n_per_m * length_m
    return x_m, y_m, math.degrees(math.atan2(vertical_n, pull_n))


@pytest.mark.parametrize(
    ("drop_m", "pull_n", "printed"),
    [
        (6, 500, (23.21, 22.16, 571.6, 28.99)),
        (6, 1000, (32.27, 31.52, 1071.6, 21.07)),
        (6, 2000, (45.24, 44.71, 2071.6, 15.11)),
        (10, 1000, (42.14, 40.54, 1119.4, 26.70)),
        (10, 4003, (82.51, 81.69, 4122.4, 13.82)),
    ],
)
@pytest.mark.parametrize("pieces", [1, 7])
def test_chain_in_one_piece_or_seven_is_that_of_the_worked_table(
    drop_m: float, pull_n: float, printed: tuple[float, float, float, float], pieces: int
) -> None:
    """Reckoned apart from this code, from s^2 = y (y + 2a); 8 mm chain of 1.40 kg/m."""
    least_m, reach_m, tension_n, bow_deg = printed
    weight = submerged_weight_n_per_m(1.40)
    chain = rode(*[(100.0 / pieces, weight)] * pieces)
    assert shortest_rode_m(chain, drop_m, pull_n) == pytest.approx(least_m, abs=0.0051)
    lie = hang_parts(part_lengths_out(chain, least_m), drop_m, pull_n)
    assert lie.reach_m == pytest.approx(reach_m, abs=0.011)
    assert lie.bow_tension_n == pytest.approx(tension_n, abs=0.11)
    assert lie.bow_angle_deg == pytest.approx(bow_deg, abs=0.011)
    assert lie.anchor_angle_deg == pytest.approx(0.0, abs=0.01)


@given(RODES, st.floats(0.5, 40.0), st.floats(1.0, 20e3))
def test_the_curve_is_that_of_the_forces_integrated_along_it(
    parts: tuple[RodePart, ...], drop_m: float, pull_n: float
) -> None:
    """Oracle: scipy's solve_ivp. Kinds in any order, weightless ones among them."""
    assume(total_length_m(parts) > 1.02 * drop_m)
    lie = hang_parts(parts, drop_m, pull_n)
    x_m, y_m, bow_deg = integrated(parts, pull_n, lie)
    assert x_m == pytest.approx(lie.reach_m, abs=2e-5)
    assert y_m == pytest.approx(drop_m, abs=2e-5)
    assert bow_deg == pytest.approx(lie.bow_angle_deg, abs=1e-4)
    level_n = lie.bow_tension_n * math.cos(math.radians(lie.bow_angle_deg))
    assert level_n == pytest.approx(pull_n, rel=1e-9)
    assert lie.lying_m == 0.0 or lie.anchor_angle_deg == 0.0


@given(
    drop_m=st.floats(1.0, 40.0),
    scope=st.floats(1.05, 12.0),
    pull_n=st.floats(0.0, 20e3),
    weight=st.floats(0.5, 60.0),
    cut=st.floats(0.05, 0.95),
)
def test_a_rode_of_one_kind_is_the_plain_catenary_wherever_it_is_cut(
    drop_m: float, scope: float, pull_n: float, weight: float, cut: float
) -> None:
    """The closed form for an even rode is the oracle."""
    length_m = scope * drop_m
    plain = hang(length_m, drop_m, pull_n, weight)
    mixed = hang_parts(
        rode((cut * length_m, weight), ((1.0 - cut) * length_m, weight)), drop_m, pull_n
    )
    assert mixed.reach_m == pytest.approx(plain.reach_m, abs=1e-5)
    assert mixed.lying_m == pytest.approx(plain.lying_m, abs=1e-5)
    assert mixed.bow_tension_n == pytest.approx(plain.bow_tension_n, rel=1e-6, abs=1e-5)
    assert mixed.anchor_angle_deg == pytest.approx(plain.anchor_angle_deg, abs=1e-5)
    least_m = shortest_rode_m(rode((length_m, weight)), drop_m, pull_n)
    assert least_m == pytest.approx(zero_lift_length_m(drop_m, pull_n, weight), rel=1e-6)


@pytest.mark.parametrize(
    ("chain_m", "rope_m", "drop_m", "pull_n"),
    [(10, 60, 6, 800), (20, 100, 8, 1500), (5, 200, 5, 400)],
)
def test_rope_and_chain_at_their_zero_lift_length_just_leave_the_bottom(
    chain_m: float, rope_m: float, drop_m: float, pull_n: float
) -> None:
    """By the integrated cable: begun level with all of it hanging, it ends at the bow roller."""
    aboard = rode((chain_m, CHAIN_8_MM), (rope_m, ROPE))
    least_m = shortest_rode_m(aboard, drop_m, pull_n)
    assert chain_m < least_m < chain_m + rope_m
    out = part_lengths_out(aboard, least_m)
    level = Catenary(
        reach_m=0.0, lying_m=0.0, bow_tension_n=0.0, bow_angle_deg=0.0, anchor_angle_deg=0.0
    )
    _, y_m, _ = integrated(out, pull_n, level)
    assert y_m == pytest.approx(drop_m, abs=1e-6)
    assert hang_parts(part_lengths_out(aboard, least_m - 1.0), drop_m, pull_n).anchor_angle_deg > 0
    assert hang_parts(part_lengths_out(aboard, least_m + 1.0), drop_m, pull_n).lying_m > 0


def test_chain_at_the_anchor_does_more_than_the_same_chain_at_the_bow() -> None:
    """Why it is put there: its weight bears on the shank."""
    chain, rope = (15.0, CHAIN_8_MM), (35.0, ROPE)
    at_anchor = hang_parts(rode(chain, rope), 6.0, 1200.0)
    at_bow = hang_parts(rode(rope, chain), 6.0, 1200.0)
    assert at_anchor.anchor_angle_deg < at_bow.anchor_angle_deg


@given(RODES, st.floats(0.5, 40.0), st.floats(1.0, 20e3), st.floats(1.0, 20e3))
def test_a_harder_pull_never_lowers_the_shank_nor_shortens_the_reach(
    parts: tuple[RodePart, ...], drop_m: float, one_n: float, other_n: float
) -> None:
    assume(total_length_m(parts) > 1.02 * drop_m)
    gentle, hard = (hang_parts(parts, drop_m, n) for n in sorted((one_n, other_n)))
    assert gentle.anchor_angle_deg <= hard.anchor_angle_deg + 1e-6
    assert gentle.reach_m <= hard.reach_m + 1e-6


@given(RODES, st.floats(0.5, 40.0), st.floats(0.0, 15.0))
def test_the_pull_that_lifts_by_an_angle_lifts_by_that_angle(
    parts: tuple[RodePart, ...], drop_m: float, angle_deg: float
) -> None:
    """It is the inverse of the hanging rode."""
    assume(total_length_m(parts) > 1.02 * drop_m)
    pull_n = pull_that_lifts_n(parts, drop_m, angle_deg)
    if math.isinf(pull_n):
        bar_taut_deg = math.degrees(math.asin(drop_m / total_length_m(parts)))
        assert bar_taut_deg <= angle_deg + 1e-9
    elif 1e-3 < pull_n < 1e7:
        lie = hang_parts(parts, drop_m, pull_n)
        assert lie.anchor_angle_deg == pytest.approx(angle_deg, abs=1e-3)
        # Weightless rode at the anchor may lie or not: level it is all the same.
        assert parts[0].weight_n_per_m < 1e-3 or lie.lying_m == pytest.approx(0.0, abs=0.01)


@given(RODES, st.floats(0.5, 40.0), st.floats(50.0, 20e3), st.floats(1.0, 15.0))
def test_the_shortest_rode_for_an_angle_rises_by_that_angle(
    parts: tuple[RodePart, ...], drop_m: float, pull_n: float, angle_deg: float
) -> None:
    """Where the parts are too short, more of the last kind is added."""
    assume(total_length_m(parts) > 1.02 * drop_m)
    least_m = shortest_rode_m(parts, drop_m, pull_n, anchor_angle_deg=angle_deg)
    longer = (*parts[:-1], RodePart(length_m=1e4, weight_n_per_m=parts[-1].weight_n_per_m))
    lie = hang_parts(part_lengths_out(longer, least_m), drop_m, pull_n)
    assert lie.anchor_angle_deg == pytest.approx(angle_deg, abs=1e-5)


@pytest.mark.parametrize(
    ("scope", "anchor_deg"), [(3, 19.5), (4, 14.5), (5, 11.5), (7, 8.2), (10, 5.7)]
)
def test_weightless_rope_leads_straight_at_the_bar_taut_angle(
    scope: float, anchor_deg: float
) -> None:
    """asin(1/scope), which one can reckon by hand, in any wind at all."""
    for pull_n in (1.0, 1000.0):
        lie = hang_parts(rode((scope * 8.0, 0.0)), 8.0, pull_n)
        assert lie.anchor_angle_deg == pytest.approx(anchor_deg, abs=0.06)
        assert lie.bow_angle_deg == pytest.approx(lie.anchor_angle_deg, abs=1e-6)
    assert pull_that_lifts_n(rode((scope * 8.0, 0.0)), 8.0, anchor_deg - 1.0) == 0.0
    assert pull_that_lifts_n(rode((scope * 8.0, 0.0)), 8.0, anchor_deg + 1.0) == math.inf


def test_no_length_of_weightless_rope_pulls_level() -> None:
    assert shortest_rode_m(rode((50.0, 0.0)), 6.0, 500.0) == math.inf
    assert pull_that_lifts_n(rode((50.0, 0.0)), 6.0, 0.0) == 0.0


def test_in_a_calm_she_lies_over_her_chain() -> None:
    lie = hang_parts(rode((30.0, CHAIN_8_MM), (20.0, ROPE)), 6.0, 0.0)
    assert lie.reach_m == pytest.approx(44.0, abs=1e-4)
    assert lie.bow_tension_n == pytest.approx(6.0 * ROPE, abs=1e-4)
    assert lie.bow_angle_deg == pytest.approx(90.0, abs=0.01)


@given(RODES, st.floats(0.5, 40.0), st.floats(0.0, 20e3))
def test_the_drawn_curve_runs_from_anchor_to_bow_roller_at_the_rodes_length(
    parts: tuple[RodePart, ...], drop_m: float, pull_n: float
) -> None:
    assume(total_length_m(parts) > 1.02 * drop_m)
    points = curve(parts, drop_m, pull_n, steps=40)
    lie = hang_parts(parts, drop_m, pull_n)
    assert points[0] == (0.0, 0.0)
    assert points[-1] == pytest.approx((lie.reach_m, drop_m), abs=1e-4)
    chords_m = float(sum(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(points)))
    assert chords_m <= total_length_m(parts) + 1e-6
    assert chords_m >= 0.98 * total_length_m(parts)


def test_chain_goes_out_before_rope() -> None:
    aboard = rode((30.0, CHAIN_8_MM), (20.0, ROPE))
    assert part_lengths_out(aboard, 25.0) == rode((25.0, CHAIN_8_MM))
    assert part_lengths_out(aboard, 30.0) == rode((30.0, CHAIN_8_MM))
    assert part_lengths_out(aboard, 42.0) == rode((30.0, CHAIN_8_MM), (12.0, ROPE))
    with pytest.raises(UserInputError, match="no 51 m of rode aboard, only 50 m"):
        part_lengths_out(aboard, 51.0)


@pytest.mark.parametrize(
    ("parts", "drop_m", "pull_n"),
    [
        (rode((-1.0, 12.0)), 6.0, 1000.0),
        (rode((40.0, -1.0)), 6.0, 1000.0),
        (rode((40.0, 12.0)), 0.0, 1000.0),
        (rode((40.0, 12.0)), 6.0, -1.0),
        (rode((40.0, math.nan)), 6.0, 1000.0),
        (rode((math.inf, 12.0)), 6.0, 1000.0),
    ],
)
def test_measures_that_cannot_be_are_refused(
    parts: tuple[RodePart, ...], drop_m: float, pull_n: float
) -> None:
    with pytest.raises(UserInputError, match="cannot be"):
        hang_parts(parts, drop_m, pull_n)


@pytest.mark.parametrize("parts", [(), rode((6.0, 12.0)), rode((3.0, 12.0), (3.0, 0.0))])
def test_a_rode_that_does_not_reach_the_bottom_is_refused(parts: tuple[RodePart, ...]) -> None:
    with pytest.raises(UserInputError, match="does not reach the bottom"):
        hang_parts(parts, 6.0, 1000.0)
