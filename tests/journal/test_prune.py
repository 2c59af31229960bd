"""Which recordings go when they take too much room."""

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.journal.parts import Part
from driftlead.journal.prune import choose_doomed

sizes = st.lists(st.integers(0, 100), max_size=12)


def parts_of(sizes_bytes: list[int]) -> list[Part]:
    """Number parts of these sizes from 1."""
    return [Part(n, (Path(f"{n}"),), size) for n, size in enumerate(sizes_bytes, start=1)]


def test_the_oldest_go_until_the_rest_fits() -> None:
    """And not one more."""
    pruning = choose_doomed(parts_of([40, 30, 20, 10]), cap_bytes=35, protect_from=99)
    assert [part.sequence for part in pruning.doomed] == [1, 2]
    assert pruning.left_bytes == 30


def test_the_watch_that_is_on_keeps_its_parts() -> None:
    """Even where they alone take more than the cap."""
    pruning = choose_doomed(parts_of([40, 30, 20, 10]), cap_bytes=35, protect_from=2)
    assert [part.sequence for part in pruning.doomed] == [1]
    assert pruning.left_bytes == 60


@settings(deadline=None)
@given(sizes, st.integers(0, 500), st.integers(0, 14))
def test_as_little_as_possible_goes_and_never_a_protected_part(
    sizes_bytes: list[int], cap_bytes: int, protect_from: int
) -> None:
    """What goes is a run of the oldest; the last of them had to."""
    parts = parts_of(sizes_bytes)
    pruning = choose_doomed(parts, cap_bytes=cap_bytes, protect_from=protect_from)
    gone = len(pruning.doomed)
    assert list(pruning.doomed) == parts[:gone]
    assert all(part.sequence < protect_from for part in pruning.doomed)
    assert pruning.left_bytes == sum(sizes_bytes[gone:])
    if gone:
        assert sum(sizes_bytes[gone - 1 :]) > cap_bytes
    if pruning.left_bytes > cap_bytes:
        assert all(part.sequence >= protect_from for part in parts[gone:])
