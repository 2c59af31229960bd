"""The alert book: conditions and acknowledgements in, alerts out, one alert for one situation."""

from collections.abc import Iterable

from attrs import evolve

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.catalogue import ClearRule, clear_rule
from driftlead.alerts.condition import Condition
from driftlead.alerts.lifecycle import AlertEvent, next_alert_state, raised_event


class AlertBook:
    """Keeps every alert that is not normal. Every change is returned as a new Alert."""

    def __init__(self, alerts: Iterable[Alert] = (), *, last_number: int = 0) -> None:
        self._alerts = {alert.key: alert for alert in alerts}
        # Latched alerts whose condition is gone but which nobody has answered.
        self._gone: set[tuple[str, str]] = set()
        self.last_number = last_number

    @property
    def alerts(self) -> tuple[Alert, ...]:
        """Every alert that is not normal, most urgent first, then in order of raising."""
        return tuple(sorted(self._alerts.values(), key=lambda a: (-a.priority.rank, a.number)))

    def find(self, name: str, instance: str = "") -> Alert | None:
        """The alert of this name and instance, if it is not normal."""
        return self._alerts.get((name, instance))

    def take(self, condition: Condition, *, mono_s: float, utc_s: float | None) -> list[Alert]:
        """Hear of a condition: gives the alert's change, or nothing if it is nothing new."""
        key = (condition.name, condition.instance)
        alert = self._alerts.get(key)
        if condition.priority is None:
            return self._rectify(key, alert, mono_s, utc_s)
        anew = key in self._gone
        self._gone.discard(key)
        if alert is None or alert.state is AlertState.RECTIFIED_UNACKNOWLEDGED:
            self.last_number += 1
            before = AlertState.NORMAL if alert is None else alert.state
            state = next_alert_state(before, raised_event(condition.priority))
            return [self._keep(self._made(condition, state, self.last_number, mono_s, utc_s, None))]
        if condition.priority.rank > alert.priority.rank:
            state = next_alert_state(alert.state, AlertEvent.ESCALATED)
        elif condition.priority is alert.priority and condition.reason == alert.reason and not anew:
            return []
        else:
            # Another reason, less urgent, or once more before anybody answered: worth telling, not
            # worth sounding anew.
            state = alert.state
            if condition.priority is Priority.CAUTION:
                state = AlertState.ACTIVE_ACKNOWLEDGED
        return [
            self._keep(
                self._made(condition, state, alert.number, mono_s, utc_s, alert.raised_utc_s)
            )
        ]

    def acknowledge(self, name: str | None, *, mono_s: float, utc_s: float | None) -> list[Alert]:
        """Answer every alert that waits for it, or those called ``name``; gives what changed."""
        changes: list[Alert] = []
        for alert in self.alerts:
            waits = alert.state in (
                AlertState.ACTIVE_UNACKNOWLEDGED,
                AlertState.RECTIFIED_UNACKNOWLEDGED,
            )
            if not waits or (name is not None and alert.name != name):
                continue
            state = next_alert_state(alert.state, AlertEvent.ACKNOWLEDGED)
            if alert.key in self._gone:
                self._gone.discard(alert.key)
                state = next_alert_state(state, AlertEvent.RECTIFIED)
            changes.append(self._keep(evolve(alert, state=state, mono_s=mono_s, utc_s=utc_s)))
        return changes

    def _rectify(
        self, key: tuple[str, str], alert: Alert | None, mono_s: float, utc_s: float | None
    ) -> list[Alert]:
        if alert is None or alert.state is AlertState.RECTIFIED_UNACKNOWLEDGED:
            return []
        unanswered = alert.state is AlertState.ACTIVE_UNACKNOWLEDGED
        if unanswered and clear_rule(alert.name) is ClearRule.LATCHED:
            self._gone.add(key)
            return []
        state = next_alert_state(alert.state, AlertEvent.RECTIFIED)
        return [self._keep(evolve(alert, state=state, mono_s=mono_s, utc_s=utc_s))]

    def _keep(self, alert: Alert) -> Alert:
        if alert.state is AlertState.NORMAL:
            self._alerts.pop(alert.key, None)
        else:
            self._alerts[alert.key] = alert
        return alert

    @staticmethod
    def _made(
        condition: Condition,
        state: AlertState,
        number: int,
        mono_s: float,
        utc_s: float | None,
        raised_utc_s: float | None,
    ) -> Alert:
        assert condition.priority is not None  # noqa: S101  # the caller has asked
        return Alert(
            name=condition.name,
            instance=condition.instance,
            number=number,
            priority=condition.priority,
            state=state,
            reason=condition.reason,
            text=condition.text,
            mono_s=mono_s,
            utc_s=utc_s,
            raised_utc_s=utc_s if raised_utc_s is None else raised_utc_s,
            moved_m=condition.moved_m,
            bearing_deg=condition.bearing_deg,
            rate_mps=condition.rate_mps,
            confidence=condition.confidence,
            anchor=condition.anchor,
        )
