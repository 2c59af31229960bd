"""GPX against the structure of its schema.

The order of children is that of gpxType, metadataType, wptType, trkType and trksegType in the GPX
1.1 schema (topografix.com/GPX/1/1/gpx.xsd), from memory.
"""

import re
import xml.etree.ElementTree as ET
from typing import Final

import pytest
from attrs import evolve

from driftlead.records.anchoring import Anchoring
from driftlead.records.gpx import NAMESPACE, records_to_gpx
from driftlead.records.store import Stored

_WPT: Final = (
    *("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type"),
    *("fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
)
CHILDREN: Final = {
    "gpx": ("metadata", "wpt", "rte", "trk", "extensions"),
    "metadata": (
        *("name", "desc", "author", "copyright", "link", "time", "keywords", "bounds"),
        "extensions",
    ),
    "wpt": _WPT,
    "trkpt": _WPT,
    "trk": ("name", "cmt", "desc", "src", "link", "number", "type", "extensions", "trkseg"),
    "trkseg": ("trkpt", "extensions"),
}
"""What each element may hold, in this order and no other."""
MANY: Final = frozenset({"wpt", "rte", "trk", "trkseg", "trkpt", "link"})
# xsd:dateTime with its zone.
TIME: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z")


def check(element: ET.Element) -> None:
    """Hold an element and all below it against the schema."""
    assert element.tag.startswith(f"{{{NAMESPACE}}}")
    name = element.tag.partition("}")[2]
    tags = [child.tag.partition("}")[2] for child in element]
    allowed = CHILDREN.get(name, ())
    assert set(tags) <= set(allowed), name
    assert tags == sorted(tags, key=allowed.index), name
    assert all(tags.count(tag) == 1 for tag in tags if tag not in MANY), name
    if name in ("wpt", "trkpt"):
        assert set(element.attrib) == {"lat", "lon"}
        assert -90.0 <= float(element.attrib["lat"]) <= 90.0
        assert -180.0 <= float(element.attrib["lon"]) < 180.0
    if name == "time":
        assert TIME.fullmatch(element.text or "")
    for child in element:
        check(child)


def parsed(*anchorings: Anchoring) -> ET.Element:
    """The document as an independent reader sees it."""
    text = records_to_gpx([Stored(n, each) for n, each in enumerate(anchorings, start=1)])
    assert text.startswith('<?xml version="1.0" encoding="UTF-8"?>\n')
    return ET.fromstring(text.encode())  # noqa: S314 - our own


def test_the_document_keeps_the_order_of_the_schema(anchoring: Anchoring) -> None:
    """Version and creator as well, which the schema demands."""
    root = parsed(anchoring, evolve(anchoring, track=(), drags=(), ended_utc_s=None))
    check(root)
    assert root.attrib["version"] == "1.1"
    assert root.attrib["creator"]
    assert len(root.findall(f"{{{NAMESPACE}}}wpt")) == 2
    assert len(root.findall(f"{{{NAMESPACE}}}trk")) == 1


def test_every_point_of_the_track_is_there_with_its_time(anchoring: Anchoring) -> None:
    """To a centimetre and a tenth of a second."""
    points = parsed(anchoring).findall(f".//{{{NAMESPACE}}}trkpt")
    assert len(points) == len(anchoring.track)
    for point, sample in zip(points, anchoring.track, strict=True):
        assert float(point.attrib["lat"]) == pytest.approx(sample.lat_deg, abs=1e-7)
        assert float(point.attrib["lon"]) == pytest.approx(sample.lon_deg, abs=1e-7)
    assert points[0].findtext(f"{{{NAMESPACE}}}time") == "2026-06-14T22:04:00.000Z"


@pytest.mark.parametrize("name", ['<b> & "it\'s"', "bell \x07 and null \x00", "]]>", "Bucht Ø 灣"])
def test_no_name_can_break_it(anchoring: Anchoring, name: str) -> None:
    """Marks of XML are escaped, and what XML cannot hold is replaced."""
    root = parsed(evolve(anchoring, place=name))
    check(root)
    shown = root.findtext(f"{{{NAMESPACE}}}wpt/{{{NAMESPACE}}}name") or ""
    clean = name.replace("\x07", "\ufffd").replace("\x00", "\ufffd")
    assert shown == f"{clean}, 2026-06-14 22:04 UTC"


def test_without_anchorings_it_is_a_document_all_the_same() -> None:
    """An empty one."""
    check(parsed())
