"""The receiver errs as real ones do.

The figures are of consumer 1 Hz receivers at rest, from public recordings of such: square root
of the semivariance per axis 0.04-0.14 m at 1 s, 0.24-0.69 at 10 s, 0.6-1.2 at 60 s, 0.9-1.7 at
300 s. Still code-only receivers forget (1/e) within 32 to 36 minutes.
"""

import math
from itertools import pairwise
from statistics import fmean, median, pvariance

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.simulate.receiver import (
    Fix,
    Held,
    Multipath,
    Receiver,
    ReceiverFigures,
    Silence,
    StartUp,
    Trouble,
    Void,
)

HERE = (100.0, -50.0)
EXACT = ReceiverFigures(quick_m=0.0, middling_m=0.0, slow_m=0.0, velocity_mps=0.0)


def fixes(
    *,
    seconds: int,
    seed: int = 1,
    figures: ReceiverFigures | None = None,
    troubles: tuple[Trouble, ...] = (),
    v_mps: tuple[float, float] = (0.0, 0.0),
) -> list[Fix | None]:
    receiver = Receiver(figures or ReceiverFigures(), seed=seed, troubles=troubles)
    return [receiver.fix(float(t), 1.0, en_m=HERE, v_mps=v_mps) for t in range(seconds)]


def told(seen: list[Fix | None]) -> list[Fix]:
    return [fix for fix in seen if fix is not None]


@pytest.fixture(scope="module")
def day_at_rest() -> list[Fix]:
    """A day of a receiver that lies still."""
    return told(fixes(seconds=86_400, seed=3))


@pytest.mark.parametrize(
    ("lag_s", "least_m", "most_m"),
    [(1, 0.04, 0.14), (10, 0.24, 0.69), (60, 0.6, 1.2), (300, 0.9, 1.7)],
)
def test_it_wanders_as_smoothly_as_real_receivers(
    day_at_rest: list[Fix], lag_s: int, least_m: float, most_m: float
) -> None:
    """Square root of the semivariance, per axis, against the ranges above."""
    for axis in ("e_m", "n_m"):
        values = [getattr(fix, axis) for fix in day_at_rest]
        pairs = zip(values, values[lag_s:], strict=False)
        semivariance = 0.5 * fmean((b - a) ** 2 for a, b in pairs)
        assert least_m < math.sqrt(semivariance) < most_m


def test_it_is_off_by_metres_over_a_night_and_forgets_in_half_an_hour(
    day_at_rest: list[Fix],
) -> None:
    """1.5 to 2.5 m per axis in all; correlation about 1/e after 20 to 40 minutes."""
    at_lag, total = [], []
    for axis, centre in (("e_m", HERE[0]), ("n_m", HERE[1])):
        values = [getattr(fix, axis) - centre for fix in day_at_rest]
        total.append(math.sqrt(pvariance(values, 0.0)))
        for lag_s in (1200, 2400):
            pairs = zip(values, values[lag_s:], strict=False)
            at_lag.append((lag_s, fmean(a * b for a, b in pairs) / total[-1] ** 2))
    assert all(1.5 < sigma_m < 2.5 for sigma_m in total)
    assert fmean(value for lag_s, value in at_lag if lag_s == 1200) > 1.0 / math.e - 0.1
    assert fmean(value for lag_s, value in at_lag if lag_s == 2400) < 1.0 / math.e + 0.1


def test_its_speed_at_rest_is_a_small_noise_without_a_course(day_at_rest: list[Fix]) -> None:
    """0.02 to 0.1 m/s; below a fifth of a knot no course is given."""
    assert 0.02 < median(fix.sog_mps for fix in day_at_rest) < 0.1
    assert any(fix.cog_deg is None for fix in day_at_rest)
    assert all((fix.cog_deg is None) == (fix.sog_mps < 0.1) for fix in day_at_rest)


def test_under_way_it_gives_the_true_course_and_speed() -> None:
    """Two metres a second to the south-east."""
    for fix in told(fixes(seconds=600, v_mps=(math.sqrt(2.0), -math.sqrt(2.0)))):
        assert fix.sog_mps == pytest.approx(2.0, abs=0.3)
        assert fix.cog_deg == pytest.approx(135.0, abs=8.0)


