"""The page of one night, and its curves."""

import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from typing import Any

import pytest
from attrs import evolve

from driftlead.records.anchoring import Anchoring
from driftlead.records.charts import HEIGHT, curve_svg
from driftlead.records.report import report_html
from driftlead.records.store import Stored
from driftlead.units import Printer, UnitSystem

_VOID = {"meta"}


class Page(HTMLParser):
    """Reads a page as a browser would, and notes what it would fetch and what is not closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.said: list[str] = []
        self.open: list[str] = []
        self.fetched: list[str] = []
        self.tags: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.tags.append(tag)
        if tag not in _VOID:
            self.open.append(tag)
        self.fetched += [value for name, value in attrs if name in ("src", "href", "xlink:href")]

    def handle_startendtag(self, tag: str, attrs: Any) -> None:
        self.tags.append(tag)
        self.fetched += [value for name, value in attrs if name in ("src", "href", "xlink:href")]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.said.append(data)


def page(anchoring: Anchoring, units: Printer | None = None, boat: str = "Corvid") -> Page:
    """The page of an anchoring as read."""
    return Page(report_html(Stored(3, anchoring), units, boat=boat))


def test_the_page_tells_the_night_on_one_sheet(anchoring: Anchoring) -> None:
    """Every figure, the drag, the alarm, two pictures; all closed, nothing fetched."""
    read = page(anchoring)
    said = " ".join(read.said)
    for words in (
        "Corvid: Pellow Sound, <east> & north, 2026-06-14 22:04 UTC",
        "46°30.075'N 031°12.069'W (marked)",
        "38 m of rode in 6.2 m",
        "4.1 m to 6.9 m",
        "6 to 24 kn",
        "DRAGGED 40 m towards 051° (NE), held again",
        "1 alarm",
        "The anchor is dragging.",
        "never replaces a look-out",
    ):
        assert words in said
    assert read.open == []
    assert read.fetched == []
    assert read.tags.count("svg") == 2
    assert "script" not in read.tags


def test_a_quiet_night_of_which_little_is_known_is_a_page_too(anchoring: Anchoring) -> None:
    """From the journal alone: no track, no wind, no rode, and nothing made up."""
    bare = Anchoring(began_utc_s=anchoring.began_utc_s, drop=anchoring.drop, method="given")
    read = page(bare, boat="")
    said = " ".join(read.said)
    assert "Anchoring 3, 2026-06-14 22:04 UTC" in said
    assert "still at anchor" in said
    assert "No track was kept." in said
    assert "None" not in said
    assert read.open == []


def test_no_text_of_an_alert_can_break_the_page(anchoring: Anchoring) -> None:
    """Whatever a plug-in wrote there."""
    alert = evolve(anchoring.alerts[0], text="</td><script>x</script>\x00", instance='"<&')
    read = page(evolve(anchoring, alerts=(alert,)))
    assert "script" not in read.tags
    assert read.open == []


def test_feet_are_spoken_where_feet_are_wanted(anchoring: Anchoring) -> None:
    """Table and curve alike."""
    said = " ".join(page(anchoring, Printer(UnitSystem.FEET)).said)
    assert "125 ft of rode in 20.3 ft" in said
    assert "drag circle 184 ft" in said


def test_a_curve_goes_through_its_samples() -> None:
    """Zero at the foot, the greatest near the top, hours at the foot."""
    start = 1_781_474_400.0  # 22:00 UTC
    drawn = curve_svg(
        [(start + 600.0 * n, float(n)) for n in range(25)],
        label='distance "m"',
        unit="m",
        limit=(20.0, "limit & more"),
        marks=[(start + 3600.0, "drag found"), (start - 10.0, "too early")],
    )
    root = ET.fromstring(drawn)  # noqa: S314 - our own
    line = root.find("{http://www.w3.org/2000/svg}polyline")
    assert line is not None
    points = [tuple(map(float, pair.split(","))) for pair in line.attrib["points"].split()]
    assert len(points) == 25
    xs, ys = zip(*points, strict=True)
    assert list(xs) == sorted(xs)
    assert list(ys) == sorted(ys, reverse=True)
    assert 0 < ys[-1] < ys[0] < HEIGHT
    said = " ".join(root.itertext())
    for words in ("22:00", "23:00", "02:00", "limit & more", "drag found", "20 m"):
        assert words in said
    assert "too early" not in said


@pytest.mark.parametrize("samples", [[], [(0.0, 1.0)]])
def test_without_samples_the_curve_says_so(samples: list[tuple[float, float]]) -> None:
    """Instead of a line that is none."""
    assert "No track was kept." in curve_svg(samples, label="x", unit="m")
