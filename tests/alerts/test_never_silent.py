"""Whatever happens in whatever order, no alarm nobody has answered is silent beyond 30 s.

MSC.302(87): silenced and not acknowledged within 30 s, an alarm must sound again.
"""

from typing import TYPE_CHECKING

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)

from driftlead.alerts.alert import Priority
from driftlead.alerts.call import Call
from driftlead.alerts.management import AlertNews
from driftlead.errors import RefusedError

if TYPE_CHECKING:
    from tests.alerts.conftest import Desk

SOUNDERS = ("aft", "fore", "saloon")
CREW = ("skipper", "mate", "hand")
SILENT_AT_MOST_S = 30.0
NAMES = st.sampled_from(["drag", "data_stale", "fix_lost", "fix_poor"])


class Night(RuleBasedStateMachine):
    """A night with sounders that sound as they are told, as long as they work."""

    make_desk: "type[Desk]"

    @initialize(hour=st.integers(0, 23), known=st.booleans())
    def begin(self, hour: int, known: bool) -> None:
        """At any time of the ship's day, or at no known one."""
        utc_s = 1_780_358_400.0 + 3600.0 * hour if known else None
        self.desk = self.make_desk(utc_s=utc_s)
        self.broken: set[str] = set()
        # What each sounder was told last of each alert, and since when each alert has been silent.
        self.told: dict[tuple[str, tuple[str, str]], bool] = {}
        self.silent_s: dict[tuple[str, str], float] = {}

    @rule()
    def alarm(self) -> None:
        """What all of this is about."""
        self.hear(self.desk.raise_("drag", Priority.ALARM))

    @rule(name=NAMES, priority=st.none() | st.sampled_from(Priority), reason=st.sampled_from("ab"))
    def condition(self, name: str, priority: Priority | None, reason: str) -> None:
        """Something is so, or is so no longer."""
        self.hear(self.desk.raise_(name, priority, reason=reason))

    @rule(name=st.sampled_from(SOUNDERS))
    def break_(self, name: str) -> None:
        """A sounder fails, and that is told."""
        self.broken.add(name)
        self.hear(self.desk.raise_("notifier_failed", Priority.WARNING, instance=name))

    @rule()
    def break_what_sounds(self) -> None:
        """Just those on which everything depends fail."""
        sounding = {outlet for (outlet, _), sounds in self.told.items() if sounds}
        for name in sorted(sounding.intersection(SOUNDERS)):
            self.broken.add(name)
            self.hear(self.desk.raise_("notifier_failed", Priority.WARNING, instance=name))

    @precondition(lambda self: self.broken)
    @rule(data=st.data())
    def mend(self, data: st.DataObject) -> None:
        """One works again; it was kept what it could not carry."""
        name = data.draw(st.sampled_from(sorted(self.broken)))
        self.broken.remove(name)
        self.hear(self.desk.raise_("notifier_failed", None, instance=name))

    @rule()
    def acknowledge(self) -> None:
        """Somebody answers everything."""
        self.hear(self.desk.acknowledge())

    @rule()
    def silence(self) -> None:
        """Somebody wants quiet."""
        self.hear(self.desk.silence())

    @rule(to=st.sampled_from(CREW))
    def hand_over(self, to: str) -> None:
        """Somebody hands everything over."""
        try:
            self.hear(self.desk.hand_over(to))
        except RefusedError as refusal:
            assert refusal.remedy  # noqa: PT017 - most are not refused

    @rule(on_watch=st.booleans())
    def watch(self, on_watch: bool) -> None:
        """A watch begins or ends."""
        self.desk.management.watch_is(on_watch, self.desk.now_s)

    @rule(lasts_s=st.sampled_from([0.0, 1.0, 14.0, 15.0, 29.9, 30.0]))
    def wait(self, lasts_s: float) -> None:
        """A little time passes."""
        self.pass_(lasts_s)

    @rule(lasts_s=st.sampled_from([31.0, 75.0, 90.0, 300.0, 1000.0]))
    def wait_long(self, lasts_s: float) -> None:
        """Much time passes."""
        self.pass_(lasts_s)

    def pass_(self, lasts_s: float) -> None:
        """Look whenever anything is due."""
        until_s = self.desk.now_s + lasts_s
        while (due_s := self.desk.management.due_s()) <= until_s:
            self.hear(self.desk.until(max(due_s, self.desk.now_s)))
        self.hear(self.desk.until(until_s))

    @rule(as_saved=st.booleans())
    def power_cut(self, as_saved: bool) -> None:
        """Stopped and started: every sounder is mute until it is told."""
        silent_for_s = {key: self.desk.now_s - since_s for key, since_s in self.silent_s.items()}
        self.desk = self.desk.restarted(as_saved=as_saved)
        now_s = self.desk.now_s
        self.silent_s = {key: now_s - lasted_s for key, lasted_s in silent_for_s.items()}
        self.told.clear()
        self.hear(self.desk.note(self.desk.management.resumed(self.desk.now)))

    def hear(self, news: list[AlertNews]) -> None:
        """Let the sounders do as they are told, and listen."""
        now_s = self.desk.now_s
        for key, since_s in self.silent_s.items():
            assert now_s - since_s <= SILENT_AT_MOST_S + 0.001, (key, since_s)
        for each in news:
            if isinstance(each, Call):
                for outlet in each.outlets:
                    self.told[outlet, each.alert.key] = each.alert.state.sounds
        # What is due this very instant is still to come.
        if self.desk.management.due_s() <= now_s:
            self.hear(self.desk.until(now_s))
            return
        if len(self.broken) == len(SOUNDERS):
            self.silent_s.clear()
            return
        waiting = {
            alert.key
            for alert in self.desk.management.alerts
            if alert.priority is Priority.ALARM and alert.state.is_unanswered
        }
        sounding = {
            key
            for (outlet, key), sounds in self.told.items()
            if sounds and outlet in SOUNDERS and outlet not in self.broken
        }
        silent = waiting - sounding
        self.silent_s = {key: self.silent_s.get(key, now_s) for key in silent}


def test_no_unanswered_alarm_is_silent_for_longer_than_half_a_minute(
    make_desk: "type[Desk]",
) -> None:
    machine = type("Machine", (Night,), {"make_desk": make_desk})
    run_state_machine_as_test(
        machine, settings=settings(max_examples=250, stateful_step_count=40, deadline=None)
    )
