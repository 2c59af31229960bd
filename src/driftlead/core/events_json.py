"""The events contract: one JSON object a line, version 1 (described in docs/events.md)."""

import datetime as dt
import json
from typing import Any, Final

from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call
from driftlead.core.reply import Event
from driftlead.core.state_event import StateEvent
from driftlead.geodesy.anchor_estimate import AnchorEstimate

EVENTS_VERSION: Final = 1


def utc_text(utc_s: float | None) -> str | None:
    """ISO 8601 UTC to the millisecond, ending in Z; None stays None."""
    if utc_s is None:
        return None
    # Rounded first: a double of Unix seconds is good to a microsecond, not to a nanosecond.
    milliseconds = round(utc_s * 1000.0)
    moment = dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(milliseconds=milliseconds)
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{milliseconds % 1000:03d}Z"


def event_to_data(event: Event) -> dict[str, Any]:
    """One event as a plain dict, keys in the contract's order."""
    if isinstance(event, StateEvent):
        return _state_to_data(event)
    if isinstance(event, Call):
        return _call_to_data(event)
    if isinstance(event, AllsWell):
        return {
            "v": EVENTS_VERSION,
            "t": utc_text(event.utc_s),
            "kind": "alls_well",
            "state": event.state,
            "reason": "fix_judged" if event.sees else "loss_declared",
        }
    return {
        "v": EVENTS_VERSION,
        "t": utc_text(event.utc_s),
        "kind": "alert",
        "name": event.name,
        "instance": event.instance,
        "number": event.number,
        "priority": event.priority.value,
        "state": event.state.value,
        "reason": event.reason,
        "text": event.text,
        "moved_m": _rounded(event.moved_m, 1),
        "bearing_deg": _bearing(event.bearing_deg),
        "rate_mps": _rounded(event.rate_mps, 3),
        "confidence": _rounded(event.confidence, 3),
        "anchor": _anchor(event.anchor),
        "by": event.by,
        "where": event.where,
        "handed_to": event.handed_to,
    }


def _state_to_data(event: StateEvent) -> dict[str, Any]:
    data = {
        "v": EVENTS_VERSION,
        "t": utc_text(event.utc_s),
        "kind": "state",
        "name": event.name,
        "priority": None,
        "state": event.state,
        "reason": event.reason,
        "moved_m": _rounded(event.moved_m, 1),
        "bearing_deg": _bearing(event.bearing_deg),
        "anchor": _anchor(event.anchor),
    }
    slip = event.slip
    if slip is not None:
        data["bow"] = _anchor(slip.bow)
        data["rode_m"] = _rounded(slip.rode_m, 1)
        data["depth_m"] = _rounded(slip.depth_m, 1)
    return data


def _call_to_data(call: Call) -> dict[str, Any]:
    alert = call.alert
    return {
        "v": EVENTS_VERSION,
        "t": utc_text(call.utc_s),
        "kind": "call",
        "name": alert.name,
        "instance": alert.instance,
        "number": alert.number,
        "priority": alert.priority.value,
        "state": alert.state.value,
        "reason": call.reason.value,
        "outlets": list(call.outlets),
        "step": call.step,
        "loudness": call.loudness,
    }


def event_to_json(event: Event) -> str:
    """One event as one line of JSON without the line end. Equal events give equal bytes."""
    return json.dumps(event_to_data(event), separators=(",", ":"))


def _anchor(anchor: AnchorEstimate | None) -> dict[str, Any] | None:
    if anchor is None:
        return None
    return {
        "lat": round(anchor.lat_deg, 7),
        "lon": round(anchor.lon_deg, 7),
        "sigma_m": round(anchor.sigma_m, 1),
        "method": anchor.method.value,
    }


def _bearing(bearing_deg: float | None) -> float | None:
    # 359.96 is north, and north is 0.
    return None if bearing_deg is None else round(bearing_deg, 1) % 360.0


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
