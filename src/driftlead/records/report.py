"""One night on one page: HTML with its pictures inside, that asks nothing of any network."""

from collections.abc import Iterator
from html import escape
from typing import Final

from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.plane import LocalPlane, distance_and_bearing
from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring
from driftlead.records.charts import curve_svg
from driftlead.records.store import Stored
from driftlead.records.words import (
    alerts_text,
    clock,
    held_text,
    how_it_went,
    left_down_text,
    place_text,
    tackle_text,
    title,
    wind_text,
)
from driftlead.records.xml_text import xml_text
from driftlead.replay.picture import draw_night
from driftlead.replay.trace import Trace, TracePoint
from driftlead.units import FOOT_M, Printer, UnitSystem, format_position

_STYLE: Final = (
    "body{font-family:sans-serif;color:#2d2a26;background:#fbf9f3;max-width:42rem;margin:2rem auto;"
    "padding:0 1rem;line-height:1.45}h1{font-size:1.5rem}h2{font-size:1.1rem;margin-top:2rem}"
    "table{border-collapse:collapse}th,td{text-align:left;padding:.2rem .9rem .2rem 0;"
    "vertical-align:top}th{font-weight:normal;color:#6b6253}svg{max-width:100%;height:auto}"
    ".dragged{color:#b3311f;font-weight:bold}footer{margin-top:2rem;color:#6b6253}"
    "@media print{body{margin:0;background:none}}"
)


def report_html(
    stored: Stored, units: Printer | None = None, *, boat: str = "", over: bool = False
) -> str:
    """The whole document; ``over``: others came after it. Equal anchorings give equal bytes."""
    return "\n".join(_lines(stored, units or Printer(), boat, over=over)) + "\n"


def _lines(stored: Stored, units: Printer, boat: str, *, over: bool) -> Iterator[str]:
    anchoring = stored.anchoring
    heading = _text(f"{boat}: {title(stored)}" if boat else title(stored))
    yield "<!DOCTYPE html>"
    yield f'<html lang="en"><head><meta charset="utf-8"><title>{heading}</title>'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">'
    yield f"<style>{_STYLE}</style></head><body>"
    yield f"<h1>{heading}</h1>"
    mark = ' class="dragged"' if anchoring.dragged else ""
    yield f"<p{mark}>{_text(how_it_went(anchoring, units, over=over))}</p>"
    yield "<table>"
    for name, value in _facts(anchoring, units, over=over):
        if value:
            yield f"<tr><th>{_text(name)}</th><td>{_text(value)}</td></tr>"
    yield "</table>"
    yield "<h2>Track</h2>"
    yield draw_night(_trace(anchoring))
    yield "<h2>Distance from the drop point</h2>"
    yield _distance_chart(anchoring, units)
    yield from _alerts(anchoring)
    yield (
        "<footer>Times are UTC from the receiver. Made by driftlead, which assists and never "
        "replaces a look-out.</footer></body></html>"
    )


def _facts(anchoring: Anchoring, units: Printer, *, over: bool) -> Iterator[tuple[str, str]]:
    yield "Let go", f"{clock(anchoring.began_utc_s)} UTC"
    ended = anchoring.ended_utc_s
    slip = anchoring.slip
    weighed = "Weighed" if slip is None else "Slipped"
    not_seen = "not seen" if over else "still at anchor"
    yield weighed, not_seen if ended is None else f"{clock(ended)} UTC"
    if slip is not None:
        yield "Slipped anchor", place_text(slip.anchor, slip.sigma_m, units)
        if slip.bow is not None:
            yield "Buoy", place_text(slip.bow, slip.bow_sigma_m, units)
        yield "Left down", left_down_text(slip, units)
    yield (
        "Drop point",
        f"{format_position(anchoring.drop)} ({anchoring.method.replace('_', ' ')})",
    )
    yield "Ground tackle", tackle_text(anchoring, units)
    least, greatest = anchoring.least_depth_m, anchoring.greatest_depth_m
    if least is not None and greatest is not None:
        yield "Depth sounded", f"{units.depth(least)} to {units.depth(greatest)}"
    yield "Wind", wind_text(anchoring, units).removeprefix("wind ")
    yield "Holding", held_text(anchoring, units, over=over)
    yield "Alerts", alerts_text(anchoring) or "none that woke anybody"


def _alerts(anchoring: Anchoring) -> Iterator[str]:
    if not anchoring.alerts:
        return
    yield "<h2>Alerts</h2><table>"
    for alert in anchoring.alerts:
        name = f"{alert.name} {alert.instance}".strip()
        yield (
            f"<tr><td>{_text(clock(alert.raised_utc_s))}</td><td>{_text(alert.priority)}</td>"
            f"<td>{_text(name)}</td><td>{_text(alert.text)}</td></tr>"
        )
    yield "</table>"


def _distance_chart(anchoring: Anchoring, units: Printer) -> str:
    plane = LocalPlane(anchoring.drop)
    metric = units.system is UnitSystem.METRIC
    scale = 1.0 if metric else FOOT_M
    samples = []
    for sample in anchoring.track:
        east_north = plane.to_plane(sample.lat_deg, sample.lon_deg)
        samples.append((sample.utc_s, distance_and_bearing(*east_north)[0] / scale))
    limit = None
    if anchoring.radius_m is not None:
        limit = (anchoring.radius_m / scale, f"drag circle {units.rode(anchoring.radius_m)}")
    return curve_svg(
        samples,
        label="Distance of the antenna from the drop point",
        unit="m" if metric else "ft",
        limit=limit,
        marks=[(drag.found_utc_s, "drag found") for drag in anchoring.drags],
    )


def _trace(anchoring: Anchoring) -> Trace:
    trace = Trace()
    trace.points = [
        TracePoint(each.utc_s, Position(each.lat_deg, each.lon_deg), each.state)
        for each in anchoring.track
    ]
    trace.drop = anchoring.drop
    trace.radius_m = anchoring.radius_m
    if anchoring.anchor is not None:
        method = AnchorMethod.MOVED if anchoring.dragged else AnchorMethod.GIVEN
        trace.anchor = AnchorEstimate(
            anchoring.anchor.lat_deg, anchoring.anchor.lon_deg, 0.0, method
        )
    return trace


def _text(text: str) -> str:
    return escape(xml_text(text))
