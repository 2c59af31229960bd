"""Intervals, the operating curve and the setting recommended."""

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from driftlead.errors import UserInputError
from driftlead.tune.curve import (
    Point,
    Share,
    in_order,
    nights_to_vouch,
    operating_curve,
    parse_accepted,
    recommend,
    tried_on_others,
)
from driftlead.tune.judge import Judged, Verdict
from driftlead.tune.trace import Alarm

ALARM = Alarm(0, 0.0, 0.0, 0.0, "anchor_moved")
QUIET = Judged(verdict=Verdict.QUIET, alarm=None)
FALSE = Judged(verdict=Verdict.FALSE, alarm=ALARM)
MISSED = Judged(verdict=Verdict.MISSED, alarm=None)


def found(metres: float, minutes: float = 1.0) -> Judged:
    """A drag found after so much."""
    return Judged(verdict=Verdict.FOUND, alarm=ALARM, late_s=60.0 * minutes, dragged_m=metres)


def point(false: int, of: int, cost_m: float | None) -> Point:
    """A setting with so many false alarms and this mean of metres."""
    return Point(
        false=Share(false, of),
        missed=Share(0, 1),
        median_m=cost_m,
        worst_m=cost_m,
        median_min=None,
        worst_min=None,
        cost_m=cost_m,
    )


@pytest.mark.parametrize(("count", "of"), [(0, 7), (1, 20), (3, 3), (13, 50), (0, 1), (199, 200)])
def test_intervals_are_wilsons(count: int, of: int) -> None:
    """As scipy has them."""
    expected = binomtest(count, of).proportion_ci(0.95, method="wilson")
    share = Share(count, of)
    assert (share.low, share.high) == pytest.approx((expected.low, expected.high), abs=1e-12)
    assert share.rate == count / of


def test_no_night_tells_nothing() -> None:
    share = Share(0, 0)
    assert math.isnan(share.rate)
    assert (share.low, share.high) == (0.0, 1.0)


def test_a_setting_is_summed_up_over_the_nights() -> None:
    total = Point.of([QUIET, FALSE, found(10.0, 1.0), found(30.0, 2.0), found(20.0, 6.0), MISSED])
    assert (total.false, total.missed) == (Share(1, 6), Share(1, 4))
    assert (total.median_m, total.worst_m) == (20.0, 30.0)
    assert (total.median_min, total.worst_min) == (2.0, 6.0)
    assert total.cost_m == pytest.approx((10.0 + 20.0 + 30.0 + 100.0) / 4.0)


def test_without_drags_there_are_no_metres() -> None:
    total = Point.of([QUIET, QUIET])
    assert (total.median_m, total.cost_m, total.missed.of) == (None, None, 0)


@given(
    st.lists(st.tuples(st.integers(0, 10), st.one_of(st.none(), st.floats(0.0, 100.0))), min_size=1)
)
def test_every_setting_is_matched_by_one_on_the_curve(
    settings: list[tuple[int, float | None]],
) -> None:
    """And none on the curve by another: straight from the definition."""
    points = [point(false, 10, cost_m) for false, cost_m in settings]

    def pair(index: int) -> tuple[float, float]:
        cost_m = points[index].cost_m
        return points[index].false.rate, math.inf if cost_m is None else cost_m

    curve = operating_curve(points)
    for index in range(len(points)):
        assert any(
            pair(best)[0] <= pair(index)[0] and pair(best)[1] <= pair(index)[1] for best in curve
        )
    for one, other in itertools.combinations(curve, 2):
        assert pair(one)[0] < pair(other)[0]
        assert pair(one)[1] > pair(other)[1]


def test_fewest_false_alarms_come_first_and_equals_as_given() -> None:
    points = [point(1, 10, 5.0), point(0, 10, 9.0), point(0, 10, 7.0), point(0, 10, 9.0)]
    assert in_order(points, [3, 0, 1, 2]) == (2, 3, 1, 0)


def test_the_quickest_that_keeps_to_it_is_recommended() -> None:
    points = [point(0, 50, 30.0), point(1, 50, 20.0), point(5, 50, 10.0)]
    safe = [True] * 3
    assert recommend(points, 0.02, safe) == 1
    assert recommend(points, 0.01, safe) == 0
    assert recommend(points, 0.1, safe) == 2


def test_of_equals_the_first_is_recommended() -> None:
    points = [point(0, 50, 30.0), point(0, 50, 20.0), point(0, 50, 20.0)]
    assert recommend(points, 0.02, [True] * 3) == 1


def test_a_setting_not_known_to_be_safe_needs_nights_that_vouch_for_it() -> None:
    """0 of 50 leaves up to 7 % open, 0 of 200 no more than 1.9 %."""
    safe = [True, False]
    few = [point(0, 50, 30.0), point(0, 50, 20.0)]
    many = [point(0, 200, 30.0), point(0, 200, 20.0)]
    assert recommend(few, 0.02, safe) == 0
    assert recommend(many, 0.02, safe) == 1


def test_where_none_keeps_to_it_the_fewest_false_alarms_are_recommended() -> None:
    points = [point(9, 10, 5.0), point(3, 10, 50.0), point(3, 10, 40.0)]
    assert recommend(points, 0.02, [True] * 3) == 2
    assert recommend(points, 0.02, [True, True, False]) == 1


def test_the_choice_is_tried_on_the_night_it_was_not_chosen_on() -> None:
    """Setting 0 is best without night 0, on which it fails; setting 1 without the others."""
    table = [
        [FALSE, QUIET, found(10.0)],
        [QUIET, QUIET, found(20.0)],
    ]
    total = tried_on_others(table, 0.02, [True, True])
    assert total is not None
    assert total.false == Share(1, 3)
    assert total.median_m == 20.0


def test_a_single_night_leaves_nothing_to_choose_on() -> None:
    assert tried_on_others([[QUIET], [FALSE]], 0.02, [True, True]) is None


@pytest.mark.parametrize("accepted", [0.02, 0.1, 0.005])
def test_so_many_nights_vouch_and_one_fewer_does_not(accepted: float) -> None:
    count = nights_to_vouch(accepted)
    assert Share(0, count).high <= accepted < Share(0, count - 1).high


@pytest.mark.parametrize(
    ("text", "accepted"), [("1 in 50", 0.02), ("1 IN 4", 0.25), (" 2  in 50 ", 0.04)]
)
def test_the_accepted_rate_is_read(text: str, accepted: float) -> None:
    assert parse_accepted(text) == accepted


@pytest.mark.parametrize(
    "text", ["", "50", "1 in", "1 in 0", "0 in 5", "3 in 2", "1 of 50", "nan in 5", "1 in inf"]
)
def test_what_is_no_rate_is_refused(text: str) -> None:
    with pytest.raises(UserInputError) as caught:
        parse_accepted(text)
    assert "1 in 50" in caught.value.remedy
