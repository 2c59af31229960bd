"""Where the anchor lay, by the circle she swung in: swings made about a place that is known."""

import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest
from attrs import evolve

from driftlead.geodesy.plane import LocalPlane, offset
from driftlead.geodesy.position import Position
from driftlead.tune.anchor_check import AnchorCheck, check_anchor
from driftlead.tune.trace import NightTrace

MakeTrace = Callable[..., NightTrace]
Floats = npt.NDArray[np.float64]
MARK = Position(46.5, -31.2)
HOURS = 8
STEPS = HOURS * 360
LIES_M = 35.5
"""96 % of the reach of made traces: chain hangs."""


def swing(
    make_trace: MakeTrace,
    *,
    off: tuple[float, float] = (0.0, 0.0),
    arc_deg: float = 60.0,
    seed: int = 1,
    heading: bool = True,
    calm: slice = slice(0),
    radius_m: float = LIES_M,
) -> NightTrace:
    """A night of swinging over an arc about an anchor that lies ``off`` metres from its mark.

    Errors as a receiver makes them: 1.5 m that changes over half an hour, 1 m from step to step.
    ``calm``: steps in which she lies anywhere nearer.
    """
    generator = np.random.default_rng(seed)
    time_s = 10.0 * np.arange(STEPS)
    # Head to the anchor, whose bearing goes to and fro.
    away_deg = 40.0 + 0.5 * arc_deg * np.sin(2.0 * math.pi * time_s / 7000.0 + seed)
    distance_m = radius_m - np.abs(generator.normal(0.0, 0.8, STEPS))
    distance_m[calm] = radius_m * np.sqrt(generator.random(STEPS)[calm])
    aft_m = 8.0
    bow = (distance_m[:, None]) * _unit(away_deg) + np.array(off)
    antenna = bow + aft_m * _unit(away_deg)
    slow = _wander(generator, 1.5, 1800.0)
    antenna += slow + generator.normal(0.0, 1.0, (STEPS, 2))
    plane = LocalPlane(MARK)
    places = np.array([plane.to_lat_lon(*each) for each in antenna])
    return make_trace(
        np.full(STEPS, -10.0),
        lat_deg=places[:, 0],
        lon_deg=places[:, 1],
        heading_deg=(away_deg + 180.0) % 360.0 if heading else math.nan,
    )


def _unit(bearing_deg: Floats) -> Floats:
    bearing_rad = np.radians(bearing_deg)
    unit: Floats = np.column_stack((np.sin(bearing_rad), np.cos(bearing_rad)))
    return unit


def _wander(generator: np.random.Generator, sigma: float, tau_s: float) -> Floats:
    keep = math.exp(-10.0 / tau_s)
    steps = generator.normal(0.0, sigma, (STEPS, 2))
    for i in range(1, STEPS):
        steps[i] = keep * steps[i - 1] + math.sqrt(1.0 - keep * keep) * steps[i]
    return steps


def checked(trace: NightTrace, until_utc_s: float = math.inf) -> AnchorCheck:
    """The check, which there must be."""
    check = check_anchor(trace, until_utc_s)
    assert check is not None
    return check


def error_m(check: AnchorCheck, off: tuple[float, float]) -> float:
    """How far the fitted place is from the true one."""
    east_m, north_m = offset(check.bearing_deg, check.off_m)
    return math.hypot(east_m - off[0], north_m - off[1])


@pytest.mark.parametrize("heading", [True, False])
@pytest.mark.parametrize("arc_deg", [50.0, 80.0, 150.0])
def test_the_place_is_found_as_well_as_it_says(
    make_trace: MakeTrace, arc_deg: float, heading: bool
) -> None:
    """Over a dozen nights the error is about what was told of it, and never three times that."""
    ratios = []
    for seed in range(12):
        off = offset(30.0 * seed, 10.0)
        trace = swing(make_trace, off=off, arc_deg=arc_deg, seed=seed, heading=heading)
        check = checked(trace)
        ratios.append(error_m(check, off) / check.sigma_m)
        assert check.at_bow is heading
    assert max(ratios) < 3.0
    # Two dimensions, one of them told too wide: between no error at all and sqrt(2).
    assert 0.1 < math.sqrt(float(np.mean(np.square(ratios)))) < 1.4


def test_a_mark_that_is_off_is_told_from_one_that_is_right(make_trace: MakeTrace) -> None:
    wrong = checked(swing(make_trace, off=(25.0, -10.0), arc_deg=150.0))
    right = checked(swing(make_trace, arc_deg=150.0))
    assert not wrong.agrees
    assert wrong.off_m == pytest.approx(26.9, abs=5.0)
    assert wrong.bearing_deg == pytest.approx(111.8, abs=12.0)
    assert right.agrees


def test_the_radius_is_known_on_a_short_arc_and_free_on_a_long_one(make_trace: MakeTrace) -> None:
    """More than a quarter of the circle tells its radius itself."""
    short = checked(swing(make_trace, arc_deg=60.0, radius_m=33.0))
    long = checked(swing(make_trace, arc_deg=200.0, radius_m=30.0))
    assert (short.radius_known, long.radius_known) == (True, False)
    assert short.arc_deg == pytest.approx(60.0, abs=15.0)
    assert long.arc_deg == pytest.approx(200.0, abs=20.0)
    assert long.radius_m == pytest.approx(30.0, abs=2.0)
    assert short.sigma_m > long.sigma_m


def test_a_calm_in_which_she_lies_anywhere_does_not_move_the_circle(
    make_trace: MakeTrace,
) -> None:
    trace = swing(make_trace, arc_deg=150.0, calm=slice(STEPS // 3, STEPS // 2))
    check = checked(trace)
    assert error_m(check, (0.0, 0.0)) < 2.5 * check.sigma_m
    assert check.radius_m == pytest.approx(LIES_M - 0.6, abs=1.5)


def test_only_the_time_she_held_counts(make_trace: MakeTrace) -> None:
    """After the drag has begun she lies about another place."""
    held = swing(make_trace, arc_deg=120.0)
    gone = swing(make_trace, off=(80.0, 0.0), arc_deg=120.0)
    rows = held.rows.copy()
    rows[STEPS // 2 :] = gone.rows[STEPS // 2 :]
    both = evolve(held, rows=rows)
    begins_s = float(rows["utc_s"][STEPS // 2])
    assert error_m(checked(both, begins_s), (0.0, 0.0)) < 6.0


def test_a_short_watch_tells_nothing(make_trace: MakeTrace) -> None:
    trace = swing(make_trace)
    first = float(trace.rows["utc_s"][0])
    assert check_anchor(trace, first + 2000.0) is None
    assert check_anchor(evolve(trace, anchorings=())) is None


def test_a_boat_that_lies_still_tells_nothing(make_trace: MakeTrace) -> None:
    """An arc of a few degrees has its centre anywhere."""
    assert check_anchor(swing(make_trace, arc_deg=2.0)) is None


def test_without_a_reach_there_is_no_circle(make_trace: MakeTrace) -> None:
    trace = swing(make_trace)
    anchoring = evolve(trace.anchorings[0], reach_m=math.nan)
    assert check_anchor(evolve(trace, anchorings=(anchoring,))) is None
