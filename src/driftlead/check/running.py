"""The check of a daemon that is running, by its own status: nothing is taken from its sources."""

from collections.abc import Container, Iterator, Mapping
from typing import Any, Final

from driftlead.check.finding import Finding, Level
from driftlead.check.fix import judge_instruments
from driftlead.units import format_length

_SILENT_S: Final = 10.0


def judge_running(
    status: Mapping[str, Any], *, told: Container[tuple[str, str]] = ()
) -> list[Finding]:
    """Judge by the status the daemon gave; ``told`` are alerts, by name and instance, told anyhow.

    It gives the depth of the water, not that below the transducer.
    """
    depth_m = status["depth_m"]
    return [
        Finding(Level.OK, "daemon", f"It is running; the watch is {status['state']}."),
        *(_source(source) for source in status["sources"]),
        _fix(status),
        *judge_instruments(
            has_heading=status["heading_deg"] is not None,
            depth=None if depth_m is None else f"{format_length(depth_m)} of water",
            antenna_aft_m=status["antenna_aft_m"],
        ),
        *_disk(status),
        *(
            _alert(alert)
            for alert in status["alerts"]
            if (alert["name"], alert["instance"]) not in told
        ),
    ]


def _source(source: Mapping[str, Any]) -> Finding:
    what = f"source {source['name']}"
    if not source["open"]:
        return Finding(Level.FAIL, what, source["detail"])
    age_s = source["line_age_s"]
    if age_s is None or age_s > _SILENT_S:
        since = "since it was started" if age_s is None else f"for {age_s:.0f} s"
        remedy = "Check that the talker is on; stop the daemon and run check again to know more."
        return Finding(Level.FAIL, what, f"{source['detail']} Silent {since}.", remedy)
    good, bad = (sum(source[fate].values()) for fate in ("accepted", "rejected"))
    text = f"{source['detail']} {good} sentences understood, {bad} rejected."
    if good == 0:
        return Finding(Level.FAIL, what, text, "Stop the daemon and run check again to know more.")
    return Finding(Level.LOOK if bad > 0.02 * (good + bad) else Level.OK, what, text)


def _fix(status: Mapping[str, Any]) -> Finding:
    age_s = status["fix_age_s"]
    if age_s is None or age_s > _SILENT_S:
        since = "yet" if age_s is None else f"for {age_s:.0f} s"
        remedy = "Give the antenna a clear view of the sky."
        return Finding(Level.FAIL, "fix", f"There has been none {since}.", remedy)
    return Finding(Level.OK, "fix", f"{age_s:.0f} s old, from {status['receiver']}.")


def _disk(status: Mapping[str, Any]) -> Iterator[Finding]:
    for what in ("journal", "recording"):
        if status[f"{what}_ok"]:
            yield Finding(Level.OK, what, "It is being written.")
        else:
            yield Finding(
                Level.FAIL, what, "It cannot be written.", "See the alerts, and the disk."
            )


def _alert(alert: Mapping[str, Any]) -> Finding:
    name = alert["name"].replace("_", " ")
    return Finding(Level.LOOK, f"alert {name}", f"{alert['priority'].upper()}: {alert['text']}")
