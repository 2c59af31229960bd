"""Each command once, and none that comes late."""

import pytest

from driftlead.web.once import EARLY_S, LATE_S, MOST, Once


class Clock:
    """Seconds a test sets."""

    now_s = 1000.0

    def __call__(self) -> float:
        """Give the time."""
        return self.now_s


@pytest.mark.parametrize(
    ("ago_s", "timely"),
    [
        *((0.0, True), (LATE_S, True), (LATE_S + 0.1, False)),
        *((-EARLY_S, True), (-EARLY_S - 0.1, False), (float("nan"), False)),
    ],
)
def test_what_was_asked_for_more_than_a_minute_ago_is_too_late(ago_s: float, timely: bool) -> None:
    assert Once(Clock()).is_timely(1000.0 - ago_s) is timely


def test_a_key_is_remembered_for_as_long_as_the_command_could_come_again_in_time() -> None:
    """Asked for as early as is allowed, it could be repeated so late as this."""
    clock = Clock()
    once = Once(clock)
    asked_s = clock.now_s + EARLY_S
    once.take("phone", "k")
    clock.now_s += EARLY_S + LATE_S
    assert once.is_timely(asked_s)
    assert not once.is_full  # which forgets what can be forgotten
    assert once.seen("phone", "k") is not None
    clock.now_s += 0.1
    assert not once.is_full
    assert once.seen("phone", "k") is None


def test_the_same_key_of_another_device_is_another() -> None:
    once = Once(Clock())
    once.take("phone", "k")
    assert once.seen("tablet", "k") is None


def test_no_more_are_remembered_than_there_is_room_for() -> None:
    clock = Clock()
    once = Once(clock)
    for n in range(MOST):
        assert not once.is_full
        once.take("phone", f"k{n}")
    assert once.is_full
    clock.now_s += LATE_S + EARLY_S + 0.1
    assert not once.is_full
