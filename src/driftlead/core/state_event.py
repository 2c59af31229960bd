"""A change of the watch's state, as reported outside."""

from attrs import frozen

from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.watch.slip_position import SlipPosition


@frozen(kw_only=True)
class StateEvent:
    """The watch went from one state to another.

    ``name`` is the event that caused it (``let_go``, ``veer``, ``fetched_up``...), ``state`` the
    new state. ``moved_m``/``bearing_deg`` (true) are the anchor's movement as judged then.
    ``slip`` is only there where the cable was slipped.
    """

    name: str
    state: str
    reason: str
    mono_s: float
    utc_s: float | None = None
    moved_m: float | None = None
    bearing_deg: float | None = None
    anchor: AnchorEstimate | None = None
    slip: SlipPosition | None = None
