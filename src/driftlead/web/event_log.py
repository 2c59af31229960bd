"""The latest alerts and changes of state, each with an id to go on from."""

import json
from collections import deque
from typing import Any, Final

from attrs import frozen

from driftlead.alerts.alert import Alert
from driftlead.core.events_json import event_to_data
from driftlead.core.reply import Event
from driftlead.core.state_event import StateEvent

KEPT: Final = 500
_MOST_DIGITS: Final = 18


@frozen
class LoggedEvent:
    """One event as it is told: its number in this run, ``alert`` or ``state``, and its JSON."""

    number: int
    id: str
    kind: str
    text: str


class EventLog:
    """Keeps the last ``KEPT`` events of one run, which is called ``run_id``."""

    def __init__(self, run_id: str) -> None:
        self._run_id = run_id
        self._events: deque[LoggedEvent] = deque(maxlen=KEPT)
        self.last_number = 0

    def hear(self, event: Event, run_s: float) -> bool:
        """Keep an alert or a change of state, ``run_s`` seconds into the run; False: it is none."""
        if not isinstance(event, Alert | StateEvent):
            return False
        self.last_number += 1
        event_id = f"{self._run_id}.{self.last_number}"
        data: dict[str, Any] = {
            "id": event_id,
            "run_s": round(run_s, 3),
            "event": event_to_data(event),
        }
        kind = "alert" if isinstance(event, Alert) else "state"
        text = json.dumps(data, separators=(",", ":"))
        self._events.append(LoggedEvent(self.last_number, event_id, kind, text))
        return True

    def number_of(self, event_id: str | None) -> int | None:
        """The number in an id of this run; None for what is no id of it."""
        run_id, _, digits = (event_id or "").partition(".")
        plain = digits.isascii() and digits.isdecimal() and len(digits) <= _MOST_DIGITS
        if run_id != self._run_id or not plain or int(digits) > self.last_number:
            return None
        return int(digits)

    def after(self, number: int) -> tuple[bool, list[LoggedEvent]]:
        """The events after that number, and whether none between is lost."""
        events = [event for event in self._events if event.number > number]
        first = self._events[0].number if self._events else self.last_number + 1
        return number + 1 >= first, events
