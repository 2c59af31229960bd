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
``response`` while she drags: the lines of a card that says what to do, in order, else null;
``moved_deg`` (the way the anchor moves) and ``danger`` while she drags (``name``, ``kind``,
``distance_m``, ``bearing_deg``, ``minutes`` at this rate, null if the drift does not lead there;
``nearest_name``, ``nearest_m``, ``nearest_bearing_deg``); ``anchor_depth_m`` (of now, where the
tide is known), ``rise_m`` until high water; ``bow`` (``lat``, ``lon``; null without a heading) and
``antenna_aft_m``.
What is not known is null. Bearings are true.
"""

from collections.abc import Mapping
from typing import Any

from attrs import asdict

from driftlead.core.events_json import event_to_data, utc_text
from driftlead.core.status import SourceStatus, Status
from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerAhead
from driftlead.planning.response_now import card_of
from driftlead.sources.base import SourceHealth
from driftlead.watch.settings import WatchSettings

_FIGURES = (
    *("set_result", "verdict", "reason", "confidence"),
    *("distance_m", "bearing_deg", "radius_m", "moved_m"),
    *("rate_mps", "rode_m", "depth_m", "heading_deg", "wind_from_deg", "wind_mps"),
    *("fix_age_s", "receiver", "moved_deg", "anchor_depth_m", "rise_m"),
)


def status_to_data(
    status: Status,
    *,
    on_watch: bool,
    health: Mapping[str, SourceHealth],
    journal_ok: bool,
    recording_ok: bool,
    lost_lines: int,
    settings: WatchSettings,
) -> dict[str, Any]:
    """One plain dict for ``json.dumps``."""
    anchor = status.anchor
    heard = {source.name: source for source in status.sources}
    return {
        "state": status.state,
        "on_watch": on_watch,
        "t": utc_text(status.utc_s),
        **{name: _rounded(getattr(status, name)) for name in _FIGURES},
        "position": _place(status.position),
        "bow": _place(status.bow),
        "antenna_aft_m": settings.boat.antenna_aft_m,
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
        "danger": _danger(status.danger),
        "response": _response(status, settings),
    }


def _place(position: Position | None) -> dict[str, float] | None:
    if position is None:
        return None
    return {"lat": round(position.lat_deg, 7), "lon": round(position.lon_deg, 7)}


def _danger(danger: DangerAhead | None) -> dict[str, Any] | None:
    if danger is None:
        return None
    return {name: _rounded(value) for name, value in asdict(danger).items()}


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


def _response(status: Status, settings: WatchSettings) -> list[str] | None:
    card = card_of(status, settings)
    return None if card is None else list(card.lines())


def _rounded(value: Any) -> Any:
    return round(value, 3) if isinstance(value, float) else value
