"""The clock behind everything the core hears."""

from hypothesis import given
from hypothesis import strategies as st

from driftlead.daemon.core_clock import CoreClock


@given(st.lists(st.floats(-1e6, 1e9), min_size=1))
def test_it_never_goes_backwards_and_keeps_microseconds(readings: list[float]) -> None:
    """Whatever the clock beneath does, a recording can give every time back."""
    beneath = iter([readings[0], *readings])
    clock = CoreClock(lambda: next(beneath))
    times = [clock() for _ in readings]
    assert times == sorted(times)
    assert all(float(f"{time:.6f}") == time for time in times)
