"""A sweep put together, and told in words, as JSON and as a page."""

import datetime as dt
import json
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable
from html.parser import HTMLParser
from typing import Any

import pytest
from attrs import evolve

from driftlead.errors import UserInputError
from driftlead.tune.marks import Mark
from driftlead.tune.page import study_page
from driftlead.tune.study import Study, keeps_by_design, study
from driftlead.tune.study_json import study_to_json
from driftlead.tune.sweep import Swept
from driftlead.tune.trace import NightTrace, decide
from driftlead.tune.truth import DragKnown, Truth
from driftlead.tune.variations import Variation, named
from driftlead.tune.words import report
from driftlead.watch.settings import DetectorSettings

MakeTrace = Callable[..., NightTrace]
PLAIN = DetectorSettings()
QUICK = evolve(PLAIN, false_alarm_nights=5.0)
SLOW = evolve(PLAIN, false_alarm_nights=1000.0)
STEPS = 1800
BEGINS_STEP = 1200


def limit(make_trace: MakeTrace, settings: DetectorSettings) -> float:
    """The log-odds from which this setting wakes the crew, asked of the decision itself."""
    low, high = -30.0, 60.0
    while high - low > 0.01:
        middle = 0.5 * (low + high)
        quiet = decide(make_trace([middle] * 100), [settings]) == [None]
        low, high = (middle, high) if quiet else (low, middle)
    return high


@pytest.fixture
def told(make_trace: MakeTrace) -> Study:
    """Three settings on a drag, a night with a scare that only the quick one minds, and more.

    The drag begins at step 1200 and comes 0.1 m/s; the evidence rises from there by one unit in
    20 s. The last night has no mark, and one could not be read.
    """
    quiet = [-9.0] * STEPS
    dragged = [-9.0 if i < BEGINS_STEP else -9.0 + 0.5 * (i - BEGINS_STEP) for i in range(STEPS)]
    minded = 0.5 * (limit(make_trace, QUICK) + limit(make_trace, PLAIN))
    scare = [minded if 300 <= i < 310 else -9.0 for i in range(STEPS)]
    traces = {
        "drag.log": make_trace(dragged),
        "scare.log": make_trace(scare),
        "quiet.log": make_trace(quiet),
        "other.log": make_trace(quiet),
    }
    variations = [Variation(named(each), each) for each in (PLAIN, QUICK, SLOW)]
    settings = [each.settings for each in variations]
    swept = Swept(
        alarms={name: decide(trace, settings) for name, trace in traces.items()},
        traces=traces,
        left_out={"bad.log": "It cannot be read."},
    )
    begins_s = float(traces["drag.log"].rows["utc_s"][BEGINS_STEP])
    drag = DragKnown(begins_utc_s=begins_s, ends_utc_s=begins_s + 2000.0, distance_m=200.0)
    marks = {"scare.log": Mark(outcome="held"), "quiet.log": Mark(outcome="held")}
    return study(swept, variations, marks, {"drag": Truth(drag)}, accepted=0.02)


def drag_metres(told: Study) -> float:
    """At a metre every ten seconds, a step each: by the number of the step."""
    alarm = told.nights[0].alarm
    assert alarm is not None
    return float(alarm.step - BEGINS_STEP)


def test_each_setting_has_its_point(told: Study) -> None:
    plain, quick, slow = told.points
    assert [each.false.count for each in told.points] == [0, 1, 0]
    assert [each.false.of for each in told.points] == [3, 3, 3]
    assert quick.median_m is not None
    assert plain.median_m is not None
    assert slow.median_m is not None
    assert quick.median_m < plain.median_m < slow.median_m


def test_the_setting_recommended_keeps_to_what_is_accepted(told: Study) -> None:
    assert told.setting.settings == PLAIN
    assert told.chosen == 0


def test_a_quicker_setting_needs_more_nights_than_these(told: Study) -> None:
    """Though without the scare it would have done as well."""
    assert not keeps_by_design(QUICK, PLAIN, 0.02)
    assert keeps_by_design(QUICK, PLAIN, 0.2)
    assert keeps_by_design(PLAIN, PLAIN, 0.02)
    assert keeps_by_design(SLOW, PLAIN, 0.02)
    assert not keeps_by_design(evolve(SLOW, floor_m=10.0), PLAIN, 0.02)
    assert not keeps_by_design(evolve(SLOW, dwell_s=0.0), PLAIN, 0.02)
    assert keeps_by_design(evolve(SLOW, floor_m=90.0), PLAIN, 0.02)


def test_the_settings_worth_a_look_are_the_best_and_those_along_the_knob(told: Study) -> None:
    assert told.shown == (0, 2, 1)


def test_a_night_without_a_mark_is_told_of_but_not_counted(told: Study) -> None:
    other = next(night for night in told.nights if night.name == "other.log")
    assert (other.went, other.judged, other.alarm) == (None, None, None)
    assert told.points[0].false.of == 3


def test_a_mark_that_does_not_fit_leaves_its_night_out(make_trace: MakeTrace) -> None:
    trace = make_trace([-9.0] * 100)
    swept = Swept(alarms={"a.log": [None]}, traces={"a.log": trace})
    mark = Mark(outcome="dragged", at=dt.time(12, 0))
    told = study(swept, [Variation("x", PLAIN)], {"a.log": mark}, {}, accepted=0.02)
    assert "is not within the watch" in told.left_out["a.log"]
    assert told.nights == ()
    assert told.chosen is None


