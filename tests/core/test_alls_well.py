"""Quiet never means dead: the sign of life, and when it is withheld."""

from typing import TYPE_CHECKING

import pytest
from attrs import evolve

from driftlead.alerts.alls_well import AllsWell
from driftlead.core.bell import Bell
from driftlead.core.inputs import Acknowledge, LetGo, Weigh
from driftlead.core.settings import CoreSettings

if TYPE_CHECKING:
    from tests.core.conftest import Sea

EVERY_S = 60.0


@pytest.fixture
def sea(put_to_sea: "type[Sea]", crewed: CoreSettings) -> "Sea":
    """A boat that says every minute that all is well."""
    boat = put_to_sea(evolve(crewed, alerts=evolve(crewed.alerts, alls_well_s=EVERY_S)))
    boat.lie(10.0, 0.0)
    return boat


def let_go(sea: "Sea") -> float:
    """Let go now; when that is."""
    sea.command(LetGo(rode_m=30.0, depth_m=5.0))
    return sea.now_s


def ticks(sea: "Sea") -> list[AllsWell]:
    """Every sign of life."""
    return [event for event in sea.events if isinstance(event, AllsWell)]


def test_while_fixes_are_judged_it_comes_every_minute_from_let_go_on(sea: "Sea") -> None:
    began_s = let_go(sea)
    sea.lie(200.0, 0.0)
    assert [tick.mono_s - began_s for tick in ticks(sea)] == [60.0, 120.0, 180.0]
    assert all(tick.sees for tick in ticks(sea))
    assert ticks(sea)[0].state == "let_go"
    assert ticks(sea)[0].utc_s is not None


def test_without_a_watch_nothing_is_well_and_nothing_is_said(sea: "Sea") -> None:
    sea.lie(300.0, 0.0)
    let_go(sea)
    sea.command(Weigh())
    sea.lie(300.0, 0.0)
    assert ticks(sea) == []
    assert sea.core.next_due_s is None


def test_when_fixes_stop_it_stops_until_that_has_been_told(sea: "Sea") -> None:
    """Silent and not yet declared is the one thing that must not look well."""
    began_s = let_go(sea)
    sea.lie(45.0, 0.0)
    sea.wait(20.0)  # 15 s without a fix at the tick: too old, and the warning is not due yet
    assert ticks(sea) == []
    sea.wait(60.0)
    (told,) = ticks(sea)
    assert (told.mono_s - began_s, told.sees) == (120.0, False)


def test_an_unanswered_alarm_withholds_it(sea: "Sea") -> None:
    let_go(sea)
    sea.wait(1000.0)
    before = len(ticks(sea))
    assert all(tick.mono_s - sea.began_s < 10.0 + 180.0 for tick in ticks(sea))
    sea.command(Acknowledge())
    sea.wait(60.0)
    assert len(ticks(sea)) == before + 1


def test_an_alarm_that_is_over_but_was_never_answered_withholds_it_too(sea: "Sea") -> None:
    let_go(sea)
    sea.wait(200.0)
    sea.events.clear()
    sea.lie(200.0, 0.0)
    assert ticks(sea) == []
    sea.command(Acknowledge())
    sea.lie(60.0, 0.0)
    assert len(ticks(sea)) == 1


def test_a_slow_receiver_is_fresh_for_three_of_its_intervals(sea: "Sea") -> None:
    let_go(sea)
    sea.lie(600.0, 0.0, every_s=11.0)
    assert len(ticks(sea)) == 10


def test_it_is_off_unless_asked_for(put_to_sea: "type[Sea]", crewed: CoreSettings) -> None:
    boat = put_to_sea(crewed)
    boat.lie(10.0, 0.0)
    let_go(boat)
    boat.lie(1000.0, 0.0)
    assert ticks(boat) == []


def test_the_bell_keeps_its_beat_whether_or_not_it_is_heard() -> None:
    bell = Bell(60.0)
    bell.watch_is(True, 5.0)
    bell.watch_is(True, 30.0)
    assert bell.due_s == 65.0
    bell.struck()
    assert bell.due_s == 125.0
    bell.watch_is(False, 70.0)
    bell.watch_is(True, 80.0)
    assert bell.due_s == 140.0
