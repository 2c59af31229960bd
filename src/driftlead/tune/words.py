"""A study in words: the lines of the report at the terminal."""

import datetime as dt
import math
import textwrap
from collections.abc import Iterator, Sequence
from typing import Final

from driftlead.tune.anchor_check import AnchorCheck
from driftlead.tune.curve import Point, Share, nights_to_vouch
from driftlead.tune.judge import Verdict
from driftlead.tune.moments import clock_text
from driftlead.tune.study import NightReport, Study
from driftlead.tune.variations import as_toml
from driftlead.units import format_bearing

CHOSEN: Final = "=>"
WIDTH: Final = 96
_CURVE_HEAD: Final = (
    ("false alarms", "drags missed", "metres dragged", "minutes", "setting"),
    ("nights (95 %)", "(95 %)", "median (worst)", "median (worst)", ""),
)
_NIGHT_HEAD: Final = (("night", "watch from (UTC)", "hours", "went", "this setting", "at (UTC)"),)
_PLACES: Final = {
    "marked": "the mark",
    "marked_no_heading": "the mark, made without a heading,",
    "given": "the place given",
}


def report(study: Study) -> Iterator[str]:
    """The whole report, line by line."""
    yield from _curve(study)
    yield from _recommendation(study)
    yield from _nights(study)
    for name, why in study.left_out.items():
        yield from _prose(f"Left out: {name}. {why}")


def setting_text(study: Study, index: int) -> str:
    """A setting's name, with a mark on the recommended one."""
    name = study.variations[index].name
    return f"{CHOSEN} {name}" if index == study.chosen else name


def share_text(share: Share) -> str:
    """``1 of 20 (1-24 %)``."""
    if not share.of:
        return "none to miss"
    return f"{share.count} of {share.of} ({100 * share.low:.0f}-{100 * share.high:.0f} %)"


def spread_text(middle: float | None, worst: float | None) -> str:
    """``12 (31)``, or a dash."""
    return "-" if middle is None or worst is None else f"{middle:.0f} ({worst:.0f})"


def accepted_text(accepted: float) -> str:
    """``1 in 50``."""
    return f"1 in {1.0 / accepted:.4g}"


def vouch_text(study: Study) -> str:
    """What so few nights can tell, and what they cannot; empty if they are enough."""
    point = study.points[study.chosen or 0]
    count, needed = point.false.of, nights_to_vouch(study.accepted)
    if count >= needed:
        return ""
    return (
        f"{count} night{'s' if count > 1 else ''} cannot vouch for {accepted_text(study.accepted)}:"
        f" a rate up to {point.false.high:.0%} would look the same. It takes some {needed} nights "
        "without a false alarm; until then settings quicker than their design allows are left "
        "aside."
    )


def others_text(point: Point) -> str:
    """How the choice does on nights it was not chosen on."""
    return (
        "Chosen without each night in turn, and tried on it: "
        f"false alarms {share_text(point.false)}, drags missed {share_text(point.missed)}, "
        f"metres {spread_text(point.median_m, point.worst_m)}."
    )


def anchor_text(check: AnchorCheck) -> str:
    """Where the anchor lay by the circle she swung in."""
    place = _PLACES.get(check.method, "the place worked out")
    how = "the rode's radius" if check.radius_known else f"a free radius, {check.radius_m:.0f} m"
    good = (
        f"{check.off_m:.0f} m towards {format_bearing(check.bearing_deg)} of it, good to "
        f"{check.sigma_m:.0f} m (from the {'bow' if check.at_bow else 'antenna'}'s arc of "
        f"{check.arc_deg:.0f}° and {how})."
    )
    if check.agrees:
        return f"Her swing agrees with {place}: the circle's centre is {good}"
    off = f"{place[0].upper()}{place[1:]} was {check.off_m:.0f} m off"
    return f"{off}: by her swing the anchor lay {good}"


def went_text(night: NightReport) -> str:
    """How the night went, as far as it is known."""
    went = night.went
    if went is None:
        return "not marked"
    if went.begins_utc_s is None:
        return "held"
    return f"dragged {_time_text(went.begins_utc_s)}"


