"""The catenary against a worked table and against statics integrated numerically."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from driftlead.errors import UserInputError
from driftlead.tackle.catenary import hang, submerged_weight_n_per_m, zero_lift_length_m
from driftlead.tackle.reach import bar_taut_reach_m

CHAIN_8_MM = 11.937


def _integrated(
    rode_m: float, drop_m: float, pull_n: float, weight_n_per_m: float
) -> tuple[float, float, float]:
    """Return reach, bow angle and anchor angle (degrees) from the balance of forces alone.

    At arc length s from the end of what lies, the rode carries the level pull H and the vertical
    load V = V0 + w s, and points along them. V0, the lift at the anchor, or else the length that
    lies, is searched for until the rode climbs the drop. No catenary formula is used.
    """

    def climb(lift_n: float, hanging_m: float) -> float:
        def slope(s: float) -> float:
            vertical = lift_n + weight_n_per_m * s
            return vertical / math.hypot(vertical, pull_n)

        rise: float = quad(slope, 0.0, hanging_m, epsabs=1e-11, epsrel=1e-11, limit=200)[0]
        return rise

    lift_n, hanging_m = 0.0, rode_m
    if climb(0.0, rode_m) > drop_m:
        hanging_m = brentq(lambda m: climb(0.0, m) - drop_m, 0.0, rode_m, xtol=1e-11)
    else:
        steep_n = 1e5 * (pull_n + weight_n_per_m * rode_m)
        lift_n = brentq(lambda v: climb(v, rode_m) - drop_m, 0.0, steep_n, xtol=1e-11, rtol=1e-14)

    def level(s: float) -> float:
        return pull_n / math.hypot(lift_n + weight_n_per_m * s, pull_n)

    span = quad(level, 0.0, hanging_m, epsabs=1e-11, epsrel=1e-11, limit=200)[0]
    bow = math.degrees(math.atan2(lift_n + weight_n_per_m * hanging_m, pull_n))
    return rode_m - hanging_m + span, bow, math.degrees(math.atan2(lift_n, pull_n))


@pytest.mark.parametrize(
    ("drop_m", "pull_n", "printed"),
    [
        (6, 500, (23.21, 3.87, 22.16, 571.6, 28.99)),
        (6, 1000, (32.27, 5.38, 31.52, 1071.6, 21.07)),
        (6, 2000, (45.24, 7.54, 44.71, 2071.6, 15.11)),
        (10, 1000, (42.14, 4.21, 40.54, 1119.4, 26.70)),
        (10, 4003, (82.51, 8.25, 81.69, 4122.4, 13.82)),
    ],
)
def test_a_worked_table_of_8_mm_chain_comes_out_to_its_printed_digits(
    drop_m: float, pull_n: float, printed: tuple[float, float, float, float, float]
) -> None:
    """Reckoned apart from this code, from s^2 = y (y + 2a); 8 mm chain of 1.40 kg/m."""
    least_m, ratio, reach_m, tension_n, bow_deg = printed
    weight_n_per_m = submerged_weight_n_per_m(1.40)
    length_m = zero_lift_length_m(drop_m, pull_n, weight_n_per_m)
    assert length_m == pytest.approx(least_m, abs=0.0051)
    assert length_m / drop_m == pytest.approx(ratio, abs=0.0051)
    lie = hang(length_m, drop_m, pull_n, weight_n_per_m)
    assert lie.reach_m == pytest.approx(reach_m, abs=0.0051)
    assert lie.bow_tension_n == pytest.approx(tension_n, abs=0.051)
    assert lie.bow_angle_deg == pytest.approx(bow_deg, abs=0.0051)
    assert lie.anchor_angle_deg == pytest.approx(0.0, abs=1e-5)


@pytest.mark.parametrize(
    ("mass_kg_per_m", "weight_n_per_m"),
    [(0.80, 6.821), (1.40, 11.937), (2.25, 19.184), (3.25, 27.710)],
    ids=["6 mm", "8 mm", "10 mm", "12 mm"],
)
def test_chain_loses_an_eighth_of_its_weight_in_sea_water(
    mass_kg_per_m: float, weight_n_per_m: float
) -> None:
    """Chain masses from makers' tables to ISO 4565; w = m g (1 - 1025/7850)."""
    assert submerged_weight_n_per_m(mass_kg_per_m) == pytest.approx(weight_n_per_m, abs=0.00051)


def test_forty_metres_in_six_reaches_nearly_as_far_as_if_bar_taut() -> None:
    """Reckoned apart from this code: 39.25 m under 1 kN, and 39.55 m bar-taut."""
    lie = hang(40.0, 6.0, 1000.0, CHAIN_8_MM)
    assert lie.reach_m == pytest.approx(39.25, abs=0.0051)
    assert lie.lying_m == pytest.approx(40.0 - 32.27, abs=0.0051)
    assert bar_taut_reach_m(40.0, 6.0) == pytest.approx(39.55, abs=0.0051)


