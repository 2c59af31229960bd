"""What is still to be sent to one notifier, and in which order. Pure: no time, no tasks."""

from driftlead.alerts.alert import Alert, AlertState, Priority

_Key = tuple[str, str]


class Pending:
    """The newest state of every alert that one notifier is still to hear of.

    At most one entry an alert: a newer state replaces an older one that has not been sent.
    The most urgent goes first, among equals the oldest. Above ``limit`` entries the least urgent
    is dropped, the oldest first; but never an alarm, and never a change of an alert the notifier
    already knows of, or it would believe for ever in an alert that is over.
    """

    def __init__(self, at_least: Priority, *, limit: int) -> None:
        self._at_least = at_least
        self._limit = limit
        self._due: dict[_Key, Alert] = {}
        self._held: dict[_Key, Alert] = {}
        self._told: set[_Key] = set()

    @property
    def is_due(self) -> bool:
        """Whether there is something to send now."""
        return bool(self._due)

    @property
    def is_held(self) -> bool:
        """Whether something waits to be tried again."""
        return bool(self._held)

    def offer(self, alert: Alert) -> list[Alert]:
        """Take in a change, unless it is below ``at_least``; return what had to be dropped."""
        key = alert.key
        known = key in self._told or key in self._due or key in self._held
        if alert.priority.rank < self._at_least.rank and not known:
            return []
        self._held.pop(key, None)
        self._due[key] = alert
        return self._dropped()

    def take(self) -> Alert | None:
        """Remove and return what is to be sent next; from then on the notifier knows of it."""
        if not self._due:
            return None
        alert = self._due.pop(max(self._due, key=lambda key: self._due[key].priority.rank))
        if alert.state is AlertState.NORMAL:
            self._told.discard(alert.key)
        else:
            self._told.add(alert.key)
        return alert

    def hold(self, alert: Alert) -> None:
        """Keep an alert whose sending failed, unless a newer state of it has come meanwhile."""
        if alert.key not in self._due:
            self._held[alert.key] = alert

    def release(self) -> None:
        """Make everything held due again."""
        self._due |= self._held
        self._held.clear()

    def _dropped(self) -> list[Alert]:
        dropped = []
        while len(self._due) + len(self._held) > self._limit:
            waiting = [*self._held.values(), *self._due.values()]
            droppable = [
                alert
                for alert in waiting
                if alert.priority is not Priority.ALARM and alert.key not in self._told
            ]
            if not droppable:
                break
            victim = min(droppable, key=lambda alert: alert.priority.rank)
            self._held.pop(victim.key, None)
            self._due.pop(victim.key, None)
            dropped.append(victim)
        return dropped
