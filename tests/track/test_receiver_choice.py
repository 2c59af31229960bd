"""Which receiver is followed: the most trusted one that has a fix, without flapping."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.track.receiver_choice import RETURN_S, TAKEOVER_S, ReceiverChoice, ReceiverId


def enrolled(*ranks: int, groups: tuple[str, ...] = ()) -> tuple[ReceiverChoice, list[ReceiverId]]:
    """Receivers on sources of these ranks, 0 the most trusted."""
    choice = ReceiverChoice()
    receivers = []
    for number, rank in enumerate(ranks):
        group = groups[number] if groups else "satellite"
        receivers.append(ReceiverId(f"source{rank}", group))
        choice.enrol(receivers[-1], rank)
    return choice, receivers


def test_the_first_that_has_a_fix_is_followed() -> None:
    choice, [_best, second] = enrolled(0, 1)
    assert choice.followed is None
    assert choice.follows(second, 5.0)
    assert choice.followed is second


def test_one_receiver_alone_is_followed_through_any_gap() -> None:
    choice, [only] = enrolled(0)
    assert all(choice.follows(only, mono_s) for mono_s in (0.0, 1.0, 500.0, 501.0, 90_000.0))


def test_the_less_trusted_is_not_taken_while_the_other_speaks() -> None:
    choice, [best, second] = enrolled(0, 1)
    for mono_s in range(100):
        assert choice.follows(best, float(mono_s))
        assert not choice.follows(second, mono_s + 0.5)
    assert choice.followed is best


def test_the_next_takes_over_after_ten_seconds_of_silence_and_not_before() -> None:
    choice, [best, second] = enrolled(0, 1)
    assert choice.follows(best, 100.0)
    assert not choice.follows(second, 101.0)
    assert not choice.follows(second, 100.0 + TAKEOVER_S)
    assert choice.follows(second, 100.1 + TAKEOVER_S)
    assert choice.followed is second
    assert TAKEOVER_S == 10.0


def test_the_more_trusted_is_followed_again_after_thirty_steady_seconds() -> None:
    choice, [best, second] = enrolled(0, 1)
    choice.follows(best, 0.0)
    for mono_s in range(1, 31):
        choice.follows(second, float(mono_s))
    for mono_s in range(31, 61):
        assert not choice.follows(best, float(mono_s))
        assert choice.follows(second, mono_s + 0.5)
    assert choice.follows(best, 31.0 + RETURN_S)
    assert not choice.follows(second, 31.5 + RETURN_S)
    assert RETURN_S == 30.0


def test_a_more_trusted_one_that_keeps_failing_is_not_followed_again() -> None:
    """Twenty seconds of fix, eleven of silence, for ten minutes."""
    choice, [best, second] = enrolled(0, 1)
    choice.follows(best, 0.0)
    for mono_s in range(20, 620):
        choice.follows(second, float(mono_s))
        if (mono_s - 20) % 31 < 20:
            assert not choice.follows(best, mono_s + 0.3)
    assert choice.followed is second


def test_a_short_gap_does_not_start_the_thirty_seconds_anew() -> None:
    choice, [best, second] = enrolled(0, 1)
    choice.follows(second, 0.0)
    took = None
    for mono_s in range(60):
        choice.follows(second, float(mono_s))
        if not 10 <= mono_s < 19 and choice.follows(best, mono_s + 0.25) and took is None:
            took = mono_s
    # Silent for the ten seconds from 9 to 19 only, it is steady since second 0.
    assert took == 30


def test_the_less_trusted_never_takes_over_by_being_steady() -> None:
    choice, [best, second] = enrolled(0, 1)
    choice.follows(best, 0.0)
    for mono_s in range(9, 600, 9):
        assert choice.follows(best, float(mono_s))
        assert not choice.follows(second, mono_s + 0.1)


def test_satellite_talkers_come_before_instruments_on_the_same_wire() -> None:
    """Even when the instrument spoke first."""
    choice, [instrument, satellite] = enrolled(0, 0, groups=("II", "satellite"))
    assert choice.follows(instrument, 0.0)
    for mono_s in range(1, 40):
        choice.follows(instrument, float(mono_s))
        choice.follows(satellite, mono_s + 0.1)
    assert choice.followed is satellite


def test_an_instrument_on_a_trusted_wire_comes_before_a_receiver_on_another() -> None:
    choice, [other, instrument] = enrolled(1, 0, groups=("satellite", "II"))
    choice.follows(other, 0.0)
    for mono_s in range(1, 40):
        choice.follows(other, float(mono_s))
        choice.follows(instrument, mono_s + 0.1)
    assert choice.followed is instrument


def test_of_two_equally_trusted_the_first_heard_keeps_it() -> None:
    choice, [one, two] = enrolled(0, 0, groups=("II", "IN"))
    choice.follows(two, 0.0)
    for mono_s in range(1, 40):
        choice.follows(one, float(mono_s))
        choice.follows(two, mono_s + 0.1)
    # Enrolled first counts as more trusted, so that the choice is always the same.
    assert choice.followed is one


def test_of_two_on_sources_nobody_ranked_the_one_followed_is_kept() -> None:
    choice, [one, two] = enrolled(7, 7)
    choice.follows(two, 0.0)
    for mono_s in range(1, 100):
        assert choice.follows(two, float(mono_s))
        assert not choice.follows(one, mono_s + 0.1)


@given(
    st.lists(
        st.tuples(st.integers(0, 2), st.floats(0.0, 15.0)),
        min_size=1,
        max_size=200,
    )
)
def test_it_never_changes_without_need(fixes: list[tuple[int, float]]) -> None:
    """To a less trusted one after ten seconds of silence, to a more trusted after thirty steady."""
    choice, receivers = enrolled(0, 1, 2)
    mono_s = 0.0
    heard: dict[ReceiverId, list[float]] = {receiver: [] for receiver in receivers}
    for number, step_s in fixes:
        mono_s += step_s
        receiver = receivers[number]
        before = choice.followed
        took = choice.follows(receiver, mono_s)
        assert took is (choice.followed is receiver)
        if took and before not in (None, receiver):
            assert before is not None
            silent = mono_s - heard[before][-1] > TAKEOVER_S
            times = [*heard[receiver], mono_s]
            steady = [b for a, b in pairwise(times) if b - a > TAKEOVER_S] or times[:1]
            trusted = receivers.index(receiver) < receivers.index(before)
            assert silent or (trusted and mono_s - steady[-1] >= RETURN_S - 1e-6)
        if not took:
            assert before is choice.followed
            assert before is not None
            assert mono_s - heard[before][-1] <= TAKEOVER_S + 1e-6
        heard[receiver].append(mono_s)


def test_a_fix_of_nobody_enrolled_is_a_fault_of_ours() -> None:
    choice, [best] = enrolled(0)
    choice.follows(best, 0.0)
    with pytest.raises(KeyError):
        choice.follows(ReceiverId("nowhere", "satellite"), 1.0)
