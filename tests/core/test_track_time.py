"""Running time: as the receiver counts it, and never backwards."""

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.core.track_time import TrackTime


def times(*epochs: tuple[float, float | None]) -> list[Any]:
    """Running time at each epoch of (mono_s, tod_s), counted from the first."""
    track = TrackTime()
    told = [track.at(mono_s, tod_s) for mono_s, tod_s in epochs]
    return [pytest.approx(time_s - told[0], abs=1e-9) for time_s in told]


def test_the_receiver_s_seconds_count_and_not_our_jitter() -> None:
    assert times((5.0, 100.0), (6.3, 101.0), (6.9, 102.0), (8.2, 103.5)) == [0.0, 1.0, 2.0, 3.5]


def test_a_recording_played_fast_runs_at_the_speed_it_was_lived() -> None:
    """An hour in a minute."""
    assert times(*((minute, 60.0 * minute) for minute in range(61)))[-1] == 3600.0


def test_midnight_is_one_second_like_others() -> None:
    assert times((0.0, 86_399.0), (1.0, 0.0), (2.0, 1.0)) == [0.0, 1.0, 2.0]


def test_a_gap_counts_as_long_as_the_receiver_says() -> None:
    assert times((0.0, 0.0), (1.0, 1250.0)) == [0.0, 1250.0]


def test_a_leap_second_is_lived_through_without_a_step_back() -> None:
    told = times((0.0, 86_399.0), (1.0, 86_400.0), (2.0, 0.0), (3.0, 1.0), (4.0, 2.0))
    # The day of 86 400 seconds has no room for it: it is given back in the second after.
    assert told == [0.0, 1.0, 2.0, 2.0, 3.0]


def test_a_receiver_that_tells_no_time_is_timed_by_our_clock() -> None:
    assert times((3.0, None), (4.5, None), (6.0, None)) == [0.0, 1.5, 3.0]


def test_time_told_now_and_then_goes_on_from_our_clock() -> None:
    assert times((0.0, 50.0), (1.0, None), (2.5, 60.0), (3.6, 61.0)) == [0.0, 1.0, 2.5, 3.5]


def test_a_receiver_that_repeats_its_time_is_overruled() -> None:
    """It is stuck; then it goes on from where it stands."""
    assert times((0.0, 7.0), (10.0, 7.0), (20.0, 7.0), (21.0, 8.0), (22.0, 9.0)) == [
        0.0,
        10.0,
        20.0,
        20.0,
        21.0,
    ]


def test_time_that_was_stuck_and_then_is_right_again_is_not_counted_twice() -> None:
    assert times((0.0, 7.0), (50.0, 7.0), (100.0, 107.0), (101.0, 108.0)) == [
        0.0,
        50.0,
        100.0,
        101.0,
    ]


def test_a_receiver_that_sets_its_clock_back_goes_on_from_there() -> None:
    assert times((0.0, 40_000.0), (1.0, 30_000.0), (2.0, 30_001.0), (3.0, 30_002.0)) == [
        0.0,
        1.0,
        2.0,
        3.0,
    ]


def test_stragglers_do_not_make_time_run_faster() -> None:
    """Two talkers of one receiver, one of them a second behind: a minute stays a minute."""
    epochs = []
    for second in range(61):
        epochs += [(float(second), 100.0 + second), (second + 0.3, 99.0 + second)]
    told = times(*epochs)
    assert told[-2] == 60.0
    assert told[2] == 1.0


def test_our_clock_standing_still_does_not_stop_the_receiver_s() -> None:
    """In a bare log all that arrived between two times arrived at once."""
    assert times((0.0, 1.0), (0.0, 2.0), (0.0, 3.0)) == [0.0, 1.0, 2.0]


@given(
    st.lists(
        st.tuples(st.floats(-9.0, 5000.0), st.one_of(st.none(), st.floats(0.0, 86_400.0))),
        max_size=40,
    )
)
def test_it_never_runs_backwards_whatever_either_clock_says(
    epochs: list[tuple[float, float | None]],
) -> None:
    track, mono_s = TrackTime(), 0.0
    told = []
    for step_s, tod_s in epochs:
        mono_s += step_s
        told.append(track.at(mono_s, tod_s))
    assert all(later >= earlier for earlier, later in pairwise(told))


@given(
    st.floats(0.0, 86_399.0),
    st.lists(st.tuples(st.floats(0.1, 43_199.0), st.floats(0.0, 10.0)), max_size=40),
)
def test_it_counts_every_second_a_sound_receiver_counts(
    start_s: float, steps: list[tuple[float, float]]
) -> None:
    """Whatever our own clock makes of it meanwhile."""
    track, mono_s, true_s = TrackTime(), 0.0, start_s
    begun = track.at(mono_s, true_s)
    for step_s, mono_step_s in steps:
        mono_s += mono_step_s
        true_s += step_s
        told = track.at(mono_s, true_s % 86_400.0)
        assert told - begun == pytest.approx(true_s - start_s, abs=1e-4)