def test_the_report_says_it_all(told: Study) -> None:
    # On one line, as the prose is broken anywhere.
    text = " ".join(" ".join(report(told)).split())
    metres = drag_metres(told)
    for words in (
        "0 of 3 (0-56 %)",
        "1 of 3 (6-79 %)",
        "=> defaults",
        "Recommended for 1 in 50 false alarms a night:",
        "# the defaults, unchanged",
        "3 nights cannot vouch for 1 in 50: a rate up to 56%",
        "some 189 nights",
        "Chosen without each night in turn",
        "dragged 00:20:00",
        f"{metres:.0f} m, {metres / 6.0:.1f} min",
        "not marked",
        "Left out: bad.log. It cannot be read.",
    ):
        assert words in text, words


def test_the_report_of_a_setting_that_is_not_the_defaults_can_be_copied(told: Study) -> None:
    text = "\n".join(report(evolve(told, chosen=2)))
    assert "  [detector]\n  false_alarm_nights = 1000\n" in text


def test_false_alarms_and_misses_stand_out(told: Study, make_trace: MakeTrace) -> None:
    scare = next(night for night in told.nights if night.name == "scare.log")
    assert scare.went is not None
    swept = Swept(
        alarms={"s.log": decide(scare.trace, [QUICK]), "d.log": [None]},
        traces={"s.log": scare.trace, "d.log": make_trace([-9.0] * STEPS)},
    )
    drag = told.nights[0].went
    assert drag is not None
    truths = {"d": Truth(drag.drag), "s": Truth(None)}
    only = study(swept, [Variation("quick", QUICK)], {}, truths, accepted=0.02)
    text = "\n".join(report(only))
    assert "None of them keeps to 1 in 50 on these nights." in text
    assert "FALSE ALARM" in text
    assert "MISSED" in text
    assert '<td class="bad">FALSE ALARM</td>' in study_page(only)


def test_nights_nobody_has_marked_are_told_without_counting(make_trace: MakeTrace) -> None:
    swept = Swept(alarms={"a.log": [None]}, traces={"a.log": make_trace([-9.0] * 100)})
    told = study(swept, [Variation("defaults", PLAIN)], {}, {}, accepted=0.02)
    text = "\n".join(report(told))
    assert "driftlead tune mark NIGHT held" in text
    assert "a.log" in text
    assert json.loads(study_to_json(told))["recommended"] is None
    assert "No night is marked yet" in study_page(told)


def test_the_json_has_the_figures(told: Study) -> None:
    data = json.loads(study_to_json(told))
    assert data["v"] == 1
    assert data["recommended"]["detector"]["false_alarm_nights"] == 50.0
    assert data["recommended"]["false"] == {
        "count": 0,
        "of": 3,
        "low": 0.0,
        "high": pytest.approx(0.5615, abs=1e-4),
    }
    assert [each["name"] for each in data["settings"]] == [each.name for each in told.variations]
    nights = {night["name"]: night for night in data["nights"]}
    assert nights["drag.log"]["verdict"] == "found"
    assert nights["drag.log"]["drag_begins"] == "2026-06-15T00:20:00Z"
    begins = dt.datetime(2026, 6, 15, 0, 20, tzinfo=dt.UTC)
    alarm = begins + dt.timedelta(seconds=10.0 * drag_metres(told))
    assert nights["drag.log"]["alarm"] == f"{alarm:%Y-%m-%dT%H:%M:%SZ}"
    assert nights["drag.log"]["dragged_m"] == pytest.approx(drag_metres(told))
    assert nights["other.log"]["verdict"] is None
    assert data["left_out"] == {"bad.log": "It cannot be read."}


def test_what_is_not_known_is_null_in_json(make_trace: MakeTrace) -> None:
    trace = make_trace([-9.0] * 100, utc=False)
    swept = Swept(alarms={"a.log": [None]}, traces={"a.log": trace})
    told = study(swept, [Variation("x", PLAIN)], {"a.log": Mark(outcome="held")}, {}, accepted=0.02)
    data = json.loads(study_to_json(told))
    assert data["nights"][0]["begins"] is None
    assert data["recommended"]["median_m"] is None
    assert "----------" in "\n".join(report(told))


class Reader(HTMLParser):
    """Collects what a page would fetch or run, and its text."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched: list[str] = []
        self.text = ""
        self.svgs = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.svgs += tag == "svg"
        if tag in {"script", "link", "iframe", "img", "object"}:
            self.fetched.append(tag)
        for name, value in attrs:
            outside = value is not None and not value.startswith(("#", "data:"))
            if name in {"src", "href", "xlink:href"} and outside:
                self.fetched.append(f"{tag} {name}={value}")

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_page_needs_nothing_but_itself(told: Study) -> None:
    """A plot of the curve and one a night, no script, and nothing from elsewhere."""
    page = study_page(told)
    reader = Reader()
    reader.feed(page)
    assert reader.svgs == 1 + len(told.nights)
    assert reader.fetched == []
    assert "Recommended for 1 in 50" in reader.text
    assert "dragged 00:20:00" in reader.text
    begin = page.index("<svg")
    root = ET.fromstring(page[begin : page.index("</svg>") + 6])  # noqa: S314  # our own
    words = "".join(root.itertext())
    assert "nights with a false alarm" in words


def test_the_same_study_gives_the_same_page(told: Study) -> None:
    assert study_page(told) == study_page(told)


def test_names_cannot_break_the_page(told: Study) -> None:
    night = evolve(told.nights[0], name="<b>&.log")
    page = study_page(evolve(told, nights=(night,)))
    assert "<b>" not in page
    assert "&lt;b&gt;&amp;.log" in page


def test_without_matplotlib_the_page_is_a_clear_error(
    told: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    with pytest.raises(UserInputError, match="matplotlib") as caught:
        study_page(told)
    assert "driftlead[tune]" in caught.value.remedy


def test_the_report_needs_no_matplotlib(told: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    lines: list[Any] = list(report(told))
    assert lines
