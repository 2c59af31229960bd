"""What waits to be carried far, and what may give way when too much waits. Pure.

A newer state of an alert takes the place of an older one that has not been sent, with one
exception: that an alarm was raised is never lost, even if it is over before anybody could be told.
"""

from collections.abc import Iterable
from typing import Final

from attrs import frozen

from driftlead.alerts.alert import Alert, AlertState, Priority

LIMIT: Final = 256


@frozen(kw_only=True)
class QueuedAlert:
    """One change of an alert as it will be sent.

    ``idempotency_key`` names the change and is the same at each attempt; ``timestamp`` is whole
    Unix seconds as text. ``occurrence`` tells one raising from another.
    """

    name: str
    instance: str
    occurrence: str
    priority: Priority
    state: AlertState
    idempotency_key: str
    timestamp: str
    body: bytes

    @property
    def raises_an_alarm(self) -> bool:
        """Whether this is the news that an alarm is up and nobody has answered."""
        return self.priority is Priority.ALARM and self.state is AlertState.ACTIVE_UNACKNOWLEDGED


class DurableQueue:
    """The entries in memory; ``durable_queue_file`` keeps them on the disk.

    Sent first is the most urgent, among equals the oldest. Above ``limit`` entries the oldest news
    that something lesser than an alarm is over gives way first, then the oldest caution, then the
    oldest warning. What concerns an alarm never gives way.
    """

    def __init__(self, *, limit: int = LIMIT) -> None:
        self._entries: dict[str, QueuedAlert] = {}
        self._limit = limit

    @property
    def entries(self) -> tuple[QueuedAlert, ...]:
        """Everything that waits, in order of arrival. May be asked for in another thread."""
        return tuple(self._entries.values())

    @property
    def head(self) -> QueuedAlert | None:
        """What is to be sent next."""
        return max(self._entries.values(), key=lambda e: e.priority.rank, default=None)

    def __contains__(self, entry: QueuedAlert) -> bool:
        return entry.idempotency_key in self._entries

    def put(
        self, alert: Alert, *, idempotency_key: str, timestamp: str, body: bytes
    ) -> tuple[QueuedAlert, list[QueuedAlert]]:
        """Add a change; give its entry, and what had to give way (perhaps the entry itself).

        A change that waits already is not added again.
        """
        if (waiting := self._entries.get(idempotency_key)) is not None:
            return waiting, []
        entry = QueuedAlert(
            name=alert.name,
            instance=alert.instance,
            # The number alone would do, if no journal were ever lost and counted from 1 again.
            occurrence=f"{alert.number}@{alert.raised_utc_s}",
            priority=alert.priority,
            state=alert.state,
            idempotency_key=idempotency_key,
            timestamp=timestamp,
            body=body,
        )
        self._add(entry)
        return entry, self._give_way()

    def adopt(self, older: Iterable[QueuedAlert]) -> None:
        """Put what an earlier run has left before all else."""
        newer, self._entries = self._entries, {}
        for entry in (*older, *newer.values()):
            self._add(entry)

    def remove(self, entry: QueuedAlert) -> None:
        """Forget an entry: it was sent, or nobody will ever take it."""
        self._entries.pop(entry.idempotency_key, None)

    def _add(self, entry: QueuedAlert) -> None:
        for waiting in self.entries:
            if _supersedes(entry, waiting):
                del self._entries[waiting.idempotency_key]
        self._entries[entry.idempotency_key] = entry

    def _give_way(self) -> list[QueuedAlert]:
        dropped = []
        while len(self._entries) > self._limit:
            lesser = [e for e in self._entries.values() if e.priority is not Priority.ALARM]
            if not lesser:
                break
            victim = min(lesser, key=_worth)
            self.remove(victim)
            dropped.append(victim)
        return dropped


def _supersedes(newer: QueuedAlert, older: QueuedAlert) -> bool:
    if (newer.name, newer.instance) != (older.name, older.instance):
        return False
    if not older.raises_an_alarm:
        return True
    # The same alarm sounding again (a silence ran out) tells all that the older one did.
    return newer.raises_an_alarm and newer.occurrence == older.occurrence


def _worth(entry: QueuedAlert) -> int:
    return 0 if entry.state is AlertState.NORMAL else 1 + entry.priority.rank
