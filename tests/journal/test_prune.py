"""What goes when it takes too much room, or is too old: recordings, and events."""

import datetime as dt
import json
from collections.abc import Iterator, Sequence
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.journal.journal import PRUNED_AT_ONCE, Journal
from driftlead.journal.parts import Part
from driftlead.journal.prune import EventRow, choose_doomed, choose_last_doomed

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


DAY = dt.timedelta(days=1)
FIRST = dt.datetime(2026, 6, 1, 20, 0, tzinfo=dt.UTC)


def event(day: float | None) -> str:
    """An event of so many days after the first, or without a time."""
    when = None if day is None else (FIRST + day * DAY).isoformat().replace("+00:00", "Z")
    return json.dumps({"t": when, "kind": "state"})


def rows_of(days: Sequence[float | None]) -> list[EventRow]:
    """Events numbered from 1."""
    return [EventRow(n, event(day)) for n, day in enumerate(days, start=1)]


def choose(
    rows: list[EventRow],
    *,
    cap_bytes: int = 10**9,
    older_than: float | None = None,
    protect_from: int = 99,
) -> int | None:
    """Choose of these, where nothing else is in the journal."""
    return choose_last_doomed(
        rows,
        total_bytes=sum(len(row.text) for row in rows),
        cap_bytes=cap_bytes,
        oldest=None if older_than is None else FIRST + older_than * DAY,
        protect_from=protect_from,
    )


def test_what_is_older_goes_and_what_is_as_old_as_may_be_stays() -> None:
    assert choose(rows_of([0, 1, 2, 3]), older_than=2) == 2
    assert choose(rows_of([0, 1, 2, 3]), older_than=0) is None


def test_the_oldest_events_go_until_the_others_fit() -> None:
    rows = rows_of([0, 1, 2, 3])
    size = len(rows[0].text)
    assert choose(rows, cap_bytes=2 * size) == 2
    assert choose(rows, cap_bytes=2 * size - 1) == 3
    assert choose(rows, cap_bytes=4 * size) is None


def test_an_event_without_a_time_is_as_old_as_the_next_that_has_one() -> None:
    """A run begins with some, before its receiver tells the time."""
    assert choose(rows_of([None, 0, None, None, 5]), older_than=2) == 2
    assert choose(rows_of([0, None, 1, 5]), older_than=2) == 3
    assert choose(rows_of([None, None]), older_than=2) is None
    assert choose(rows_of([None, 5]), older_than=2) is None
    assert choose(rows_of([None, 5]), cap_bytes=0) == 2


@given(
    days=st.lists(st.floats(0, 100), max_size=12),
    cap_bytes=st.integers(0, 1000),
    older_than=st.floats(0, 100),
    protect_from=st.integers(1, 14),
)
@settings(max_examples=50)
def test_what_is_protected_never_goes(
    days: list[float], cap_bytes: int, older_than: float, protect_from: int
) -> None:
    """And of the rest, what stays is young and fits, unless it is protected."""
    rows = rows_of(sorted(days))
    last = choose(rows, cap_bytes=cap_bytes, older_than=older_than, protect_from=protect_from) or 0
    assert last < protect_from
    left = [row for row in rows if row.event_id > last]
    if left and left[0].event_id < protect_from:
        assert sum(len(row.text) for row in left) <= cap_bytes
        assert left[0].text >= event(older_than)


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    """A journal that is open."""
    with closing(Journal.open(tmp_path / "journal.db")) as opened:
        yield opened


def numbers(journal: Journal) -> list[int]:
    """The numbers of the events that are left."""
    return [each.event_id for each in journal.events(limit=10_000)]


def test_age_counts_back_from_the_newest_event(journal: Journal) -> None:
    """A boat laid up for the winter forgets nothing by it."""
    journal.save("{}", [event(day) for day in (0, 10, 20, 30)])
    assert journal.prune(keep_s=15 * 86_400.0, cap_bytes=10**9, protect_from=99) == 2
    assert numbers(journal) == [3, 4]
    assert journal.prune(keep_s=15 * 86_400.0, cap_bytes=10**9, protect_from=99) == 0
    assert journal.load_snapshot() == "{}"


def test_the_newest_stays_so_that_numbers_go_on(journal: Journal) -> None:
    """The writer finds out by them what it has saved."""
    journal.save("{}", [event(day) for day in (0, 1, 2)])
    assert journal.prune(keep_s=0.0, cap_bytes=0, protect_from=99) == 2
    assert journal.last_event_id() == 3
    journal.save("{}", [event(3)])
    assert numbers(journal) == [3, 4]


def test_an_empty_journal_is_left_as_it_is(journal: Journal) -> None:
    assert journal.prune(keep_s=0.0, cap_bytes=0, protect_from=0) == 0


def test_the_watch_that_is_on_keeps_its_events_beyond_the_cap(journal: Journal) -> None:
    journal.save("{}", [event(day) for day in (0, 1, 2, 3)])
    assert journal.prune(keep_s=0.0, cap_bytes=0, protect_from=3) == 2
    assert numbers(journal) == [3, 4]


def test_a_journal_that_has_grown_for_years_is_emptied_bit_by_bit(journal: Journal) -> None:
    """A save that waits behind it waits for one bit only; the room is used again."""
    journal.save("{}", [event(day / 10) for day in range(3 * PRUNED_AT_ONCE)])
    gone = [journal.prune(keep_s=86_400.0, cap_bytes=10**9, protect_from=10**9) for _ in range(4)]
    assert gone == [PRUNED_AT_ONCE, PRUNED_AT_ONCE, PRUNED_AT_ONCE - 11, 0]
    assert len(numbers(journal)) == 11
