"""What is sent to other machines: an alert as JSON, schema 1. Pure.

Members: ``schema`` (1), ``boat``, ``name``, ``instance``, ``number``, ``priority``, ``state``,
``reason``, ``text`` (one line for people), ``t`` (the receiver's UTC of the change, ISO 8601),
``raised_t`` (the same of the raising), ``moved_m``, ``bearing_deg``, ``rate_mps``, ``confidence``
(0..1), ``by``, ``where``, ``handed_to``, ``overdue``, and ``anchor``: null, or an object of
``lat``, ``lon`` (degrees), ``sigma_m`` and ``method``. What is not known is null. Members may be
added under schema 1; a receiver passes over those it does not know. docs/carriers.md has the table.
"""

import json
import math
from typing import Any

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.core.events_json import utc_text
from driftlead.notify.message import describe

SCHEMA = 1


def check_alert(what: str, *, mono_s: float) -> Alert:
    """What a check of ``what`` sends: it is called ``check`` and is no alert."""
    return Alert(
        name="check",
        number=0,
        priority=Priority.CAUTION,
        state=AlertState.NORMAL,
        reason="check",
        text=f"This is a test of {what}, not an alert.",
        mono_s=mono_s,
    )


def alert_body(alert: Alert, *, boat: str) -> bytes:
    """Return the JSON of ``alert`` in UTF-8; equal alerts give equal bytes."""
    anchor = alert.anchor
    members: dict[str, Any] = {
        "schema": SCHEMA,
        "boat": boat,
        "name": alert.name,
        "instance": alert.instance,
        "number": alert.number,
        "priority": alert.priority.value,
        "state": alert.state.value,
        "reason": alert.reason,
        "text": describe(alert),
        "t": _utc_text(alert.utc_s),
        "raised_t": _utc_text(alert.raised_utc_s),
        "moved_m": _finite(alert.moved_m),
        "bearing_deg": _finite(alert.bearing_deg),
        "rate_mps": _finite(alert.rate_mps),
        "confidence": _finite(alert.confidence),
        "by": alert.by,
        "where": alert.where,
        "handed_to": alert.handed_to,
        "overdue": alert.overdue,
        "anchor": None
        if anchor is None
        else {
            "lat": _finite(anchor.lat_deg),
            "lon": _finite(anchor.lon_deg),
            "sigma_m": _finite(anchor.sigma_m),
            "method": anchor.method.value,
        },
    }
    return _json(members)


def alls_well_body(tick: AllsWell, *, boat: str) -> bytes:
    """Return the JSON of the sign of life: ``state`` of the watch, ``sees``, and ``t``."""
    return _json(
        {
            "schema": SCHEMA,
            "boat": boat,
            "alls_well": True,
            "state": tick.state,
            "sees": tick.sees,
            "t": _utc_text(tick.utc_s),
        }
    )


def _json(members: dict[str, Any]) -> bytes:
    return json.dumps(members, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def _utc_text(utc_s: float | None) -> str | None:
    try:
        return utc_text(_finite(utc_s))
    except OverflowError:
        return None  # no date at all


def _finite(figure: float | None) -> float | None:
    return figure if figure is not None and math.isfinite(figure) else None
