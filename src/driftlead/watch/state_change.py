"""A change of the watch's state, as the watch reports it to the core."""

from attrs import frozen

from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.watch.slip_position import SlipPosition
from driftlead.watch.state_table import WatchEvent, WatchState


@frozen(kw_only=True)
class StateChange:
    """Event ``event`` led to ``state``; ``reason`` says why in one word.

    ``slip`` is only there where the cable was slipped.
    """

    event: WatchEvent
    state: WatchState
    reason: str
    moved_m: float | None = None
    bearing_deg: float | None = None
    anchor: AnchorEstimate | None = None
    slip: SlipPosition | None = None
