"""The state of the watch, for people and for scripts."""

from attrs import field, frozen

from driftlead.alerts.alert import Alert
from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerAhead


@frozen(kw_only=True)
class SourceStatus:
    """What one source has given: lines by fate, and how long ago the last came."""

    name: str
    line_age_s: float | None
    accepted: dict[str, int]
    unsupported: dict[str, int]
    rejected: dict[str, int]


@frozen(kw_only=True)
class Status:
    """What ``status`` shows. Distances are from the anchor to the antenna; bearings are true.

    ``moved_deg`` is the way the anchor has moved; ``danger`` what she drags towards, None unless
    she drags and dangers are known. ``depth_m`` is the sounder's; ``anchor_depth_m`` that where the
    anchor lies, now, as far as the tide table tells. ``rise_m``: the tide rises by so much more.
    ``bow`` is only known with a heading, or where the antenna is on it.
    """

    state: str
    utc_s: float | None
    set_result: str | None
    verdict: str | None
    reason: str | None
    confidence: float | None
    distance_m: float | None
    bearing_deg: float | None
    radius_m: float | None
    moved_m: float | None
    rate_mps: float | None
    position: Position | None
    anchor: AnchorEstimate | None
    rode_m: float | None
    depth_m: float | None
    heading_deg: float | None
    wind_from_deg: float | None
    wind_mps: float | None
    fix_age_s: float | None
    receiver: str | None
    moved_deg: float | None = None
    danger: DangerAhead | None = None
    anchor_depth_m: float | None = None
    rise_m: float | None = None
    bow: Position | None = None
    alerts: tuple[Alert, ...] = field(factory=tuple)
    sources: tuple[SourceStatus, ...] = field(factory=tuple)
