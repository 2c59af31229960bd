"""Alerts for tests."""

from typing import Any

from driftlead.alerts.alert import Alert, AlertState, Priority


def make_alert(**overrides: Any) -> Alert:
    """Make an unanswered drag alarm whose place and figures are not known, but for ``overrides``.

    ``overrides`` are any fields of ``Alert``.
    """
    fields: dict[str, Any] = {
        "name": "drag",
        "number": 1,
        "priority": Priority.ALARM,
        "state": AlertState.ACTIVE_UNACKNOWLEDGED,
        "reason": "raised",
        "text": "The anchor is dragging.",
        "mono_s": 100.0,
    }
    return Alert(**(fields | overrides))
