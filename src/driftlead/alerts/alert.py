"""What an alert is: a name, a priority, a state, and the figures a woken person needs."""

import enum

from attrs import field, frozen

from driftlead.geodesy.anchor_estimate import AnchorEstimate


class Priority(enum.StrEnum):
    """How soon somebody must act (IMO Code on Alerts). Later members outrank earlier ones."""

    CAUTION = "caution"
    """Be aware; nobody is woken."""
    WARNING = "warning"
    """Look into it soon; one person is woken."""
    ALARM = "alarm"
    """Act now; everybody is woken."""

    @property
    def rank(self) -> int:
        """Order of urgency, 0 is the least."""
        return _RANK[self]


_RANK = {Priority.CAUTION: 0, Priority.WARNING: 1, Priority.ALARM: 2}


class AlertState(enum.StrEnum):
    """Where an alert is in its life (the states of IEC 62923-1, as ALF carries them)."""

    NORMAL = "normal"
    ACTIVE_UNACKNOWLEDGED = "active_unacknowledged"
    SILENCED = "silenced"
    ACTIVE_ACKNOWLEDGED = "active_acknowledged"
    RESPONSIBILITY_TRANSFERRED = "responsibility_transferred"
    RECTIFIED_UNACKNOWLEDGED = "rectified_unacknowledged"

    @property
    def sounds(self) -> bool:
        """Whether this state is to be heard: only an active alert nobody has answered."""
        return self is AlertState.ACTIVE_UNACKNOWLEDGED

    @property
    def is_unanswered(self) -> bool:
        """Whether it is active and still waits for an answer, be it quiet meanwhile."""
        return self in _UNANSWERED


_UNANSWERED = frozenset(
    {
        AlertState.ACTIVE_UNACKNOWLEDGED,
        AlertState.SILENCED,
        AlertState.RESPONSIBILITY_TRANSFERRED,
    }
)


@frozen(kw_only=True)
class Alert:
    """One alert as it stands after its latest change. Immutable; a change makes a new one.

    ``name`` is from the catalogue (``drag``, ``fix_lost``...); ``instance`` tells alerts of one
    name apart (the source or notifier concerned; empty where there can be only one).
    ``number`` counts the raisings of the watch: the same number is the same occurrence.
    ``utc_s`` is the receiver's UTC in Unix seconds at the change, None before any receiver time.
    ``moved_m`` and ``bearing_deg`` say how far and which way (true) the anchor has moved;
    ``rate_mps`` how fast; ``confidence`` is the chance, 0..1, that the condition is real.
    ``by`` is who acknowledged, silenced or handed it over, and ``where`` from which place, as far
    as they said; ``handed_to`` who is responsible for it while it is handed over.
    ``overdue``: it is an alarm only because nobody answered it as a warning.
    """

    name: str
    instance: str = ""
    number: int
    priority: Priority
    state: AlertState
    reason: str
    text: str
    mono_s: float
    utc_s: float | None = None
    raised_utc_s: float | None = None
    moved_m: float | None = None
    bearing_deg: float | None = None
    rate_mps: float | None = None
    confidence: float | None = None
    anchor: AnchorEstimate | None = field(default=None)
    by: str | None = None
    where: str | None = None
    handed_to: str | None = None
    overdue: bool = False

    @property
    def key(self) -> tuple[str, str]:
        """What makes this alert one alert: its name and instance."""
        return (self.name, self.instance)
