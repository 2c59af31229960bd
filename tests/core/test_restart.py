"""Taken up again after a restart or a power cut, the watch stands where it stood."""

import datetime as dt
from typing import TYPE_CHECKING

import pytest

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.core.inputs import Acknowledge, LetGo, Weigh
from driftlead.core.snapshot import Snapshot
from driftlead.testing.alerts import make_alert

if TYPE_CHECKING:
    from tests.core.conftest import Sea


class TestResumed:
    """Taken up again after a restart or a power cut."""

    @staticmethod
    def restarted(boat: "Sea", put_to_sea: "type[Sea]", *, after_s: float = 30.0) -> "Sea":
        again = put_to_sea(
            boat.settings,
            now_s=7.0,
            utc=boat.utc + dt.timedelta(seconds=after_s),
            snapshot=boat.core.snapshot(),
        )
        again.events += again.core.resumed()
        return again

    def test_the_watch_goes_on_and_says_so(self, sea: "Sea", put_to_sea: "type[Sea]") -> None:
        again = self.restarted(sea.ride(), put_to_sea)
        (told,) = again.alerts("watch_resumed")
        assert told.state is AlertState.ACTIVE_ACKNOWLEDGED
        assert "state riding" in told.text
        again.lie(5.0, sea.lies_m)
        assert again.state() == "riding"

    def test_whoever_wakes_hours_later_reads_of_it_and_has_done_with_it(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        again = self.restarted(sea.ride(), put_to_sea)
        again.lie(3.0 * 3600.0, sea.lies_m, every_s=10.0)
        assert [alert.name for alert in again.core.snapshot().alerts] == ["watch_resumed"]
        reply = again.command(Acknowledge())
        assert reply.text == "Acknowledged: watch resumed."
        assert [each.state for each in again.alerts("watch_resumed")] == [
            AlertState.ACTIVE_ACKNOWLEDGED,
            AlertState.NORMAL,
        ]
        assert again.core.snapshot().alerts == ()

    def test_another_restart_is_another_occurrence(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        first = self.restarted(sea.ride(), put_to_sea)
        first.lie(5.0, sea.lies_m)
        second = self.restarted(first, put_to_sea)
        over, anew = second.alerts("watch_resumed")
        assert (over.state, anew.state) == (AlertState.NORMAL, AlertState.ACTIVE_ACKNOWLEDGED)
        assert anew.number == over.number + 1
        assert [alert.number for alert in second.core.snapshot().alerts] == [anew.number]

    def test_without_a_watch_nothing_is_said(self, sea: "Sea", put_to_sea: "type[Sea]") -> None:
        again = self.restarted(sea, put_to_sea)
        assert again.events == []

    def test_two_restarts_without_a_fix_leave_nothing_behind(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        again = self.restarted(sea.ride(), put_to_sea)
        again.command(Weigh())
        assert again.alerts("watch_resumed")[-1].state is AlertState.NORMAL
        once_more = self.restarted(again, put_to_sea)
        once_more.lie(5.0, sea.lies_m)
        assert once_more.core.snapshot().alerts == ()

    def test_an_alarm_nobody_answered_sounds_on(self, sea: "Sea", put_to_sea: "type[Sea]") -> None:
        again = self.restarted(sea.ride().drag(), put_to_sea)
        (alert,) = again.alerts("drag")
        assert alert.state is AlertState.ACTIVE_UNACKNOWLEDGED
        assert alert == sea.core.snapshot().alerts[0]

    def test_a_drag_she_was_stopped_from_unanswered_ends_with_its_answer(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        """And the next one sounds: it would not if the first were thought to be on still."""
        sea.ride().drag().lie(920.0, sea.lies_m + 60.0)
        again = self.restarted(sea, put_to_sea)
        again.lie(5.0, sea.lies_m + 60.0)
        again.command(Acknowledge())
        assert again.alerts("drag")[-1].state is AlertState.NORMAL
        again.go(lambda t_s: (sea.lies_m + 60.0 + 0.3 * t_s, 0.0), 300.0)
        last = again.alerts("drag")[-1]
        assert last.state is AlertState.ACTIVE_UNACKNOWLEDGED
        assert last.number > sea.alerts("drag")[0].number

    def test_blindness_that_was_up_clears_when_she_sees(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        sea.ride().wait(200.0)
        sea.command(Acknowledge())
        assert sea.alerts("data_stale")[-1].priority is Priority.ALARM
        again = self.restarted(sea, put_to_sea)
        again.wait(100.0)
        assert again.alerts("data_stale") == []  # it is known
        again.lie(5.0, sea.lies_m)
        assert again.alerts("data_stale")[-1].state is AlertState.NORMAL
        assert [alert.name for alert in again.core.snapshot().alerts] == ["watch_resumed"]

    def test_what_failed_in_the_last_run_is_this_runs_to_tell(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        sea.ride().fault("notifier_failed", "No such device.", "horn")
        again = self.restarted(sea, put_to_sea)
        assert [alert.name for alert in again.core.snapshot().alerts] == ["watch_resumed"]

    def test_numbers_go_on_from_where_they_were(self, sea: "Sea", put_to_sea: "type[Sea]") -> None:
        again = self.restarted(sea.ride().drag(), put_to_sea)
        (raised,) = again.fault("journal_failed", "disk full")
        assert isinstance(raised, Alert)
        assert raised.number == sea.core.snapshot().last_number + 2

    def test_a_drag_during_the_power_cut_is_found(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        again = self.restarted(sea.ride(), put_to_sea, after_s=900.0)
        again.lie(40.0, sea.lies_m + 80.0)
        (alarm,) = again.alerts("drag")
        assert alarm.reason == "far_outside_drag_circle"
        assert alarm.priority is Priority.ALARM

    def test_a_restart_told_before_is_over_where_no_watch_is_kept_any_more(
        self, put_to_sea: "type[Sea]"
    ) -> None:
        told = make_alert(
            name="watch_resumed", priority=Priority.CAUTION, state=AlertState.ACTIVE_ACKNOWLEDGED
        )
        again = put_to_sea(snapshot=Snapshot(alerts=(told,), last_number=1))
        again.events += again.core.resumed()
        assert [alert.state for alert in again.alerts("watch_resumed")] == [AlertState.NORMAL]

    def test_a_drag_that_was_on_is_as_far_and_that_way(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        again = self.restarted(sea.ride().drag(0.3, 100.0), put_to_sea)
        moved_m = again.core.status(again.now_s).moved_m
        assert moved_m == pytest.approx(99.0, abs=10.0)
        assert moved_m == sea.core.status(sea.now_s).moved_m
        assert again.core.watch.farthest == sea.core.watch.farthest
        assert again.state() == "dragging"

    def test_an_anchor_still_being_worked_out_is_worked_out_further(
        self, sea: "Sea", put_to_sea: "type[Sea]"
    ) -> None:
        sea.head(270.0)
        sea.command(LetGo(rode_m=30.0, depth_m=5.0, late=True))
        for _ in range(120):
            sea.head(270.0)
            sea.lie(1.0, 0.0)
        again = self.restarted(sea, put_to_sea)
        assert again.core.snapshot().memory is not None
        before = again.core.watch.anchor
        for _ in range(600):
            again.head(270.0)
            again.lie(1.0, 0.0)
        after = again.core.watch.anchor
        assert before is not None
        assert after is not None
        assert after.sigma_m < 0.9 * before.sigma_m
