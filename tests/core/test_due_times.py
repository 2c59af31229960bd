"""Limits are decided at the instant they are due, however often anybody asks."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.core.inputs import Acknowledge, LetGo, Silence, Transfer, Veer, Weigh
from driftlead.core.settings import CoreSettings
from driftlead.geodesy.position import Position
from driftlead.watch.settings import LimitSettings, TackleSettings, WatchSettings

if TYPE_CHECKING:
    from tests.core.conftest import Sea

DOWN = LetGo(rode_m=30.0, depth_m=5.0, drop=Position(46.5, -31.2))
WATCH = WatchSettings(tackle=TackleSettings(rode_aboard_m=60.0))
WARNING, ALARM = Priority.WARNING, Priority.ALARM


def told(sea: "Sea") -> list[tuple[float, str, Priority]]:
    """When, of what and how urgent each alert was told, since the last good fix."""
    return [(e.mono_s, e.name, e.priority) for e in sea.events if isinstance(e, Alert)]


class TestInstants:
    """The due time, to the bit."""

    def test_silence_is_told_at_its_due_times_though_asked_hours_later(self, sea: "Sea") -> None:
        sea.command(DOWN)
        sea.lie(10.0, 5.0)
        last_s = sea.now_s
        sea.wait(36_000.0)
        assert told(sea) == [
            (last_s + 30.0, "data_stale", WARNING),
            (last_s + 180.0, "data_stale", ALARM),
        ]

    def test_a_line_that_comes_later_finds_the_limit_decided_at_its_due_time(
        self, sea: "Sea"
    ) -> None:
        sea.command(DOWN)
        sea.lie(10.0, 5.0)
        last_s = sea.now_s
        events = sea.fix(5.0, after_s=100.0)
        assert [(e.name, e.mono_s) for e in events if isinstance(e, Alert)] == [
            ("data_stale", last_s + 30.0),
            ("data_stale", last_s + 100.0),
        ]

    def test_loss_is_told_at_its_due_times(self, sea: "Sea") -> None:
        sea.command(DOWN)
        sea.lie(10.0, 5.0)
        last_s = sea.now_s
        for _ in range(310):
            sea.no_fix(after_s=1.1)
        assert told(sea) == [
            (last_s + 60.0, "fix_lost", WARNING),
            (last_s + 300.0, "fix_lost", ALARM),
        ]

    def test_a_receiver_that_loses_its_fix_and_then_falls_silent_holds_nobody_up(
        self, sea: "Sea"
    ) -> None:
        """The loss would be an alarm in the midst of the silence; nobody must wait for that."""
        sea.command(DOWN)
        sea.lie(10.0, 5.0)
        for _ in range(70):
            sea.no_fix()
        silent_s = sea.now_s
        sea.wait(36_000.0)
        lost_s = told(sea)[0][0]
        assert told(sea)[1:] == [
            (silent_s + 30.0, "data_stale", WARNING),
            (silent_s + 180.0, "data_stale", ALARM),
            (lost_s + 300.0, "fix_lost", ALARM),  # for want of an answer to the warning
        ]
        assert sea.core.next_due_s is None

    def test_a_loss_that_outlasted_the_silence_is_told_when_it_is_over_and_not_before(
        self, sea: "Sea"
    ) -> None:
        """Events never run back in time."""
        sea.command(DOWN)
        sea.lie(10.0, 5.0)
        for _ in range(70):
            sea.no_fix()
        sea.wait(1000.0)
        for _ in range(5):
            sea.no_fix()
        sea.wait(1.0)
        times = [event.mono_s for event in sea.events]
        assert times == sorted(times)
        lost = [each for each in told(sea) if each[1] == "fix_lost"]
        assert lost[-1][2] is ALARM

    def test_rode_unknown_is_told_in_time_though_lines_keep_coming(self, sea: "Sea") -> None:
        sea.command(LetGo(depth_m=5.0))
        began_s = sea.now_s
        sea.lie(320.0, 0.0)
        assert told(sea) == [(began_s + 300.0, "rode_unknown", Priority.CAUTION)]
        sea.command(Veer(rode_m=30.0))
        assert sea.alerts("rode_unknown")[-1].state is AlertState.NORMAL

    def test_a_loss_to_be_told_sooner_than_a_silence_is_told_to_the_second(
        self, put_to_sea: "type[Sea]"
    ) -> None:
        """A skipper who wants to know of a lost fix after 10 s, and of silence after 2 min."""
        limits = evolve(WATCH.limits, lost_warning_s=10.0, stale_warning_s=120.0)
        boat = put_to_sea(CoreSettings(watch=evolve(WATCH, limits=limits)))
        boat.lie(30.0, 0.0)
        boat.command(DOWN)
        boat.lie(10.0, 0.0)
        fix_s = boat.now_s
        for _ in range(30):
            boat.no_fix()
        assert told(boat) == [(fix_s + 10.0, "fix_lost", WARNING)]

    def test_what_is_next_due_is_said(self, sea: "Sea") -> None:
        sea.command(DOWN)
        assert sea.core.next_due_s == sea.now_s + 30.0
        sea.wait(30.0)
        assert sea.core.next_due_s == sea.now_s + 150.0

    @pytest.mark.parametrize("began_s", [0.1, 1e6 / 3.0, 86_400.0 * 365.0 + 0.123457])
    def test_no_time_a_clock_may_show_makes_a_due_limit_wait(
        self, put_to_sea: "type[Sea]", began_s: float
    ) -> None:
        """A due time is a sum of floats, and what is due then must be due to the last bit."""
        for count in range(30):
            boat = put_to_sea(CoreSettings(watch=WATCH), now_s=began_s + count * 0.077)
            boat.command(DOWN)
            due_s = boat.core.next_due_s
            assert due_s is not None
            (event,) = boat.core.advance(due_s)
            assert isinstance(event, Alert)
            assert (event.name, event.mono_s) == ("data_stale", due_s)

    def test_poverty_and_standing_still_are_told_with_the_fix_that_makes_them_due(
        self, sea: "Sea"
    ) -> None:
        sea.command(DOWN)
        began_s = sea.now_s
        for _ in range(200):
            sea.fix(5.0, hdop=9.0)
        names = [(name, at_s - began_s) for at_s, name, _ in told(sea)]
        assert names == [("fix_poor", 61.0), ("fix_frozen", pytest.approx(181.0, abs=1.0))]

    def test_while_no_anchor_is_down_nothing_is_due(self, sea: "Sea") -> None:
        for _ in range(100):
            sea.no_fix()
        sea.wait(100_000.0)
        for _ in range(1000):
            sea.fix(5.0, hdop=20.0)
        assert sea.events == []


LIMITS = st.sampled_from(
    [
        LimitSettings(),
        LimitSettings(stale_warning_s=120.0, lost_warning_s=5.0, lost_alarm_s=7.0),
        LimitSettings(stale_warning_s=1.0, stale_alarm_s=2.0, rode_unknown_s=10.0),
    ]
)
DEEDS = st.one_of(
    st.tuples(st.just("fix"), st.floats(0.1, 200.0)),
    st.tuples(st.just("fix"), st.floats(0.1, 2.0)),
    st.tuples(st.just("no fix"), st.floats(0.1, 80.0)),
    st.tuples(st.just("noise"), st.floats(0.1, 50.0)),
    st.tuples(st.just("other receiver"), st.floats(0.1, 40.0)),
    st.tuples(
        st.sampled_from([DOWN, LetGo(), LetGo(rode_m=30.0, late=True), Veer(rode_m=25.0)]),
        st.floats(0.0, 20.0),
    ),
    st.tuples(
        st.sampled_from([Acknowledge(), Silence(), Transfer(to="mate"), Weigh()]),
        st.floats(0.0, 20.0),
    ),
    st.tuples(st.sampled_from(["broken", "mended"]), st.floats(0.0, 20.0)),
)


@given(
    limits=LIMITS,
    deeds=st.lists(DEEDS, min_size=3, max_size=40),
    asked=st.lists(st.floats(0.0, 1.0), max_size=60),
)
@settings(deadline=None, max_examples=80)
def test_asking_more_or_less_often_makes_no_difference_to_the_events(
    put_to_sea: "type[Sea]",
    json_lines: Callable[..., list[str]],
    crewed: CoreSettings,
    limits: LimitSettings,
    deeds: list[tuple[Any, float]],
    asked: list[float],
) -> None:
    """One core is only told what happens; the other is asked in between as well, at any time."""
    settings_ = CoreSettings(
        watch=evolve(WATCH, limits=limits),
        source_order=("gps", "ais"),
        alerts=evolve(crewed.alerts, alls_well_s=45.0),
    )
    told_only, asked_too = put_to_sea(settings_), put_to_sea(settings_)
    questions = iter(asked)
    for deed, after_s in [("fix", 1.0), ("fix", 1.0), ("fix", 1.0), (DOWN, 0.0), *deeds]:
        for part in questions:
            asked_too.events += asked_too.core.advance(asked_too.now_s + part * after_s)
            if part > 0.3:
                break
        for boat in (told_only, asked_too):
            match deed:
                case "fix":
                    boat.fix(5.0, after_s=after_s)
                case "no fix":
                    boat.no_fix(after_s=after_s)
                case "other receiver":
                    boat.fix(6.0, after_s=after_s, source="ais")
                case "noise":
                    boat.now_s = round(boat.now_s + after_s, 6)
                    boat.say("$GPTXT,noise")
                case "broken" | "mended":
                    boat.now_s = round(boat.now_s + after_s, 6)
                    boat.fault("notifier_failed", deed if deed == "broken" else None, "aft")
                case _:
                    boat.now_s = round(boat.now_s + after_s, 6)
                    boat.command(deed)
    for boat in (told_only, asked_too):
        boat.wait(700.0)
    lines = json_lines(told_only.events)
    assert json_lines(asked_too.events) == lines
    assert [e.mono_s for e in asked_too.events] == [e.mono_s for e in told_only.events]
    times = [event.mono_s for event in told_only.events]
    assert times == sorted(times)