def verdict_text(night: NightReport) -> str:
    """What the setting did that night."""
    judged, alarm = night.judged, night.alarm
    if judged is None:
        return "quiet" if alarm is None else f"alarm, {alarm.moved_m:.0f} m"
    if judged.verdict is Verdict.FALSE:
        early = night.went is not None and not night.went.held
        return "FALSE ALARM, too early" if early else "FALSE ALARM"
    if judged.verdict is Verdict.QUIET:
        return "quiet"
    if judged.dragged_m is None or judged.late_s is None:
        return "MISSED"
    figures = f"{judged.dragged_m:.0f} m, {judged.late_s / 60.0:.1f} min"
    return f"MISSED: only after {figures}" if judged.verdict is Verdict.MISSED else figures


def alarm_time_text(night: NightReport) -> str:
    """When the alarm came."""
    return "" if night.alarm is None else _time_text(night.alarm.utc_s)


def _curve(study: Study) -> Iterator[str]:
    if not study.points:
        yield "No night is marked yet, so nothing can be counted. Say of each night how it went:"
        yield "  driftlead tune mark NIGHT held"
        yield "  driftlead tune mark NIGHT dragged --at 03:12"
        yield ""
        return
    count = len(study.points)
    plural = "s" if count > 1 else ""
    yield f"Operating curve, of {count} setting{plural} tried ({CHOSEN} is the recommended one)."
    rows = []
    for index in study.shown:
        point = study.points[index]
        rows.append(
            (
                share_text(point.false),
                share_text(point.missed),
                spread_text(point.median_m, point.worst_m),
                spread_text(point.median_min, point.worst_min),
                setting_text(study, index),
            )
        )
    yield from _table(_CURVE_HEAD, rows)
    yield ""


def _recommendation(study: Study) -> Iterator[str]:
    if study.chosen is None:
        return
    point = study.points[study.chosen]
    accepted = accepted_text(study.accepted)
    if point.false.rate > study.accepted:
        yield f"None of them keeps to {accepted} on these nights. The nearest is:"
    else:
        yield f"Recommended for {accepted} false alarms a night:"
    yield ""
    yield "  [detector]"
    for line in as_toml(study.setting.settings).splitlines() or ["# the defaults, unchanged"]:
        yield f"  {line}"
    yield ""
    vouch = vouch_text(study)
    if vouch:
        yield from _prose(vouch)
    if study.others is not None:
        yield from _prose(others_text(study.others))
    yield ""


def night_cells(night: NightReport) -> tuple[str, ...]:
    """A night's row: its name, when, how long, how it went, what the setting would have done."""
    return (
        night.name,
        clock_text(night.begins_utc_s),
        f"{night.watched_s / 3600.0:.1f}",
        went_text(night),
        verdict_text(night),
        alarm_time_text(night),
    )


def _nights(study: Study) -> Iterator[str]:
    if not study.nights:
        return
    yield f"What it would have done each night ({study.setting.name}):"
    yield from _table(_NIGHT_HEAD, [night_cells(night) for night in study.nights])
    yield ""
    for night in study.nights:
        if night.anchor is not None:
            yield from _prose(f"{night.name}: {anchor_text(night.anchor)}")
        for note in night.notes:
            yield from _prose(f"{night.name}: {note}")


def _prose(text: str) -> Iterator[str]:
    """Sentences, on lines that can be read; names are never broken."""
    yield from textwrap.wrap(
        text, WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False
    )


def _time_text(utc_s: float) -> str:
    if math.isnan(utc_s):
        return "--:--:--"
    return f"{dt.datetime.fromtimestamp(utc_s, dt.UTC):%H:%M:%S}"


def _table(head: Sequence[Sequence[str]], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    lines = [*head, *rows]
    widths = [max(len(line[column]) for line in lines) for column in range(len(head[0]))]
    for number, line in enumerate(lines):
        if number == len(head):
            yield "  ".join("-" * width for width in widths)
        cells = (cell.ljust(width) for cell, width in zip(line, widths, strict=True))
        yield "  ".join(cells).rstrip()
