"""A slipped cable in the records: where to look for the anchor, in every form they are given in."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve
from shapely.geometry import shape

from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring, Slip
from driftlead.records.builder import AnchoringBuilder, utc_from_text
from driftlead.records.geojson import anchoring_to_data, records_to_geojson
from driftlead.records.gpx import NAMESPACE, records_to_gpx
from driftlead.records.report import report_html
from driftlead.records.store import Records, Stored
from driftlead.records.words import list_lines
from driftlead.units import Printer, UnitSystem

SLIPPED = {
    "v": 1,
    "t": "2026-06-15T03:25:00.000Z",
    "kind": "state",
    "name": "slipped",
    "priority": None,
    "state": "slipped",
    "reason": "commanded",
    "moved_m": None,
    "bearing_deg": None,
    "anchor": {"lat": 46.50150, "lon": -31.20075, "sigma_m": 5.8, "method": "moved"},
    "bow": {"lat": 46.50170, "lon": -31.20045, "sigma_m": 2.4, "method": "marked"},
    "rode_m": 38.0,
    "depth_m": 6.2,
}
AT_S = utc_from_text(SLIPPED["t"])


@pytest.fixture
def slip() -> Slip:
    """The slip of ``SLIPPED``."""
    return Slip(
        utc_s=AT_S,
        anchor=Position(46.50150, -31.20075),
        sigma_m=5.8,
        bow=Position(46.50170, -31.20045),
        bow_sigma_m=2.4,
        rode_m=38.0,
        depth_m=6.2,
    )


def test_the_event_ends_the_anchoring_and_is_kept_with_it(
    night: list[dict[str, Any]], slip: Slip
) -> None:
    builder = AnchoringBuilder()
    for event in night[:8]:
        assert builder.hear(event) is None
    found = builder.hear(SLIPPED)
    assert found is not None
    assert builder.under_way is None
    assert (found.ended_utc_s, found.anchor, found.slip) == (AT_S, slip.anchor, slip)


def test_a_slip_without_a_fix_has_no_buoy(night: list[dict[str, Any]], slip: Slip) -> None:
    builder = AnchoringBuilder()
    builder.hear(night[0])
    found = builder.hear(SLIPPED | {"bow": None, "rode_m": None, "depth_m": None})
    assert found is not None
    assert found.slip == Slip(utc_s=AT_S, anchor=slip.anchor, sigma_m=5.8)


def test_an_anchor_that_was_weighed_was_not_slipped(night: list[dict[str, Any]]) -> None:
    builder = AnchoringBuilder()
    ended = [builder.hear(event) for event in night]
    assert [each.slip for each in ended if each is not None] == [None]


def test_it_outlives_the_disk_and_another_source_that_knows_nothing_of_it(
    tmp_path: Path, anchoring: Anchoring, slip: Slip
) -> None:
    with Records.open(tmp_path / "records.db") as records:
        number = records.save(evolve(anchoring, slip=slip))
        records.save(anchoring)
        assert records.get(number).anchoring.slip == slip


def test_records_written_before_there_were_slips_are_read(
    tmp_path: Path, anchoring: Anchoring
) -> None:
    with Records.open(tmp_path / "records.db") as records:
        number = records.save(anchoring)
        records._connection.execute(
            "UPDATE anchoring SET body = json_remove(body, '$.slip') WHERE number = ?", (number,)
        )
        assert records.get(number).anchoring == anchoring


def test_the_list_has_a_third_line_with_where_to_look(anchoring: Anchoring, slip: Slip) -> None:
    stored = Stored(7, evolve(anchoring, slip=slip))
    assert list(list_lines([stored], Printer()))[2] == (
        "     SLIPPED: the anchor lies at 46°30.090'N 031°12.045'W, good to 5.8 m; buoyed at "
        "46°30.102'N 031°12.027'W, good to 2.4 m; 38 m of rode in 6.2 m left down."
    )
    bare = Stored(7, evolve(anchoring, slip=Slip(utc_s=None, anchor=slip.anchor, sigma_m=5.8)))
    assert list(list_lines([bare], Printer(UnitSystem.FEET)))[2] == (
        "     SLIPPED: the anchor lies at 46°30.090'N 031°12.045'W, good to 19.0 ft."
    )


def test_gpx_has_a_waypoint_for_the_anchor_and_one_for_the_buoy(
    anchoring: Anchoring, slip: Slip
) -> None:
    root = ET.fromstring(records_to_gpx([Stored(1, evolve(anchoring, slip=slip))]))  # noqa: S314
    points = {
        point.findtext(f"{{{NAMESPACE}}}type"): point for point in root.iter(f"{{{NAMESPACE}}}wpt")
    }
    assert list(points) == ["anchorage", "slipped anchor", "buoy"]
    anchor = points["slipped anchor"]
    assert (float(anchor.attrib["lat"]), float(anchor.attrib["lon"])) == (46.50150, -31.20075)
    assert anchor.findtext(f"{{{NAMESPACE}}}time") == SLIPPED["t"]
    assert "good to 5.8 m" in (anchor.findtext(f"{{{NAMESPACE}}}desc") or "")
    assert float(points["buoy"].attrib["lat"]) == 46.50170


def test_gpx_leaves_a_time_out_that_is_not_known(anchoring: Anchoring, slip: Slip) -> None:
    """An empty one is no xsd:dateTime."""
    nameless = evolve(anchoring, track=(), slip=evolve(slip, utc_s=None))
    root = ET.fromstring(records_to_gpx([Stored(1, nameless)]))  # noqa: S314
    assert [bool(time.text) for time in root.iter(f"{{{NAMESPACE}}}time")] == [True]


def test_geojson_has_both_as_points_tied_by_the_number(anchoring: Anchoring, slip: Slip) -> None:
    stored = Stored(4, evolve(anchoring, slip=slip))
    document = json.loads(json.dumps(records_to_geojson([stored])))
    by_layer = {each["properties"]["layer"]: each for each in document["features"]}
    assert list(by_layer) == ["drop point", "slipped anchor", "buoy of slipped cable", "track"]
    assert {each["properties"]["number"] for each in document["features"]} == {4}
    anchor = by_layer["slipped anchor"]
    assert shape(anchor["geometry"]).coords[0] == pytest.approx((-31.20075, 46.50150))
    told = {key: anchor["properties"][key] for key in ("sigma_m", "rode_m", "depth_m", "slipped")}
    assert told == {"sigma_m": 5.8, "rode_m": 38.0, "depth_m": 6.2, "slipped": SLIPPED["t"]}
    assert anchoring_to_data(stored)["slip"]["bow_lat"] == 46.50170
    assert anchoring_to_data(Stored(4, anchoring))["slip"] is None


def test_the_page_of_the_night_says_it_too(anchoring: Anchoring, slip: Slip) -> None:
    page = report_html(Stored(3, evolve(anchoring, slip=slip)), Printer())
    for name, value in (
        ("Slipped", "2026-06-15 06:34 UTC"),
        ("Slipped anchor", "46°30.090&#x27;N 031°12.045&#x27;W, good to 5.8 m"),
        ("Buoy", "46°30.102&#x27;N 031°12.027&#x27;W, good to 2.4 m"),
        ("Left down", "38 m of rode in 6.2 m"),
    ):
        assert f"<tr><th>{name}</th><td>{value}</td></tr>" in page
    assert "Weighed" not in page
    assert "Slipped" not in report_html(Stored(3, anchoring), Printer())
