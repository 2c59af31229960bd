"""What displays have been told: every alert that is up, with its counters. Pure."""

from attrs import evolve

from driftlead.alerts.alert import Alert, AlertState
from driftlead.notify.alert_sentences import (
    Answer,
    Identity,
    ShownAlert,
    identity_of,
    next_escalation,
    next_revision,
)


class ShownAlerts:
    """Keeps count of the versions of each alert; one that is normal is forgotten."""

    def __init__(self, manufacturer: str) -> None:
        self._manufacturer = manufacturer
        self._shown: dict[Identity, ShownAlert] = {}

    @property
    def all(self) -> tuple[ShownAlert, ...]:
        """Every alert that is up, the most urgent first, then in order of raising."""
        return tuple(
            sorted(self._shown.values(), key=lambda s: (-s.alert.priority.rank, s.alert.number))
        )

    def take(self, alert: Alert) -> ShownAlert:
        """Hear of a change; the same alert once more is the same version."""
        identity = identity_of(alert, self._manufacturer)
        before = self._shown.get(identity)
        if before is None:
            shown = ShownAlert(alert=alert, identity=identity)
        elif before.alert == alert:
            shown = before
        else:
            more_urgent = alert.priority.rank > before.alert.priority.rank
            shown = evolve(
                before,
                alert=alert,
                revision=next_revision(before.revision),
                escalation=next_escalation(before.escalation) if more_urgent else before.escalation,
            )
        if alert.state is AlertState.NORMAL:
            self._shown.pop(identity, None)
        else:
            self._shown[identity] = shown
        return shown

    def asked(self, answer: Answer) -> list[ShownAlert]:
        """Which of the alerts that are up an answer is about."""
        return [
            shown
            for shown in self.all
            if shown.identity.number == answer.number
            and (
                answer.instance is None
                or (shown.identity.instance, shown.identity.manufacturer)
                == (answer.instance, answer.manufacturer)
            )
        ]
