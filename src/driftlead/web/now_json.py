"""Everything for one glance as JSON: ``Now`` in openapi.json."""

from typing import Any, Final

from driftlead.alerts.watch_bill import WatchBill
from driftlead.core.events_json import event_to_data, utc_text
from driftlead.planning.response_now import card_of
from driftlead.units import Printer
from driftlead.watch.settings import WatchSettings
from driftlead.web.deck import Glance
from driftlead.web.track_history import TrackHistory

_FIGURES: Final = (
    *("set_result", "verdict", "reason", "confidence"),
    *("distance_m", "bearing_deg", "radius_m", "moved_m"),
    *("rate_mps", "rode_m", "depth_m", "heading_deg", "wind_from_deg", "wind_mps"),
    *("fix_age_s", "receiver"),
)


def now_to_data(
    glance: Glance,
    history: TrackHistory,
    *,
    run_id: str,
    run_s: float,
    watch: WatchSettings,
    boat_name: str,
    bill: WatchBill | None = None,
    units: Printer | None = None,
) -> dict[str, Any]:
    """One plain dict. ``history`` has seen this glance, so its origin is the one to go by.

    ``units`` are those in which the card of what to do is written.
    """
    status = glance.status
    boat = watch.boat
    card = card_of(status, watch, units)
    return {
        "run_id": run_id,
        "run_s": round(run_s, 3),
        "utc": utc_text(status.utc_s),
        "state": status.state,
        "on_watch": glance.on_watch,
        **{name: _rounded(getattr(status, name)) for name in _FIGURES},
        "log_odds": _rounded(glance.log_odds),
        "moved_deg": _rounded(glance.moved_deg),
        "danger": _danger(glance),
        "response": None if card is None else card.to_data(),
        "origin": _origin(history),
        "position": _position(glance, history),
        "anchor": _anchor(glance, history),
        "boat": {
            "name": boat_name,
            "length_m": boat.length_m,
            "bow_height_m": boat.bow_height_m,
            "antenna_aft_m": boat.antenna_aft_m,
        },
        "drills": glance.drills,
        "crew": _crew(bill, status.utc_s),
        "alerts": [event_to_data(alert) for alert in status.alerts],
        "sources": _sources(glance),
        "journal_ok": glance.journal_ok,
        "recording_ok": glance.recording_ok,
        "lost_lines": glance.lost_lines,
    }


def _danger(glance: Glance) -> dict[str, Any] | None:
    danger = glance.status.danger
    if danger is None:
        return None
    return {
        "name": danger.name,
        "kind": danger.kind.value,
        "distance_m": _rounded(danger.distance_m),
        "bearing_deg": _rounded(danger.bearing_deg),
        "minutes": _rounded(danger.minutes),
    }


def _crew(bill: WatchBill | None, utc_s: float | None) -> list[dict[str, Any]]:
    """Those to whom an alert can be handed over, and whose watch it is."""
    if bill is None:
        return []
    on_watch = None if utc_s is None else bill.on_watch(utc_s)
    return [{"name": member.name, "on_watch": member is on_watch} for member in bill.crew]


def _origin(history: TrackHistory) -> dict[str, float] | None:
    origin = history.origin
    if origin is None:
        return None
    return {"lat": round(origin.lat_deg, 7), "lon": round(origin.lon_deg, 7)}


def _position(glance: Glance, history: TrackHistory) -> dict[str, float] | None:
    position = glance.status.position
    if position is None or history.origin is None:
        return None
    return _place(history, position.lat_deg, position.lon_deg)


def _anchor(glance: Glance, history: TrackHistory) -> dict[str, Any] | None:
    anchor = glance.status.anchor
    if anchor is None or history.origin is None:
        return None
    return {
        **_place(history, anchor.lat_deg, anchor.lon_deg),
        "sigma_m": round(anchor.sigma_m, 3),
        "method": anchor.method.value,
    }


def _place(history: TrackHistory, lat_deg: float, lon_deg: float) -> dict[str, float]:
    east_m, north_m = history.in_plane(lat_deg, lon_deg)
    return {
        "lat": round(lat_deg, 7),
        "lon": round(lon_deg, 7),
        "east_m": round(east_m, 3),
        "north_m": round(north_m, 3),
    }


def _sources(glance: Glance) -> list[dict[str, Any]]:
    age_s = {source.name: source.line_age_s for source in glance.status.sources}
    return [
        {
            "name": name,
            "open": health.open,
            "detail": health.detail,
            "line_age_s": _rounded(age_s.get(name)),
        }
        for name, health in glance.health.items()
    ]


def _rounded(value: Any) -> Any:
    return round(value, 3) if isinstance(value, float) else value
