"""The one line that ``systemctl status`` shows. Pure."""

from driftlead.core.status import Status
from driftlead.units import format_length


def status_line(status: Status, *, on_watch: bool) -> str:
    """Say the state, the distance from the anchor, the age of the fix, and what is up.

    For example ``riding; 23 m from the anchor; fix 1 s old; no alerts``.
    """
    parts = [status.state.replace("_", " ")]
    if on_watch and status.distance_m is not None:
        parts.append(f"{format_length(status.distance_m)} from the anchor")
    parts.append("no fix yet" if status.fix_age_s is None else f"fix {status.fix_age_s:.0f} s old")
    alerts = [f"{alert.priority.value} {alert.name}" for alert in status.alerts]
    parts.append(", ".join(alerts) or "no alerts")
    return "; ".join(parts)
