"""The status as JSON: what ``driftlead status --json`` prints.

Keys: ``state`` of the watch, ``on_watch``; ``t`` (the receiver's UTC, ISO 8601); ``set_result``
(what laying back under load said: ``anchor_bitten``, ``rode_not_stretched``, ``anchor_came_home``,
``rode_not_told``, or null); ``verdict``
(``holding``, ``unsure``, ``dragging``), its ``reason`` and ``confidence`` (the chance, 0..1, that
the anchor has moved); ``distance_m`` and ``bearing_deg`` from the anchor to the antenna;
``radius_m`` of the drag circle; ``moved_m`` and ``rate_mps`` of the anchor; ``position`` (``lat``,
``lon``); ``anchor`` (``lat``, ``lon``, ``sigma_m``, ``method``); ``rode_m``, ``depth_m``,
``heading_deg`` (true), ``wind_from_deg`` (true), ``wind_mps``; ``fix_age_s``; ``receiver`` that is
followed; ``alerts`` as in the events contract, the most urgent first; ``sources``, each with
``name``, ``open``, ``detail``, ``line_age_s``, and lines ``accepted``, ``unsupported`` (by kind)
and ``rejected`` (by reason); ``journal_ok``, ``recording_ok``, ``lost_lines`` of the recording;
``response`` while she drags: the lines of a card that says what to do, in order, else null.
What is not known is null. Bearings are true.
"""

from collections.abc import Mapping
from typing import Any

from driftlead.core.events_json import event_to_data, utc_text
from driftlead.core.status import SourceStatus, Status
from driftlead.geodesy.position import Position
from driftlead.sources.base import SourceHealth
from driftlead.watch.state_table import WatchState

_FIGURES = (
    *("set_result", "verdict", "reason", "confidence"),
    *("distance_m", "bearing_deg", "radius_m", "moved_m"),
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
    rode_aboard_m: float | None = None,
) -> dict[str, Any]:
    """One plain dict for ``json.dumps``; ``rode_aboard_m`` is all the rode there is."""
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
        "response": _response(status, rode_aboard_m),
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


def _response(status: Status, rode_aboard_m: float | None) -> list[str] | None:
    if status.state != WatchState.DRAGGING.value:
        return None
    # It loads geometry, which few nights need.
    from driftlead.planning.response import Situation, response_card  # noqa: PLC0415

    anchor = status.anchor
    drag = next((alert for alert in status.alerts if alert.name == "drag"), None)
    situation = Situation(
        moved_m=status.moved_m,
        bearing_deg=None if drag is None else drag.bearing_deg,
        rate_mps=status.rate_mps,
        rode_m=status.rode_m,
        rode_aboard_m=rode_aboard_m,
        depth_m=status.depth_m,
        anchor=None if anchor is None else Position(anchor.lat_deg, anchor.lon_deg),
    )
    return list(response_card(situation).lines())


def _rounded(value: Any) -> Any:
    return round(value, 3) if isinstance(value, float) else value
