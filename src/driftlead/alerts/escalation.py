"""Who is called when, as long as nobody answers. Pure: time is what each call is told.

The pattern is that of a bridge navigational watch alarm system (IMO MSC.128(75) 4.1.2): at once
whoever is on watch, soon a second place, then everybody; from there it is repeated until somebody
answers. At each step it grows louder.
"""

import math
from collections.abc import Collection, Iterable, Iterator
from typing import Final

from attrs import evolve

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.audience import EVERYONE, SECOND, Audience
from driftlead.alerts.book import AlertKey
from driftlead.alerts.call import Call, CallReason
from driftlead.alerts.lifecycle import SILENCE_S, AlertEvent
from driftlead.alerts.moment import Moment
from driftlead.alerts.paging import LOUDEST, Paging
from driftlead.alerts.settings import AlertSettings

NOTIFIER_FAILED: Final = "notifier_failed"
"""The alert whose instance names a notifier that does not work."""

_HEARD_ANEW: Final = frozenset(
    {CallReason.FIRST, CallReason.MORE_URGENT, CallReason.SILENCE_RAN_OUT, CallReason.TAKEN_BACK}
)


class Escalation:
    """Hears every change of every alert, and says who is to be called, then and later."""

    def __init__(self, settings: AlertSettings) -> None:
        self._audience = Audience(settings)
        self._settings = settings.escalation
        self._after_s = {
            SECOND: settings.escalation.second_after_s,
            EVERYONE: settings.escalation.everyone_after_s,
        }
        self._anybody = bool(settings.outlets)
        self._alerts: dict[AlertKey, Alert] = {}
        self._pagings: dict[AlertKey, Paging] = {}
        self.watch_since_s: float | None = None
        """Since when a watch is on (monotonic seconds), None while none is: only during a watch do
        warnings become alarms."""

    @property
    def pagings(self) -> tuple[Paging, ...]:
        """How far each has got, in order of raising."""
        return tuple(sorted(self._pagings.values(), key=lambda paging: paging.number))

    def hear(self, alert: Alert, now: Moment) -> list[Call]:
        """An alert has changed: who is to be told."""
        key = alert.key
        before = self._alerts.get(key)
        paging = self._pagings.get(key)
        reason = _reason(before, alert)
        self._alerts[key] = alert
        if paging is None or reason is CallReason.FIRST:
            paging = Paging(
                name=alert.name,
                instance=alert.instance,
                number=alert.number,
                # Who heard of it the last time hears that it is up again.
                called=() if paging is None else paging.called,
                since_s=now.mono_s,
                called_s=now.mono_s,
                quiet_s=now.mono_s,
            )
        elif before is not None and alert.priority is not before.priority:
            paging = evolve(paging, step=0, since_s=now.mono_s)
        if reason in _HEARD_ANEW:
            step, names = self._widened(paging.step, paging.called, alert, now)
            paging = evolve(paging, step=step, called=names, called_s=now.mono_s)
        if before is not None and alert.state is not before.state:
            names = self._audience.ordered({*paging.called, *self._taker(alert)})
            paging = evolve(paging, called=names, quiet_s=now.mono_s)
        self._pagings[key] = paging
        if alert.state is AlertState.NORMAL:
            del self._alerts[key], self._pagings[key]
        return self._calls(alert, paging.called, reason, paging, now)

    def take_up(self, alerts: Iterable[Alert], pagings: Iterable[Paging], mono_s: float) -> None:
        """Stand where a snapshot says the calling stood."""
        self._alerts = {alert.key: alert for alert in alerts}
        for paging in pagings:
            alert = self._alerts.get(paging.key)
            if alert is not None and alert.number == paging.number:
                called = self._audience.ordered(paging.called)
                self._pagings[paging.key] = evolve(paging.shifted(mono_s), called=called)

    def resumed(self, alert: Alert, now: Moment) -> list[Call]:
        """After a restart: tell whoever was told of ``alert``, or begin if that is not known."""
        paging = self._pagings.get(alert.key)
        if paging is None:
            self._alerts.pop(alert.key, None)
            return self.hear(alert, now)
        return self._calls(alert, paging.called, CallReason.RESUMED, paging, now)

    def knows(self, name: str) -> bool:
        """Whether there is a notifier of this name."""
        return bool(self._audience.ordered((name,)))

    def reaches(self, name: str) -> bool:
        """Whether any notifier of this member of the crew works, or this notifier."""
        return not self._audience.of(name, Priority.ALARM) <= self._failed

    # -- what time brings ----------------------------------------------------------------------

    def due_s(self) -> float:
        """When the next limit runs out (monotonic seconds), infinity if none does."""
        failed = self._failed
        return min(
            (
                due_s
                for key, alert in self._alerts.items()
                if alert.state.is_unanswered and key in self._pagings
                for due_s, _ in self._limits(alert, self._pagings[key], failed)
            ),
            default=math.inf,
        )

    def timed_out(self, mono_s: float) -> list[tuple[AlertKey, AlertEvent]]:
        """What has happened to alerts by ``mono_s`` because nobody answered."""
        failed = self._failed
        events = []
        for alert, paging in self._in_order():
            for due_s, event in self._limits(alert, paging, failed):
                if event is not None and mono_s >= due_s:
                    events.append((alert.key, event))
                    break
        return events

    def calls_due(self, now: Moment) -> list[Call]:
        """The next step, or the same again, of every alert for which it is time."""
        calls = []
        failed = self._failed
        for alert, paging in self._in_order():
            for due_s, event in self._limits(alert, paging, failed):
                if event is None and now.mono_s >= due_s:
                    calls += self._call_on(alert, paging, now)
        return calls

    def _limits(
        self, alert: Alert, paging: Paging, failed: Collection[str]
    ) -> Iterator[tuple[float, AlertEvent | None]]:
        """When what happens to an unanswered alert; None: somebody is to be called."""
        patience_s = self._settings.warning_becomes_alarm_s
        if alert.priority is Priority.WARNING and patience_s and self.watch_since_s is not None:
            yield max(paging.since_s, self.watch_since_s) + patience_s, AlertEvent.ESCALATED
        if alert.state is AlertState.SILENCED:
            yield paging.quiet_s + SILENCE_S, AlertEvent.SILENCE_RAN_OUT
        elif alert.state is AlertState.RESPONSIBILITY_TRANSFERRED:
            # One who cannot be reached any more is not waited for.
            heard = self._taker(alert).difference(failed)
            wait_s = self._settings.everyone_after_s if heard else 0.0
            yield paging.quiet_s + wait_s, AlertEvent.TAKEN_BACK
        elif self._anybody:
            yield self._next_call_s(alert, paging, failed), None

    def _next_call_s(self, alert: Alert, paging: Paging, failed: Collection[str]) -> float:
        repeat_s = paging.called_s + self._settings.repeat_s
        if alert.priority is not Priority.ALARM or paging.step >= EVERYONE:
            return repeat_s
        if not self._audience.wakes(paging.called, failed):
            return paging.since_s  # nobody can have heard it: at once
        return min(repeat_s, paging.since_s + self._after_s[paging.step + 1])

    def _call_on(self, alert: Alert, paging: Paging, now: Moment) -> list[Call]:
        step, old = paging.step, paging.called
        if alert.priority is Priority.ALARM:
            for each, after_s in self._after_s.items():
                if now.mono_s >= paging.since_s + after_s:
                    step = max(step, each)
        step, names = self._widened(step, old, alert, now)
        louder = min(LOUDEST, paging.loudness + max(1, step - paging.step))
        following = evolve(paging, step=step, loudness=louder, called=names, called_s=now.mono_s)
        self._pagings[alert.key] = following
        repeated = step == paging.step and now.mono_s >= paging.called_s + self._settings.repeat_s
        for_old = CallReason.AGAIN if repeated else CallReason.LOUDER
        new = tuple(name for name in names if name not in old)
        return [
            *self._calls(alert, new, CallReason.ESCALATED, following, now),
            *self._calls(alert, old, for_old, following, now),
        ]

    # -- inside --------------------------------------------------------------------------------

    @property
    def _failed(self) -> frozenset[str]:
        """Every notifier that is known not to work."""
        return frozenset(
            alert.instance
            for alert in self._alerts.values()
            if alert.name == NOTIFIER_FAILED
            and alert.state is not AlertState.RECTIFIED_UNACKNOWLEDGED
        )

    def _in_order(self) -> list[tuple[Alert, Paging]]:
        """Whatever is unanswered, the most urgent first, then in order of raising."""
        waiting = [alert for alert in self._alerts.values() if alert.state.is_unanswered]
        waiting.sort(key=lambda alert: (-alert.priority.rank, alert.number))
        return [(each, self._pagings[each.key]) for each in waiting if each.key in self._pagings]

    def _widened(
        self, step: int, called: tuple[str, ...], alert: Alert, now: Moment
    ) -> tuple[int, tuple[str, ...]]:
        """Who is called at ``step``, beside those called; at a later one if none of them works."""
        failed = self._failed
        while True:
            wanted = self._audience.at_step(step, alert.priority, now.utc_s, failed)
            names = self._audience.ordered({*called, *wanted})
            goes_on = alert.priority is Priority.ALARM and step < EVERYONE
            if not goes_on or self._audience.wakes(names, failed):
                return step, names
            step += 1

    def _taker(self, alert: Alert) -> frozenset[str]:
        return self._audience.of(alert.handed_to, alert.priority)

    def _calls(
        self,
        alert: Alert,
        outlets: tuple[str, ...],
        reason: CallReason,
        paging: Paging,
        now: Moment,
    ) -> list[Call]:
        """The call for these notifiers; two, if one part of them is responsible for the alert."""
        if alert.state is not AlertState.RESPONSIBILITY_TRANSFERRED:
            return self._call(alert, outlets, reason, paging, now)
        taker = self._taker(alert)
        as_taken = evolve(alert, state=AlertState.ACTIVE_UNACKNOWLEDGED)
        takes = tuple(name for name in outlets if name in taker)
        others = tuple(name for name in outlets if name not in taker)
        for_others = CallReason.CHANGED if reason is CallReason.HANDED_OVER else reason
        return [
            *self._call(as_taken, takes, reason, paging, now),
            *self._call(alert, others, for_others, paging, now),
        ]

    @staticmethod
    def _call(
        alert: Alert,
        outlets: tuple[str, ...],
        reason: CallReason,
        paging: Paging,
        now: Moment,
    ) -> list[Call]:
        if not outlets:
            return []
        call = Call(
            alert=alert,
            outlets=outlets,
            reason=reason,
            step=paging.step,
            loudness=paging.loudness,
            mono_s=now.mono_s,
            utc_s=now.utc_s,
        )
        return [call]


def _reason(before: Alert | None, alert: Alert) -> CallReason:
    """Why somebody is told of this change."""
    if before is None or before.number != alert.number:
        return CallReason.FIRST
    transferred = AlertState.RESPONSIBILITY_TRANSFERRED
    if alert.state is transferred and before.state is not transferred:
        return CallReason.HANDED_OVER
    if alert.state is not AlertState.ACTIVE_UNACKNOWLEDGED:
        return CallReason.CHANGED
    if alert.priority.rank > before.priority.rank or (before.overdue and not alert.overdue):
        return CallReason.MORE_URGENT
    return _AFTER_QUIET.get(before.state, CallReason.CHANGED)


_AFTER_QUIET: Final = {
    AlertState.SILENCED: CallReason.SILENCE_RAN_OUT,
    AlertState.RESPONSIBILITY_TRANSFERRED: CallReason.TAKEN_BACK,
}
