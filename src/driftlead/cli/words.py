"""The status in a few lines that a tired person can read. Pure."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from driftlead.cli.status_short import FIX_LIMIT_S
from driftlead.geodesy.position import Position
from driftlead.units import format_bearing, format_length, format_position, format_speed

_STATES: Final = {
    "stowed": "Stowed: no watch is kept.",
    "let_go": "Let go: the anchor is on the bottom and she is over it.",
    "laying_back": "Laying back: she falls astern from the anchor.",
    "brought_up": "Brought up: she has fetched up to the anchor and is watched closely.",
    "riding": "Riding to her anchor.",
    "dragging": "DRAGGING: the anchor is coming home.",
    "aweigh": "Aweigh: the anchor is off the bottom; no watch is kept.",
    "slipped": "Slipped: the anchor lies buoyed on the bottom; no watch is kept. "
    "driftlead anchorages says where.",
}
_VERDICTS: Final = {
    "holding": "It holds",
    "unsure": "UNSURE whether it holds",
    "dragging": "IT DRAGS",
}
_REASONS: Final = {
    "rode_unknown": "no rode length is known, so no circle can be drawn: say driftlead veer LENGTH",
    "not_yet_long": "it looks as if it had moved, but for a moment only",
    "swing_changed": "she lies as if it had moved, but not surely enough to wake anybody",
}
_METHODS: Final = {
    "marked": "marked at let go",
    "marked_no_heading": "marked at let go, heading not known",
    "given": "given by hand",
    "inferred": "worked out from her swinging",
    "moved": "moved by a drag",
}
_ALERT_STATES: Final = {
    "active_unacknowledged": "NOT ACKNOWLEDGED",
    "silenced": "SILENCED FOR A MOMENT, not acknowledged",
    "active_acknowledged": "acknowledged",
    "responsibility_transferred": "handed over, not acknowledged",
    "rectified_unacknowledged": "over, not acknowledged",
}
_STALE_S: Final = 10.0
_NOTABLE_PART: Final = 0.02
_NOTABLE_LINES: Final = 10


def status_lines(status: Mapping[str, Any]) -> list[str]:
    """Give the lines, the most important first; ``status`` is what the daemon answers."""
    return [
        _STATES.get(status["state"], f"State {status['state']}."),
        *_alerts(status),
        *_judgement(status),
        *(status.get("response") or ()),
        *_anchor(status),
        _fix(status),
        *_instruments(status),
        *_sources(status),
        *_disk(status),
    ]


_SET_RESULTS: Final = {
    "anchor_bitten": "The anchor has bitten: she stopped with the rode stretched.",
    "rode_not_stretched": "Not proved yet: she stopped before the rode was stretched.",
    "anchor_came_home": "The anchor came home as she lay back to it.",
}


def _alerts(status: Mapping[str, Any]) -> Iterator[str]:
    for alert in status["alerts"]:
        about = f" ({alert['instance']})" if alert["instance"] else ""
        state = f", {_ALERT_STATES.get(alert['state'], alert['state'])}"
        if alert["priority"] == "caution" and alert["state"] == "active_acknowledged":
            state = ""  # it needs no answer, and mostly nobody has given one
        name = alert["name"].replace("_", " ")
        yield f"{alert['priority'].upper()} {name}{about}{state}: {alert['text']}"


def _judgement(status: Mapping[str, Any]) -> Iterator[str]:
    if not status["on_watch"]:
        return
    age_s = status["fix_age_s"]
    blind = age_s is None or age_s >= FIX_LIMIT_S
    if blind:
        why = "there is no fix yet" if age_s is None else f"the fix is {age_s:.0f} s old"
        yield f"BLIND: {why}. Whether it holds is NOT KNOWN."
    elif status["verdict"] is None or status["confidence"] is None:
        yield "Not judged yet: whether it holds is NOT KNOWN."
    else:
        yield _verdict(status)
    if status["set_result"] in _SET_RESULTS:
        yield _SET_RESULTS[status["set_result"]]
    if status["distance_m"] is not None and status["bearing_deg"] is not None:
        yield _lies(status, blind=blind)
    if status["moved_m"]:
        rate_mps = status["rate_mps"]
        speed = "" if rate_mps is None or blind else f", at {format_speed(rate_mps)} now"
        seen = " when last seen" if blind else ""
        yield f"The anchor has moved about {format_length(status['moved_m'])}{speed}{seen}."


def _verdict(status: Mapping[str, Any]) -> str:
    verdict = _VERDICTS.get(status["verdict"], status["verdict"])
    chance = _percent(status["confidence"])
    why = f"; {_REASONS[status['reason']]}" if status["reason"] in _REASONS else ""
    return f"{verdict} (chance that the anchor has moved: {chance}{why})."


def _lies(status: Mapping[str, Any], *, blind: bool) -> str:
    she = "When last seen she lay" if blind else "She lies"
    lies = (
        f"{she} {format_length(status['distance_m'])} from the anchor,"
        f" bearing {format_bearing(status['bearing_deg'])} from it"
    )
    radius_m = status["radius_m"]
    return lies + ("." if radius_m is None else f"; the circle is {format_length(radius_m)}.")


def _percent(chance: float) -> str:
    if chance < 0.01:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{100 * chance:.0f} %"


def _anchor(status: Mapping[str, Any]) -> Iterator[str]:
    anchor = status["anchor"]
    if anchor is None or not status["on_watch"]:
        return
    where = format_position(Position(anchor["lat"], anchor["lon"]))
    how = _METHODS.get(anchor["method"], anchor["method"])
    rode_m = status["rode_m"]
    rode = "rode NOT KNOWN" if rode_m is None else f"rode {format_length(rode_m)}"
    yield f"Anchor at {where}, {how}, good to {format_length(anchor['sigma_m'])}; {rode}."


def _fix(status: Mapping[str, Any]) -> str:
    age_s = status["fix_age_s"]
    if age_s is None:
        return "NO FIX yet."
    old = "" if age_s < FIX_LIMIT_S else " - TOO OLD"
    return f"Fix {age_s:.0f} s old from {status['receiver']}{old}."


def _instruments(status: Mapping[str, Any]) -> Iterator[str]:
    parts = []
    if status["depth_m"] is not None:
        parts.append(f"depth {format_length(status['depth_m'])}")
    if status["heading_deg"] is not None:
        parts.append(f"heading {format_bearing(status['heading_deg'])}")
    if status["wind_from_deg"] is not None:
        wind = f"wind from {format_bearing(status['wind_from_deg'])}"
        if status["wind_mps"] is not None:
            wind += f", {format_speed(status['wind_mps'])}"
        parts.append(wind)
    if parts:
        line = "; ".join(parts)
        yield f"{line[0].upper()}{line[1:]}."


def _sources(status: Mapping[str, Any]) -> Iterator[str]:
    for source in status["sources"]:
        age_s = source["line_age_s"]
        if not source["open"]:
            yield f"Source {source['name']}: CLOSED. {source['detail']}"
        elif age_s is None:
            yield f"Source {source['name']}: SILENT, nothing has come in yet. {source['detail']}"
        elif age_s >= _STALE_S:
            yield f"Source {source['name']}: SILENT for {age_s:.0f} s. {source['detail']}"
        rejected = source["rejected"]
        bad = sum(rejected.values())
        total = bad + sum(source["accepted"].values()) + sum(source["unsupported"].values())
        if bad >= _NOTABLE_LINES and bad > _NOTABLE_PART * total:
            reasons = ", ".join(f"{why.replace('_', ' ')} {n}" for why, n in rejected.items())
            yield f"Source {source['name']}: {bad} of {total} lines rejected ({reasons})."


def _disk(status: Mapping[str, Any]) -> Iterator[str]:
    if not status["journal_ok"]:
        yield "THE WATCH IS NOT ON THE DISK: the journal cannot be written."
    if not status["recording_ok"]:
        yield "The recording cannot be written."
    if status["lost_lines"]:
        yield f"{status['lost_lines']} lines of the recording were lost."
