"""A call: who is told of an alert now, how loudly, and why."""

import enum

from attrs import frozen

from driftlead.alerts.alert import Alert


class CallReason(enum.StrEnum):
    """Why somebody is called."""

    FIRST = "first"
    """The alert has just been raised."""
    MORE_URGENT = "more_urgent"
    """Its priority has risen."""
    ESCALATED = "escalated"
    """Nobody has answered in time, so these are called too."""
    LOUDER = "louder"
    """Nobody has answered in time, so those who were called hear it louder."""
    AGAIN = "again"
    """Nobody has answered yet: it is repeated."""
    SILENCE_RAN_OUT = "silence_ran_out"
    """It was silenced and nobody has answered: it sounds again."""
    HANDED_OVER = "handed_over"
    """The responsibility for it is handed over to these."""
    TAKEN_BACK = "taken_back"
    """Whoever it was handed over to has not answered: it is everybody's again."""
    CHANGED = "changed"
    """It was silenced, answered, ended, or tells something else than before."""
    RESUMED = "resumed"
    """The program was restarted; it stands as it stood."""


@frozen(kw_only=True)
class Call:
    """One alert for some notifiers.

    ``alert`` is the alert as it stands for them: to whoever it was handed over to it is active and
    unacknowledged, whatever it is to the others. ``outlets`` are the names of the notifiers, in the
    order of the configuration. ``step`` is the step of the escalation: 0 at once, 1 the second
    place, 2 everybody. ``loudness`` counts up from 0 as nobody answers; a notifier that has fewer
    steps takes its loudest for all above.
    """

    alert: Alert
    outlets: tuple[str, ...]
    reason: CallReason
    step: int
    loudness: int
    mono_s: float
    utc_s: float | None = None
