"""The PIN: one at a time, once, and not for long."""

import hmac
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.web.pin import VALID_S, Pin


class Clock:
    """Seconds a test sets."""

    now_s = 100.0

    def __call__(self) -> float:
        """Give the time."""
        return self.now_s


def test_it_has_eight_digits_in_two_groups_and_is_another_each_time() -> None:
    pin = Pin(Clock())
    made = {pin.open() for _ in range(50)}
    assert len(made) == 50
    assert all(re.fullmatch("[0-9]{4} [0-9]{4}", each) for each in made)


@pytest.mark.parametrize("form", ["{0} {1}", "{0}{1}", " {0}-{1} ", "{0}\u00a0{1}"])
def test_it_is_taken_however_it_is_typed(form: str) -> None:
    pin = Pin(Clock())
    assert pin.take(form.format(*pin.open().split()))


def test_it_is_good_once() -> None:
    pin = Pin(Clock())
    typed = pin.open()
    assert pin.take(typed)
    assert not pin.take(typed)


def test_another_one_takes_its_place() -> None:
    pin = Pin(Clock())
    first = pin.open()
    second = pin.open()
    assert not pin.take(first)
    assert pin.take(second)


@pytest.mark.parametrize(("late_s", "good"), [(VALID_S - 0.1, True), (VALID_S, False)])
def test_it_runs_out_after_five_minutes(late_s: float, good: bool) -> None:
    assert VALID_S == 300.0
    clock = Clock()
    pin = Pin(clock)
    typed = pin.open()
    clock.now_s += late_s
    assert pin.take(typed) is good


def test_a_wrong_one_does_not_use_it_up() -> None:
    pin = Pin(Clock())
    typed = pin.open()
    assert not pin.take("0000" if typed != "0000" else "1")
    assert pin.take(typed)


@given(st.text())
def test_nothing_at_all_is_taken_before_one_is_made(typed: str) -> None:
    assert not Pin(Clock()).take(typed)


def test_it_is_always_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Right, wrong or none there: once by what takes the same time whatever differs."""
    compared: list[bytes] = []
    compare = hmac.compare_digest

    def seen(given: bytes, kept: bytes) -> bool:
        compared.append(given)
        return compare(given, kept)

    monkeypatch.setattr(hmac, "compare_digest", seen)
    pin = Pin(Clock())
    typed = pin.open()
    for count, (tried, right) in enumerate([("0", False), (typed, True), (typed, False)], start=1):
        assert pin.take(tried) is right
        assert len(compared) == count
        # Digests of one length, so that not even that of what was typed tells.
        assert {len(each) for each in compared} == {32}