def test_multipath_steps_aside_and_comes_back() -> None:
    """With a telling HDOP or without; only while it lasts."""
    quiet = Multipath(begins_s=100.0, lasts_s=30.0, offset_m=50.0, bearing_deg=90.0)
    telling = Multipath(begins_s=200.0, lasts_s=10.0, offset_m=300.0, bearing_deg=180.0, hdop=6.0)
    seen = told(fixes(seconds=300, figures=EXACT, troubles=(quiet, telling)))
    for second, fix in enumerate(seen):
        east, north, few = HERE[0], HERE[1], False
        if 100 <= second < 130:
            east += 50.0
        if 200 <= second < 210:
            north, few = north - 300.0, True
        assert (fix.e_m, fix.n_m) == pytest.approx((east, north))
        assert (fix.hdop == 6.0 and fix.satellites == 4) == few


def test_a_held_position_does_not_move_by_a_hair_and_then_jumps() -> None:
    """Identical fixes at speed 0 while the error (or the boat) goes on underneath."""
    seen = told(fixes(seconds=1200, troubles=(Held(begins_s=300.0, lasts_s=600.0),)))
    free = told(fixes(seconds=1200))
    assert len({(fix.e_m, fix.n_m) for fix in seen[300:900]}) == 1
    assert {fix.sog_mps for fix in seen[300:900]} == {0.0}
    assert seen[:300] == free[:300]
    assert seen[900:] == free[900:]
    jump_m = math.hypot(seen[900].e_m - seen[899].e_m, seen[900].n_m - seen[899].n_m)
    assert jump_m > 0.5


def test_void_fixes_are_said_and_silence_is_not() -> None:
    """No fix with a talking receiver; nothing at all from a silent one."""
    troubles = (Void(begins_s=10.0, lasts_s=5.0), Silence(begins_s=20.0, lasts_s=3.0))
    seen = fixes(seconds=30, troubles=troubles)
    assert [t for t, fix in enumerate(seen) if fix is None] == [20, 21, 22]
    assert [t for t, fix in enumerate(seen) if fix and not fix.valid] == [10, 11, 12, 13, 14]


def test_a_receiver_just_switched_on_finds_its_way_in_six_minutes() -> None:
    """Off by 19 m at first (a puck was seen to wander that far), by nothing in the end."""
    start = StartUp(begins_s=0.0, offset_m=19.0, bearing_deg=90.0)
    seen = told(fixes(seconds=500, figures=EXACT, troubles=(start,)))
    off = [fix.e_m - HERE[0] for fix in seen]
    assert off[0] == pytest.approx(19.0)
    assert all(late <= early for early, late in pairwise(off))
    assert off[180] == pytest.approx(19.0 / 4.0)
    assert max(off[360:]) == pytest.approx(0.0)
    assert all(fix.n_m == pytest.approx(HERE[1]) for fix in seen)


def test_a_receiver_that_holds_out_of_habit_stands_still_and_jumps() -> None:
    """Most steps are exactly none, at speed 0; where it jumps it was off by 5 m and more."""
    habit = ReceiverFigures(holds_below_mps=0.5, holds_within_m=5.0)
    seen = told(fixes(seconds=20_000, figures=habit))
    steps = [math.dist((a.e_m, a.n_m), (b.e_m, b.n_m)) for a, b in pairwise(seen)]
    jumps = [step_m for step_m in steps if step_m > 0.0]
    # A consumer chip outdoors: 93.9 % of its steps from second to second were exactly zero.
    assert len(jumps) < 0.061 * len(steps)
    assert len(jumps) >= 3
    assert min(jumps) > 5.0
    assert {fix.sog_mps for fix in seen} == {0.0}
    free = told(fixes(seconds=20_000))
    for held, true in zip(seen, free, strict=True):
        assert math.dist((held.e_m, held.n_m), (true.e_m, true.n_m)) <= 5.0


def test_it_does_not_hold_a_boat_that_moves() -> None:
    """Faster than it holds, it follows as any other."""
    habit = ReceiverFigures(holds_below_mps=0.3, holds_within_m=5.0)
    moving = (1.0, 0.0)
    assert fixes(seconds=300, figures=habit, v_mps=moving) == fixes(seconds=300, v_mps=moving)


@given(
    spans=st.lists(st.tuples(st.integers(-50, 100), st.integers(1, 60)), max_size=6),
)
def test_what_is_wrong_is_wrong_as_long_as_it_is_said_to_last(
    spans: list[tuple[int, int]],
) -> None:
    """However troubles overlap, and if they began before the receiver was heard."""
    troubles = tuple(Silence(begins_s=float(a), lasts_s=float(b)) for a, b in spans)
    seen = fixes(seconds=120, figures=EXACT, troubles=troubles)
    for second, fix in enumerate(seen):
        assert (fix is None) == any(a <= second < a + b for a, b in spans)
