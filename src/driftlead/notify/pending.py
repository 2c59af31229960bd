"""What is still to be sent to one notifier, and in which order. Pure: no time, no tasks."""

from driftlead.alerts.alert import AlertState, Priority
from driftlead.alerts.call import Call

_Key = tuple[str, str]


class Pending:
    """The newest call for every alert that one notifier is still to hear of.

    At most one entry an alert: a newer call replaces an older one that has not been sent.
    The most urgent goes first, among equals the oldest. Above ``limit`` entries the least urgent
    is dropped, the oldest first; but never an alarm, and never a change of an alert the notifier
    already knows of, or it would believe for ever in an alert that is over.
    """

    def __init__(self, *, limit: int) -> None:
        self._limit = limit
        self._due: dict[_Key, Call] = {}
        self._held: dict[_Key, Call] = {}
        self._told: set[_Key] = set()

    @property
    def is_due(self) -> bool:
        """Whether there is something to send now."""
        return bool(self._due)

    @property
    def is_held(self) -> bool:
        """Whether something waits to be tried again."""
        return bool(self._held)

    def offer(self, call: Call) -> list[Call]:
        """Take in a call; return what had to be dropped."""
        key = call.alert.key
        self._held.pop(key, None)
        self._due[key] = call
        return self._dropped()

    def take(self) -> Call | None:
        """Remove and return what is to be sent next; from then on the notifier knows of it."""
        if not self._due:
            return None
        call = self._due.pop(max(self._due, key=lambda key: self._due[key].alert.priority.rank))
        if call.alert.state is AlertState.NORMAL:
            self._told.discard(call.alert.key)
        else:
            self._told.add(call.alert.key)
        return call

    def hold(self, call: Call) -> None:
        """Keep a call that failed, unless a newer one for its alert has come meanwhile."""
        if call.alert.key not in self._due:
            self._held[call.alert.key] = call

    def release(self) -> None:
        """Make everything held due again."""
        self._due |= self._held
        self._held.clear()

    def _dropped(self) -> list[Call]:
        dropped = []
        while len(self._due) + len(self._held) > self._limit:
            waiting = [*self._held.values(), *self._due.values()]
            droppable = [
                call
                for call in waiting
                if call.alert.priority is not Priority.ALARM and call.alert.key not in self._told
            ]
            if not droppable:
                break
            victim = min(droppable, key=lambda call: call.alert.priority.rank)
            self._held.pop(victim.alert.key, None)
            self._due.pop(victim.alert.key, None)
            dropped.append(victim)
        return dropped
