"""The outcome of a drill in lines that a person reads. Pure."""

from collections.abc import Iterator, Mapping
from typing import Any

from driftlead.check.finding import Finding, Level

_ENDINGS = {
    "complete": "The drill has run its course",
    "acknowledged": "The drill was acknowledged",
    "real_alert": "THE DRILL WAS BROKEN OFF: THERE IS A REAL ALERT",
    "out_of_time": "The drill was ended before it had arrived everywhere",
}


def findings(report: Mapping[str, Any]) -> Iterator[Finding]:
    """Give one finding a notifier, then one a member of the crew; ``report`` is ``to_data``'s."""
    for passage in report["passages"]:
        yield _passage(passage, complete=report["ending"] == "complete")
    for reached in report["crew"]:
        what = f"crew {reached['who']}"
        if reached["after_s"] is None:
            remedy = "None of the notifiers that wake them has carried it."
            yield Finding(Level.FAIL, what, "Not reached.", remedy)
        else:
            yield Finding(Level.OK, what, f"Reached after {_seconds(reached['after_s'])}.")


def ending(report: Mapping[str, Any]) -> str:
    """Say how it ended."""
    said = _ENDINGS[report["ending"]]
    if report["real_alert"] is not None:
        return f"{said}: {report['real_alert'].replace('_', ' ')}."
    answered = report["answered"]
    if answered is None:
        if report["ending"] == "acknowledged":
            said = "The drill was ended"
        return f"{said}, after {_seconds(report['took_s'])}."
    by = f" by {answered['by']}" if answered["by"] else ""
    where = f" from {answered['where']}" if answered["where"] else ""
    return f"{said}{by}{where} after {_seconds(answered['after_s'])}."


def _passage(passage: Mapping[str, Any], *, complete: bool) -> Finding:
    what = f"notifier {passage['notifier']}"
    carried_s, called_s, trouble = passage["carried_s"], passage["called_s"], passage["trouble"]
    if carried_s is not None:
        took = f"Arrived after {_seconds(carried_s)}"
        late = called_s is not None and called_s > 0.0
        turn = f", {_seconds(carried_s - called_s)} after its turn came" if late else ""
        return Finding(Level.OK, what, f"{took}{turn}.")
    if trouble is not None:
        return Finding(Level.FAIL, what, trouble)
    if passage["waits"]:
        remedy = "It is sent when the way is open; in an emergency it would be late."
        return Finding(Level.FAIL, what, "It has taken it, but could not send it yet.", remedy)
    if called_s is not None:
        return Finding(Level.FAIL, what, "It was called, and has not answered yet.")
    level = Level.FAIL if complete else Level.LOOK
    return Finding(level, what, "Its turn to be called had not come.")


def _seconds(seconds: float) -> str:
    return f"{seconds:.1f} s" if seconds < 9.95 else f"{seconds:.0f} s"
