"""The alert book: conditions and answers in, alerts out, one alert for one situation."""

from collections.abc import Iterable
from typing import Any

from attrs import evolve

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.catalogue import ClearRule, clear_rule
from driftlead.alerts.condition import Condition
from driftlead.alerts.lifecycle import AlertEvent, is_legal, next_alert_state, raised_event
from driftlead.alerts.moment import Moment

AlertKey = tuple[str, str]
"""Name and instance."""


class AlertBook:
    """Keeps every alert that is not normal. Every change is returned as a new Alert."""

    def __init__(self, alerts: Iterable[Alert] = (), *, last_number: int = 0) -> None:
        self._alerts = {alert.key: alert for alert in alerts}
        # Latched alerts whose condition is gone but which nobody has answered.
        self._gone: set[AlertKey] = set()
        self.last_number = last_number

    @property
    def alerts(self) -> tuple[Alert, ...]:
        """Every alert that is not normal, most urgent first, then in order of raising."""
        return tuple(sorted(self._alerts.values(), key=lambda a: (-a.priority.rank, a.number)))

    def find(self, name: str, instance: str = "") -> Alert | None:
        """The alert of this name and instance, if it is not normal."""
        return self._alerts.get((name, instance))

    def take(self, condition: Condition, now: Moment) -> Alert | None:
        """Hear of a condition: gives the alert's change, or None if it is nothing new."""
        key = (condition.name, condition.instance)
        alert = self._alerts.get(key)
        if condition.priority is None:
            return self._rectify(alert, now)
        anew = key in self._gone
        self._gone.discard(key)
        if alert is None or alert.state is AlertState.RECTIFIED_UNACKNOWLEDGED:
            return self._raise(condition, condition.priority, alert, now)
        # One that became an alarm because nobody answered is still told of as a warning.
        told = Priority.WARNING if alert.overdue else alert.priority
        if condition.priority.rank > told.rank:
            return self._change(alert, AlertEvent.ESCALATED, now, **_told_by(condition))
        renewed = condition.renewed and condition.text != alert.text
        same = condition.priority is told and condition.reason == alert.reason
        if same and not anew and not renewed:
            return None
        if condition.priority is Priority.CAUTION:
            return self._change(alert, AlertEvent.EASED, now, **_told_by(condition))
        # Another reason, other figures, less urgent, or once more before anybody answered: worth
        # telling, not worth sounding anew.
        changes = _told_by(condition)
        if alert.overdue:
            changes |= {"priority": alert.priority, "overdue": True}
        return self._keep(evolve(alert, mono_s=now.mono_s, utc_s=now.utc_s, **changes))

    def answer(
        self,
        event: AlertEvent,
        name: str | None,
        now: Moment,
        *,
        by: str | None = None,
        where: str | None = None,
        handed_to: str | None = None,
    ) -> list[Alert]:
        """Let ``event`` happen to every alert that can take it, or those called ``name``.

        ``event`` is what somebody does: acknowledge, silence, hand over. Gives what has changed.
        """
        told = {"by": by, "where": where, "handed_to": handed_to}
        return [
            self._change(alert, event, now, **told)
            for alert in self.alerts
            if is_legal(alert.state, event) and name in (None, alert.name)
        ]

    def time_out(self, key: AlertKey, event: AlertEvent, now: Moment) -> Alert:
        """Let a limit run out: a silence, a handing over, or (escalated) a warning's patience."""
        changes: dict[str, Any] = {}
        if event is AlertEvent.ESCALATED:
            changes = {"priority": Priority.ALARM, "overdue": True}
        return self._change(self._alerts[key], event, now, **changes)

    def _raise(
        self, condition: Condition, priority: Priority, before: Alert | None, now: Moment
    ) -> Alert:
        state = AlertState.NORMAL if before is None else before.state
        state = next_alert_state(state, raised_event(priority))
        self.last_number += 1
        return self._keep(
            Alert(
                name=condition.name,
                instance=condition.instance,
                number=self.last_number,
                state=state,
                mono_s=now.mono_s,
                utc_s=now.utc_s,
                raised_utc_s=now.utc_s,
                **_told_by(condition),
            )
        )

    def _rectify(self, alert: Alert | None, now: Moment) -> Alert | None:
        if alert is None or alert.state is AlertState.RECTIFIED_UNACKNOWLEDGED:
            return None
        if alert.state.is_unanswered and clear_rule(alert.name) is ClearRule.LATCHED:
            self._gone.add(alert.key)
            return None
        return self._change(alert, AlertEvent.RECTIFIED, now)

    def _change(self, alert: Alert, event: AlertEvent, now: Moment, **changes: Any) -> Alert:
        state = next_alert_state(alert.state, event)
        if alert.key in self._gone and not state.is_unanswered:
            # It only waited for its answer.
            self._gone.discard(alert.key)
            state = next_alert_state(state, AlertEvent.RECTIFIED)
        if state is AlertState.ACTIVE_UNACKNOWLEDGED:
            changes |= {"by": None, "where": None, "handed_to": None}
        changed = evolve(alert, state=state, mono_s=now.mono_s, utc_s=now.utc_s, **changes)
        return self._keep(changed)

    def _keep(self, alert: Alert) -> Alert:
        if alert.state is AlertState.NORMAL:
            self._alerts.pop(alert.key, None)
        else:
            self._alerts[alert.key] = alert
        return alert


def _told_by(condition: Condition) -> dict[str, Any]:
    """What an alert has from its condition."""
    return {
        "priority": condition.priority,
        "overdue": False,
        "reason": condition.reason,
        "text": condition.text,
        "moved_m": condition.moved_m,
        "bearing_deg": condition.bearing_deg,
        "rate_mps": condition.rate_mps,
        "confidence": condition.confidence,
        "anchor": condition.anchor,
    }
