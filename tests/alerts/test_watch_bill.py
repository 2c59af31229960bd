"""Whose watch it is, in ship's time."""

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.watch_bill import DAY_S, CrewMember, WatchBill, WatchHours

HOUR_S = 3600.0
# The traditional watches of a day, without the dog watches split (common practice).
WATCHES = {
    "first": WatchHours(20 * HOUR_S, 24 * HOUR_S),
    "middle": WatchHours(0.0, 4 * HOUR_S),
    "morning": WatchHours(4 * HOUR_S, 8 * HOUR_S),
    "forenoon": WatchHours(8 * HOUR_S, 12 * HOUR_S),
    "afternoon": WatchHours(12 * HOUR_S, 16 * HOUR_S),
    "dog": WatchHours(16 * HOUR_S, 20 * HOUR_S),
}


def bill(utc_offset_s: float = 0.0, /, **watches: WatchHours) -> WatchBill:
    """One member of the crew for each watch, called by its name."""
    return WatchBill(
        crew=tuple(
            CrewMember(name=name, notifiers=(name,), watches=(hours,))
            for name, hours in watches.items()
        ),
        utc_offset_s=utc_offset_s,
    )


def on_watch(watch_bill: WatchBill, text: str) -> str | None:
    """Who is on watch at a time in ISO 8601."""
    member = watch_bill.on_watch(dt.datetime.fromisoformat(text).timestamp())
    return None if member is None else member.name


@pytest.mark.parametrize(
    ("time", "who"),
    [
        ("00:00:00", "middle"),
        ("03:59:59.999", "middle"),
        ("04:00:00", "morning"),
        ("19:59:59", "dog"),
        ("20:00:00", "first"),
        ("23:59:59.999", "first"),
    ],
)
def test_a_watch_begins_at_its_first_second_and_ends_before_the_next(time: str, who: str) -> None:
    assert on_watch(bill(**WATCHES), f"2026-06-02T{time}+00:00") == who


@pytest.mark.parametrize("offset_h", [-3.5, 0.0, 5.75, 14.0])
def test_hours_are_in_ships_time(offset_h: float) -> None:
    """Midnight in the ship's own zone begins the middle watch, wherever she is."""
    zone = dt.timezone(dt.timedelta(hours=offset_h))
    midnight = dt.datetime(2026, 6, 2, tzinfo=zone)
    watch_bill = bill(offset_h * HOUR_S, **WATCHES)
    assert on_watch(watch_bill, midnight.isoformat()) == "middle"
    assert on_watch(watch_bill, (midnight - dt.timedelta(seconds=1)).isoformat()) == "first"


def test_a_watch_may_go_over_midnight() -> None:
    night = bill(night=WatchHours(22 * HOUR_S, 6 * HOUR_S))
    assert on_watch(night, "2026-06-02T23:00:00+00:00") == "night"
    assert on_watch(night, "2026-06-02T05:59:00+00:00") == "night"
    assert on_watch(night, "2026-06-02T06:00:00+00:00") is None
    assert on_watch(night, "2026-06-02T21:59:00+00:00") is None


def test_of_two_on_the_same_watch_the_first_of_the_bill_is_called() -> None:
    both = bill(skipper=WATCHES["first"], mate=WATCHES["first"])
    assert on_watch(both, "2026-06-02T21:00:00+00:00") == "skipper"


def test_the_crew_are_called_in_the_order_of_the_bill_after_whoever_is_on_watch() -> None:
    watch_bill = bill(skipper=WATCHES["first"], mate=WATCHES["middle"], hand=WATCHES["morning"])
    two = dt.datetime(2026, 6, 2, 2, tzinfo=dt.UTC).timestamp()
    noon = dt.datetime(2026, 6, 2, 12, tzinfo=dt.UTC).timestamp()
    assert [member.name for member in watch_bill.in_order(two)] == ["mate", "skipper", "hand"]
    for utc_s in (noon, None):
        assert [member.name for member in watch_bill.in_order(utc_s)] == ["skipper", "mate", "hand"]


@settings(deadline=None)
@given(utc_s=st.floats(0.0, 4e9), offset_min=st.integers(-14 * 60, 14 * 60))
def test_at_every_instant_exactly_one_of_the_watches_of_a_day_is_on(
    utc_s: float, offset_min: int
) -> None:
    """No second between two watches is nobody's; zones are whole minutes from UTC."""
    watch_bill = bill(offset_min * 60.0, **WATCHES)
    tod_s = (utc_s + watch_bill.utc_offset_s) % DAY_S
    assert sum(hours.covers(tod_s) for hours in WATCHES.values()) == 1
    assert watch_bill.on_watch(utc_s) is not None
