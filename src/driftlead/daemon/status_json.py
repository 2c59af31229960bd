"""The status as JSON: what ``driftlead status --json`` prints.

Keys: ``state`` of the watch, ``on_watch``; ``t`` (the receiver's UTC, ISO 8601); ``verdict``
(``holding``, ``unsure``, ``dragging``), its ``reason`` and ``confidence`` (the chance, 0..1, that
the anchor has moved); ``distance_m`` and ``bearing_deg`` from the anchor to the antenna;
``radius_m`` of the drag circle; ``moved_m`` and ``rate_mps`` of the anchor; ``position`` (``lat``,
``lon``); ``anchor`` (``lat``, ``lon``, ``sigma_m``, ``method``); ``rode_m``, ``depth_m``,
``heading_deg`` (true), ``wind_from_deg`` (true), ``wind_mps``; ``fix_age_s``; ``receiver`` that is
followed; ``alerts`` as in the events contract, the most urgent first; ``sources``, each with
``name``, ``open``, ``detail``, ``line_age_s``, and lines ``accepted``, ``unsupported`` (by kind)
and ``rejected`` (by reason); ``journal_ok``, ``recording_ok``, ``lost_lines`` of the recording.
What is not known is null. Bearings are true.
"""

from collections.abc import Mapping
from typing import Any

from driftlead.core.events_json import event_to_data, utc_text
from driftlead.core.status import SourceStatus, Status
from driftlead.sources.base import SourceHealth

_FIGURES = (
    *("verdict", "reason", "confidence", "distance_m", "bearing_deg", "radius_m", "moved_m"),
    *("rate_mps", "rode_m", "depth_m", "heading_deg", "wind_from_deg", "wind_mps"),
    *("fix_age_s", "receiver"),
)


def status_to_data(
    status: Status,
    *,
    on_watch: bool,
    health: Mapping[str, SourceHealth],
    journal_ok: bool,
    recording_ok: bool,
    lost_lines: int,
) -> dict[str, Any]:
    """One plain dict for ``json.dumps``."""
    position, anchor = status.position, status.anchor
    heard = {source.name: source for source in status.sources}
    return {
        "state": status.state,
        "on_watch": on_watch,
        "t": utc_text(status.utc_s),
        **{name: _rounded(getattr(status, name)) for name in _FIGURES},
        "position": None
        if position is None
        else {"lat": round(position.lat_deg, 7), "lon": round(position.lon_deg, 7)},
        "anchor": None
        if anchor is None
        else {
            "lat": round(anchor.lat_deg, 7),
            "lon": round(anchor.lon_deg, 7),
            "sigma_m": _rounded(anchor.sigma_m),
            "method": anchor.method.value,
        },
        "alerts": [event_to_data(alert) for alert in status.alerts],
        "sources": [_source(name, each, heard.get(name)) for name, each in health.items()],
        "journal_ok": journal_ok,
        "recording_ok": recording_ok,
        "lost_lines": lost_lines,
    }


def _source(name: str, health: SourceHealth, heard: SourceStatus | None) -> dict[str, Any]:
    return {
        "name": name,
        "open": health.open,
        "detail": health.detail,
        "line_age_s": None if heard is None else _rounded(heard.line_age_s),
        "accepted": {} if heard is None else heard.accepted,
        "unsupported": {} if heard is None else heard.unsupported,
        "rejected": {} if heard is None else heard.rejected,
    }


def _rounded(value: Any) -> Any:
    return round(value, 3) if isinstance(value, float) else value
