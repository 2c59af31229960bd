"""The state of the watch, for people and for scripts."""

from attrs import field, frozen

from driftlead.alerts.alert import Alert
from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.geodesy.position import Position


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
    """What ``status`` shows. Distances are from the anchor to the antenna; bearings are true."""

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
    alerts: tuple[Alert, ...] = field(factory=tuple)
    sources: tuple[SourceStatus, ...] = field(factory=tuple)