@given(
    drop_m=st.floats(1.0, 40.0),
    scope=st.floats(1.05, 12.0),
    pull_n=st.floats(20.0, 20e3),
    weight_n_per_m=st.floats(0.5, 60.0),
)
def test_the_curve_is_that_of_the_forces_integrated_along_it(
    drop_m: float, scope: float, pull_n: float, weight_n_per_m: float
) -> None:
    """Oracle: scipy's quadrature and root finder on the balance of forces."""
    rode_m = scope * drop_m
    lie = hang(rode_m, drop_m, pull_n, weight_n_per_m)
    reach_m, bow_deg, anchor_deg = _integrated(rode_m, drop_m, pull_n, weight_n_per_m)
    assert lie.reach_m == pytest.approx(reach_m, abs=1e-6)
    assert lie.bow_angle_deg == pytest.approx(bow_deg, abs=1e-4)
    assert lie.anchor_angle_deg == pytest.approx(anchor_deg, abs=1e-4)
    level_n = lie.bow_tension_n * math.cos(math.radians(lie.bow_angle_deg))
    assert level_n == pytest.approx(pull_n, rel=1e-9)


@pytest.mark.parametrize(
    ("scope", "anchor_deg"), [(3, 19.5), (4, 14.5), (5, 11.5), (7, 8.2), (10, 5.7)]
)
def test_a_rode_pulled_hard_leads_from_the_anchor_at_the_bar_taut_angle(
    scope: float, anchor_deg: float
) -> None:
    """asin(1/scope), which one can reckon by hand."""
    lie = hang(scope * 8.0, 8.0, 1e7, CHAIN_8_MM)
    assert lie.anchor_angle_deg == pytest.approx(anchor_deg, abs=0.06)
    assert lie.reach_m == pytest.approx(bar_taut_reach_m(scope * 8.0, 8.0), abs=1e-6)


def test_at_the_zero_lift_length_the_two_cases_meet() -> None:
    least_m = zero_lift_length_m(6.0, 1000.0, CHAIN_8_MM)
    lifted = hang(least_m * (1.0 - 1e-9), 6.0, 1000.0, CHAIN_8_MM)
    lying = hang(least_m * (1.0 + 1e-9), 6.0, 1000.0, CHAIN_8_MM)
    assert lifted.lying_m == 0.0
    assert lying.lying_m > 0.0
    assert lifted.reach_m == pytest.approx(lying.reach_m, abs=1e-6)
    assert lifted.bow_tension_n == pytest.approx(lying.bow_tension_n, rel=1e-6)
    assert lifted.bow_angle_deg == pytest.approx(lying.bow_angle_deg, abs=1e-5)


def test_in_a_calm_the_rode_hangs_up_and_down() -> None:
    lie = hang(40.0, 6.0, 0.0, CHAIN_8_MM)
    assert lie.reach_m == lie.lying_m == 34.0
    assert lie.bow_angle_deg == 90.0
    assert lie.bow_tension_n == pytest.approx(6.0 * CHAIN_8_MM)


@pytest.mark.parametrize("pull_n", [5e-324, 1e-9, 1e-6, 1e-3, 0.1])
def test_the_least_breath_changes_a_calm_only_a_little(pull_n: float) -> None:
    """The textbook form: rode lying, plus a acosh(1 + d/a)."""
    lie = hang(40.0, 6.0, pull_n, CHAIN_8_MM)
    a_m = max(pull_n / CHAIN_8_MM, 1e-12)
    expected_m = 40.0 - math.sqrt(6.0 * (6.0 + 2.0 * a_m)) + a_m * math.acosh(1.0 + 6.0 / a_m)
    assert lie.reach_m == pytest.approx(expected_m, abs=1e-6)


@pytest.mark.parametrize(
    ("rode_m", "drop_m", "pull_n", "weight_n_per_m"),
    [
        (-1.0, 6.0, 1000.0, 12.0),
        (40.0, -6.0, 1000.0, 12.0),
        (40.0, 6.0, -1.0, 12.0),
        (40.0, 6.0, 1000.0, 0.0),
        (40.0, 6.0, math.nan, 12.0),
        (math.inf, 6.0, 1000.0, 12.0),
    ],
)
def test_measures_that_cannot_be_are_refused(
    rode_m: float, drop_m: float, pull_n: float, weight_n_per_m: float
) -> None:
    with pytest.raises(UserInputError, match="cannot be"):
        hang(rode_m, drop_m, pull_n, weight_n_per_m)


def test_a_rode_that_does_not_reach_the_bottom_hangs_in_no_curve() -> None:
    with pytest.raises(UserInputError, match="does not reach the bottom"):
        hang(6.0, 6.0, 1000.0, CHAIN_8_MM)
