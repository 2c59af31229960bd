"""A condition that holds or no longer holds; the alert book makes alerts of it."""

from attrs import frozen

from driftlead.alerts.alert import Priority
from driftlead.geodesy.anchor_estimate import AnchorEstimate


@frozen(kw_only=True)
class Condition:
    """What is so, how urgent, and why. ``priority`` None: it is so no longer.

    ``renewed``: it was told before, and its figures have changed so much that its alert is to tell
    the new ones. That is no reason to call anybody.
    """

    name: str
    instance: str = ""
    priority: Priority | None
    reason: str = ""
    text: str = ""
    moved_m: float | None = None
    bearing_deg: float | None = None
    rate_mps: float | None = None
    confidence: float | None = None
    anchor: AnchorEstimate | None = None
    renewed: bool = False
