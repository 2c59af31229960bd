"""Anchorings as GPX 1.1: a waypoint for each drop point and slipped anchor, and the tracks.

The order of elements is that of the schema, http://www.topografix.com/GPX/1/1/gpx.xsd.
"""

import xml.etree.ElementTree as ET
from collections.abc import Iterable, Sequence
from typing import Final

from driftlead.core.events_json import utc_text
from driftlead.geodesy.position import Position
from driftlead.records.store import Stored
from driftlead.records.words import how_it_went, slip_text, title
from driftlead.records.xml_text import xml_text
from driftlead.units import Printer

NAMESPACE: Final = "http://www.topografix.com/GPX/1/1"
_SCHEMA: Final = "http://www.topografix.com/GPX/1/1/gpx.xsd"
_XSI: Final = "http://www.w3.org/2001/XMLSchema-instance"


def records_to_gpx(all_stored: Iterable[Stored], units: Printer | None = None) -> str:
    """The whole document, UTF-8 declared. Equal records give equal bytes."""
    stored_list: Sequence[Stored] = tuple(all_stored)
    units = units or Printer()
    root = ET.Element(
        "gpx",
        {
            "version": "1.1",
            "creator": "driftlead",
            "xmlns": NAMESPACE,
            "xmlns:xsi": _XSI,
            "xsi:schemaLocation": f"{NAMESPACE} {_SCHEMA}",
        },
    )
    metadata = ET.SubElement(root, "metadata")
    _child(metadata, "name", "Anchorings")
    for stored in stored_list:
        _waypoints(root, stored, units)
    for stored in stored_list:
        _track(root, stored, units)
    ET.indent(root)
    body = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'


def _waypoints(root: ET.Element, stored: Stored, units: Printer) -> None:
    anchoring, name = stored.anchoring, title(stored)
    desc = how_it_went(anchoring, units)
    _waypoint(root, anchoring.drop, anchoring.began_utc_s, name, desc, "anchorage")
    slip = anchoring.slip
    if slip is None:
        return
    desc = slip_text(slip, units)
    _waypoint(root, slip.anchor, slip.utc_s, f"Slipped anchor, {name}", desc, "slipped anchor")
    if slip.bow is not None:
        _waypoint(root, slip.bow, slip.utc_s, f"Buoy of slipped cable, {name}", desc, "buoy")


def _waypoint(
    root: ET.Element, place: Position, utc_s: float | None, name: str, desc: str, kind: str
) -> None:
    waypoint = _place(root, "wpt", place)
    time = utc_text(utc_s)
    if time is not None:
        _child(waypoint, "time", time)
    _child(waypoint, "name", name)
    _child(waypoint, "desc", desc)
    _child(waypoint, "type", kind)


def _track(root: ET.Element, stored: Stored, units: Printer) -> None:
    anchoring = stored.anchoring
    if not anchoring.track:
        return
    track = ET.SubElement(root, "trk")
    _child(track, "name", title(stored))
    _child(track, "desc", how_it_went(anchoring, units))
    segment = ET.SubElement(track, "trkseg")
    for sample in anchoring.track:
        point = _place(segment, "trkpt", Position(sample.lat_deg, sample.lon_deg))
        _child(point, "time", utc_text(sample.utc_s) or "")


def _place(parent: ET.Element, tag: str, position: Position) -> ET.Element:
    return ET.SubElement(
        parent, tag, {"lat": f"{position.lat_deg:.7f}", "lon": f"{position.lon_deg:.7f}"}
    )


def _child(parent: ET.Element, tag: str, text: str) -> None:
    ET.SubElement(parent, tag).text = xml_text(text)
