"""How often a PIN may be tried."""

from hypothesis import given
from hypothesis import strategies as st

from driftlead.web.attempts import ALL, EACH, WINDOW_S, Attempts


class Clock:
    """Seconds a test sets."""

    now_s = 100.0

    def __call__(self) -> float:
        """Give the time."""
        return self.now_s


def test_the_sixth_attempt_from_one_address_has_to_wait_and_others_have_not() -> None:
    clock = Clock()
    attempts = Attempts(clock)
    for _ in range(EACH):
        assert attempts.wait_s("10.0.0.2") == 0.0
        attempts.failed("10.0.0.2")
        clock.now_s += 1.0
    assert attempts.wait_s("10.0.0.2") == WINDOW_S - EACH
    assert attempts.wait_s("10.0.0.3") == 0.0
    clock.now_s += WINDOW_S - EACH
    assert attempts.wait_s("10.0.0.2") == 0.0


def test_many_addresses_together_have_to_wait_too() -> None:
    attempts = Attempts(Clock())
    for n in range(ALL):
        assert attempts.wait_s(f"10.0.0.{n}") == 0.0
        attempts.failed(f"10.0.0.{n}")
    assert attempts.wait_s("10.0.0.99") == WINDOW_S


@given(st.lists(st.tuples(st.floats(0.0, 100.0), st.sampled_from("abcdefgh")), max_size=200))
def test_nobody_gets_more_attempts_in_five_minutes_than_are_allowed(
    tries: list[tuple[float, str]],
) -> None:
    clock = Clock()
    attempts = Attempts(clock)
    let: list[tuple[float, str]] = []
    for pause_s, address in tries:
        clock.now_s += pause_s
        if attempts.wait_s(address) <= 0.0:
            attempts.failed(address)
            let.append((clock.now_s, address))
    for at_s, address in let:
        window = [who for when_s, who in let if at_s - WINDOW_S < when_s <= at_s]
        assert len(window) <= ALL
        assert window.count(address) <= EACH
