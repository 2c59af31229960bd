"""What a replay came to, in words."""

from collections import Counter
from collections.abc import Iterator
from typing import Final

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call
from driftlead.core.core import Core
from driftlead.core.drill import DRILL
from driftlead.core.events_json import utc_text
from driftlead.core.reply import Event
from driftlead.core.state_event import StateEvent
from driftlead.units import format_bearing, format_speed

_NOTABLE: Final = 6


class Summary:
    """Listens to the events and tells the story at the end."""

    def __init__(self) -> None:
        self.alarms = 0
        self.watched = False
        self._events = 0
        self._lines: list[str] = []
        self._first_s: float | None = None
        self._last_s: float | None = None
        self._held_back: Counter[str] = Counter()
        self._shown: Counter[str] = Counter()
        self._raised: set[object] = set()

    def hear(self, event: Event) -> None:
        """Take one event."""
        self._events += 1
        if isinstance(event, Call | AllsWell):
            return
        self.watched = self.watched or not isinstance(event, Alert)
        if isinstance(event, Alert):
            raised = event.state in (
                AlertState.ACTIVE_UNACKNOWLEDGED,
                AlertState.ACTIVE_ACKNOWLEDGED,
            ) and (event.utc_s == event.raised_utc_s or event.state.sounds)
            # One that sounds again because a silence ran out is not raised once more.
            known = (event.key, event.number, event.raised_utc_s, event.priority, event.reason)
            if not raised or known in self._raised:
                return
            self._raised.add(known)
            if event.priority is Priority.ALARM and event.name != DRILL:
                self.alarms += 1
            self._add(event.name, alert_line(event))
        elif event.name != "drag_found":  # the alarm that goes with it says more
            self._lines.append(f"{clock_text(event.utc_s)}  {state_words(event)}")

    def _add(self, name: str, line: str) -> None:
        self._shown[name] += 1
        if self._shown[name] > _NOTABLE:
            self._held_back[name] += 1
        else:
            self._lines.append(line)

    def report(self, core: Core, mono_s: float) -> Iterator[str]:
        """The lines of the summary."""
        yield from self._lines
        for name, count in sorted(self._held_back.items()):
            yield f"... and {count} more of {name}."
        status = core.status(mono_s)
        for source in status.sources:
            accepted = sum(source.accepted.values())
            rejected = sum(source.rejected.values())
            unused = sum(source.unsupported.values())
            why = ", ".join(f"{count} {reason}" for reason, count in source.rejected.items())
            yield (
                f"Source {source.name}: {accepted} sentences read, {unused} of no use here, "
                f"{rejected} rejected{f' ({why})' if why else ''}."
            )
        end = f"At the end: {status.state.replace('_', ' ')}"
        if status.distance_m is not None and status.bearing_deg is not None:
            end += (
                f", the boat {status.distance_m:.0f} m from the anchor, bearing "
                f"{format_bearing(status.bearing_deg)} from it"
            )
            if status.radius_m is not None:
                end += f" (drag circle {status.radius_m:.0f} m)"
        yield f"{end}."
        yield f"{self.alarms} alarm{'' if self.alarms == 1 else 's'} in {self._events} events."


def state_words(event: StateEvent) -> str:
    """A change of state in the trade's words."""
    words = _STATE_WORDS.get(event.name, event.state.replace("_", " "))
    if event.anchor is not None and event.name in ("let_go", "set_late"):
        words += f"; the anchor's place is known to {max(1.0, event.anchor.sigma_m):.0f} m"
    if event.moved_m:
        words += f"; the anchor has moved {event.moved_m:.0f} m in all"
    return f"{words}."


_STATE_WORDS: Final = {
    "let_go": "Let go",
    "set_late": "Watch set late, riding",
    "veer": "Rode veered",
    "mark_corrected": "The mark was corrected",
    "fell_back": "Laying back",
    "fetched_up": "Brought up",
    "settled": "Riding",
    "held_again": "Holds again, riding",
    "weigh": "Aweigh",
    "slipped": "Slipped",
    "stowed": "Stowed",
}


def alert_line(alert: Alert) -> str:
    """One line about an alert that was raised, with the figures a skipper wants."""
    what = f"{alert.priority.value.upper()} {alert.name}"
    if alert.name == DRILL:
        what = "DRILL"
    line = f"{clock_text(alert.utc_s)}  {what}: {alert.text}"
    if alert.moved_m is None or alert.bearing_deg is None:
        return line
    line += f" It has moved {alert.moved_m:.0f} m towards {format_bearing(alert.bearing_deg)}"
    if alert.rate_mps is not None:
        line += f", at {format_speed(alert.rate_mps)}"
    if alert.confidence is not None:
        line += f"; {min(0.99, alert.confidence):.0%} sure"
    return f"{line}."


def clock_text(utc_s: float | None) -> str:
    """UTC to the second for people; dashes where the receiver has not told it."""
    text = utc_text(utc_s)
    return "----------T--:--:--Z" if text is None else f"{text[:19]}Z"
