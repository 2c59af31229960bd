"""The status in one short line, for a status bar. Pure."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from driftlead.units import compass_point, format_knots, format_length

FIX_LIMIT_S: Final = 10.0
"""A fix older than this says nothing about the present."""
NO_DAEMON: Final = "NO WATCH: no daemon answers"
_ANSWERED: Final = "active_acknowledged"


def short_status(status: Mapping[str, Any]) -> str:
    """Say the worst first: ``holding 34 m of 42 m, wind 12 kn NNE, depth 3.9 m``.

    ``status`` is what the daemon answers. Capitals where a hand is wanted; after an alert that
    waits for an answer the rest follows all the same.
    """
    parts = (_judgement(status), *_danger(status), *_alerts(status), *_instruments(status))
    return ", ".join(parts)


def _judgement(status: Mapping[str, Any]) -> str:
    if not status["on_watch"]:
        return f"no watch ({status['state'].replace('_', ' ')})"
    age_s = status["fix_age_s"]
    if age_s is None:
        return "BLIND: no fix yet"
    if age_s >= FIX_LIMIT_S:
        return f"BLIND: fix {age_s:.0f} s old"
    if status["state"] == "dragging":
        word = "DRAGGING"
    else:
        word = {"holding": "holding", None: "not judged yet"}.get(
            status["verdict"], str(status["verdict"]).upper()
        )
    if status["distance_m"] is None:
        return word
    of = "" if status["radius_m"] is None else f" of {format_length(status['radius_m'])}"
    return f"{word} {format_length(status['distance_m'])}{of}"


def _danger(status: Mapping[str, Any]) -> Iterator[str]:
    """What she drags towards; an old fix does not know."""
    danger, age_s = status["danger"], status["fix_age_s"]
    if danger is None or danger["minutes"] is None or age_s is None or age_s >= FIX_LIMIT_S:
        return
    ahead = f"{format_length(danger['distance_m'])} ahead"
    yield f"{danger['name']} {ahead}, {danger['minutes']:.0f} min"


def _alerts(status: Mapping[str, Any]) -> Iterator[str]:
    waiting = [alert for alert in status["alerts"] if alert["state"] != _ANSWERED]
    for alert in waiting:
        yield f"{alert['priority'].upper()} {alert['name'].replace('_', ' ')}"
    # Cautions need no answer: that they have none left to wait for says nothing of a person.
    rest = [alert["priority"] for alert in status["alerts"] if alert not in waiting]
    cautions = rest.count("caution")
    answered = len(rest) - cautions
    if answered:
        yield f"{answered} alert{'' if answered == 1 else 's'} acknowledged"
    if cautions:
        yield f"{cautions} caution{'' if cautions == 1 else 's'}"
    if not status["journal_ok"]:
        yield "NOT ON THE DISK"


def _instruments(status: Mapping[str, Any]) -> Iterator[str]:
    if status["wind_mps"] is not None:
        wind_from_deg = status["wind_from_deg"]
        point = "" if wind_from_deg is None else f" {compass_point(wind_from_deg)}"
        yield f"wind {format_knots(status['wind_mps'])}{point}"
    if status["depth_m"] is not None:
        yield f"depth {format_length(status['depth_m'])}"
