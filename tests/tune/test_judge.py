"""What an alarm was worth."""

import datetime as dt
from collections.abc import Callable

import pytest

from driftlead.errors import UserInputError
from driftlead.tune.judge import Verdict, Went, how_it_went, judge
from driftlead.tune.marks import Mark
from driftlead.tune.trace import Alarm, NightTrace
from driftlead.tune.truth import DragKnown, Truth

MakeTrace = Callable[..., NightTrace]
HELD = Went(begins_utc_s=None, drag=None, by="marked")
MARKED = Went(begins_utc_s=10_000.0, drag=None, by="marked")
KNOWN = Went(
    begins_utc_s=10_000.0,
    drag=DragKnown(begins_utc_s=10_000.0, ends_utc_s=12_000.0, distance_m=200.0),
    by="truth.json",
)


def alarm(utc_s: float, moved_m: float = 12.0) -> Alarm:
    """An alarm at a time."""
    return Alarm(0, utc_s, 0.0, moved_m, "anchor_moved")


def test_a_night_that_held_is_quiet_or_has_a_false_alarm() -> None:
    assert judge(None, HELD).verdict is Verdict.QUIET
    assert judge(alarm(5.0), HELD).verdict is Verdict.FALSE


@pytest.mark.parametrize("went", [MARKED, KNOWN])
def test_an_alarm_before_the_drag_is_false(went: Went) -> None:
    """Nobody knows the beginning to the minute, so one minute is forgiven."""
    assert judge(alarm(9_939.0), went).verdict is Verdict.FALSE
    early = judge(alarm(9_941.0, moved_m=3.0), went)
    assert (early.verdict, early.late_s) == (Verdict.FOUND, 0.0)


@pytest.mark.parametrize("went", [MARKED, KNOWN])
def test_a_drag_without_an_alarm_is_missed(went: Went) -> None:
    assert judge(None, went).verdict is Verdict.MISSED


def test_the_metres_are_the_true_ones_where_they_are_known() -> None:
    found = judge(alarm(10_300.0, moved_m=17.0), KNOWN)
    assert (found.verdict, found.late_s, found.dragged_m) == (Verdict.FOUND, 300.0, 30.0)


def test_the_metres_are_the_detectors_where_truth_is_not_known() -> None:
    found = judge(alarm(10_300.0, moved_m=17.0), MARKED)
    assert (found.verdict, found.late_s, found.dragged_m) == (Verdict.FOUND, 300.0, 17.0)


def test_an_alarm_after_a_hundred_metres_is_a_miss_with_its_figures() -> None:
    assert judge(alarm(11_000.0), KNOWN).verdict is Verdict.FOUND
    late = judge(alarm(11_001.0), KNOWN)
    assert late.verdict is Verdict.MISSED
    assert late.dragged_m == pytest.approx(100.1)
    assert judge(alarm(10_500.0, moved_m=101.0), MARKED).verdict is Verdict.MISSED


def test_a_night_nobody_speaks_of_is_not_judged(make_trace: MakeTrace) -> None:
    assert how_it_went("a", None, None, make_trace([0.0])) is None


def test_truth_speaks_where_the_skipper_does_not(make_trace: MakeTrace) -> None:
    trace = make_trace([0.0])
    assert how_it_went("a", None, Truth(None), trace) == Went(
        begins_utc_s=None, drag=None, by="truth.json"
    )
    assert how_it_went("a", None, Truth(KNOWN.drag), trace) == KNOWN


def test_the_skippers_word_goes_before_truth(make_trace: MakeTrace) -> None:
    """In whether and when; how far it came is still true."""
    trace = make_trace([0.0] * 2000)
    held = how_it_went("a", Mark(outcome="held"), Truth(KNOWN.drag), trace)
    assert held is not None
    assert held.held
    dragged = how_it_went(
        "a", Mark(outcome="dragged", at=dt.time(23, 10)), Truth(KNOWN.drag), trace
    )
    assert dragged is not None
    assert dragged.drag is KNOWN.drag
    begins = dt.datetime(2026, 6, 14, 23, 10, tzinfo=dt.UTC)
    assert dragged.begins_utc_s == begins.timestamp()


def test_a_time_after_midnight_is_the_next_days(make_trace: MakeTrace) -> None:
    went = how_it_went(
        "a", Mark(outcome="dragged", at=dt.time(1, 5)), None, make_trace([0.0] * 2000)
    )
    assert went is not None
    assert went.begins_utc_s == dt.datetime(2026, 6, 15, 1, 5, tzinfo=dt.UTC).timestamp()


@pytest.mark.parametrize("at", [dt.time(20, 0), dt.datetime(2026, 6, 13, 22, 0, tzinfo=dt.UTC)])
def test_a_time_outside_of_the_night_is_an_error(
    make_trace: MakeTrace, at: dt.time | dt.datetime
) -> None:
    with pytest.raises(UserInputError, match=r"a\.log: at = .* is not within the watch") as caught:
        how_it_went("a.log", Mark(outcome="dragged", at=at), None, make_trace([0.0] * 100))
    assert "2026-06-14 21:00 to 21:16" in caught.value.message
    assert "--at HH:MM" in caught.value.remedy


def test_a_log_without_a_date_cannot_have_a_time_found_in_it(make_trace: MakeTrace) -> None:
    mark = Mark(outcome="dragged", at=dt.time(3, 12))
    with pytest.raises(UserInputError, match="never told the date") as caught:
        how_it_went("a.log", mark, None, make_trace([0.0] * 100, utc=False))
    assert "--date" in caught.value.remedy
    assert how_it_went("a.log", Mark(outcome="held"), None, make_trace([0.0], utc=False)) == HELD
