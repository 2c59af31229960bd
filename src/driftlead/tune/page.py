"""A study as one HTML page that needs nothing else: plots inside it, no script, no network."""

import io
import math
from collections.abc import Iterator, Sequence
from html import escape
from types import ModuleType
from typing import Any, Final

import numpy as np

from driftlead.errors import UserInputError
from driftlead.tune.curve import Point, Share, operating_curve
from driftlead.tune.judge import FARTHEST_M
from driftlead.tune.study import NightReport, Study
from driftlead.tune.variations import as_toml
from driftlead.tune.words import (
    accepted_text,
    anchor_text,
    night_cells,
    others_text,
    setting_text,
    share_text,
    spread_text,
    vouch_text,
)

_INK: Final = "#2d2a26"
_PALE: Final = "#c9b79a"
_GREEN: Final = "#2f6d62"
_RED: Final = "#b3311f"
_PAPER: Final = "#f6f1e4"
_SHOWN_LOG_ODDS: Final = (-12.0, 25.0)
_STYLE: Final = f"""
body {{ font-family: sans-serif; color: {_INK}; background: {_PAPER}; max-width: 62rem;
  margin: 1rem auto; padding: 0 1rem; line-height: 1.45; }}
table {{ border-collapse: collapse; width: 100%; margin: 1rem 0; }}
th, td {{ text-align: left; padding: .25rem .6rem; border-bottom: 1px solid {_PALE};
  vertical-align: top; }}
tr.chosen {{ background: #e4ecdf; }}
td.bad {{ color: {_RED}; font-weight: bold; }}
pre {{ background: #fffdf6; border: 1px solid {_PALE}; padding: .8rem; }}
svg {{ max-width: 100%; height: auto; }}
.note {{ color: #6b6256; }}
"""


def study_page(study: Study) -> str:
    """The page. Raises UserInputError, with the remedy, if matplotlib is not installed."""
    body = "\n".join(_body(study, _matplotlib()))
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>Anchor watch on recorded nights</title>\n<style>{_STYLE}</style>\n</head>\n"
        f"<body>\n{body}\n</body>\n</html>\n"
    )


def need_plots() -> None:
    """Raise UserInputError, with the remedy, if matplotlib is not installed."""
    _matplotlib()


def _matplotlib() -> ModuleType:
    try:
        import matplotlib as mpl  # noqa: PLC0415  # large, and an extra
        import matplotlib.figure  # noqa: PLC0415
    except ImportError as error:
        raise UserInputError(
            "The page has plots, and matplotlib, which draws them, is not installed.",
            remedy="Install it: pip install 'driftlead[tune]'. The report needs no plots.",
        ) from error
    return mpl


def _body(study: Study, mpl: ModuleType) -> Iterator[str]:
    yield "<h1>Anchor watch on recorded nights</h1>"
    if study.points:
        yield "<h2>Operating curve</h2>"
        yield _svg(mpl, _draw_curve(mpl, study))
        yield _curve_table(study)
        yield from _recommendation(study)
    else:
        yield "<p>No night is marked yet, so nothing can be counted.</p>"
    yield f"<h2>Night by night</h2><p>With {escape(study.setting.name)}.</p>"
    yield _night_table(study.nights)
    for night in study.nights:
        yield f"<h3>{escape(night.name)}</h3>"
        yield _svg(mpl, _draw_night(mpl, night))
        for text in (*([anchor_text(night.anchor)] if night.anchor else []), *night.notes):
            yield f"<p>{escape(text)}</p>"
    for name, why in study.left_out.items():
        yield f'<p class="note">Left out: {escape(name)}. {escape(why)}</p>'
    yield (
        '<p class="note">driftlead assists and never replaces a look-out (COLREG Rule 5). '
        "The skipper decides.</p>"
    )


def _recommendation(study: Study) -> Iterator[str]:
    point = study.points[study.chosen or 0]
    if point.false.rate > study.accepted:
        yield (
            f"<p>None of them keeps to {accepted_text(study.accepted)} on these nights. "
            "The nearest is:</p>"
        )
    else:
        yield f"<p>Recommended for {accepted_text(study.accepted)} false alarms a night:</p>"
    text = as_toml(study.setting.settings) or "# the defaults, unchanged"
    yield f"<pre>[detector]\n{escape(text)}</pre>"
    for words in (vouch_text(study), others_text(study.others) if study.others else ""):
        if words:
            yield f"<p>{escape(words)}</p>"


def _curve_table(study: Study) -> str:
    rows = []
    for index in study.shown:
        point = study.points[index]
        cells = (
            share_text(point.false),
            share_text(point.missed),
            spread_text(point.median_m, point.worst_m),
            spread_text(point.median_min, point.worst_min),
            setting_text(study, index),
        )
        rows.append((cells, "chosen" if index == study.chosen else ""))
    head = ("False alarms", "Drags missed", "Metres dragged", "Minutes", "Setting")
    return _html_table(head, rows)


def _night_table(nights: Sequence[NightReport]) -> str:
    head = ("Night", "Watch from (UTC)", "Hours", "Went", "This setting", "At (UTC)")
    rows = [(night_cells(night), "") for night in nights]
    return _html_table(head, rows)


def _html_table(head: Sequence[str], rows: Sequence[tuple[Sequence[str], str]]) -> str:
    lines = ["<table>", f"<tr>{''.join(f'<th>{escape(cell)}</th>' for cell in head)}</tr>"]
    for cells, kind in rows:
        mark = f' class="{kind}"' if kind else ""
        texts = "".join(
            f'<td class="bad">{escape(cell)}</td>'
            if cell.startswith(("FALSE", "MISSED"))
            else f"<td>{escape(cell)}</td>"
            for cell in cells
        )
        lines.append(f"<tr{mark}>{texts}</tr>")
    return "\n".join([*lines, "</table>"])


def _draw_curve(mpl: ModuleType, study: Study) -> Any:
    figure = mpl.figure.Figure(figsize=(8.0, 4.6))
    axes = figure.subplots()
    axes.plot(
        [point.false.rate for point in study.points],
        [_cost_m(point) for point in study.points],
        ".",
        color=_PALE,
        markersize=5,
    )
    best = [study.points[index] for index in operating_curve(study.points)]
    axes.step(
        [point.false.rate for point in best],
        [_cost_m(point) for point in best],
        where="post",
        color=_GREEN,
    )
    for index in study.shown:
        point = study.points[index]
        chosen = index == study.chosen
        axes.errorbar(
            point.false.rate,
            _cost_m(point),
            xerr=[[_below(point.false)], [_above(point.false)]],
            fmt="D" if chosen else "o",
            color=_RED if chosen else _GREEN,
            ecolor=_PALE,
            capsize=3,
            zorder=4 if chosen else 3,
        )
    axes.axvline(study.accepted, color=_INK, linewidth=0.8, linestyle=":")
    axes.set_xlabel(
        "nights with a false alarm, with 95 % interval (dotted: accepted; diamond: recommended)"
    )
    axes.set_ylabel(f"metres dragged, mean (a miss is {FARTHEST_M:.0f})")
    axes.set_xlim(left=-0.02)
    axes.xaxis.set_major_formatter(lambda rate, _: f"{rate:.0%}")
    axes.set_ylim(bottom=0.0)
    return figure


def _draw_night(mpl: ModuleType, night: NightReport) -> Any:
    rows = night.trace.rows
    hours = (rows["time_s"] - rows["time_s"][0]) / 3600.0
    figure = mpl.figure.Figure(figsize=(8.0, 2.2))
    axes = figure.subplots()
    axes.plot(hours, np.clip(rows["log_odds"], *_SHOWN_LOG_ODDS), color=_GREEN, linewidth=0.9)
    axes.set_ylim(*_SHOWN_LOG_ODDS)
    axes.set_ylabel("log-odds moved")
    axes.set_xlabel("hours of the watch")
    beside = axes.twinx()
    beside.plot(hours, rows["beyond_m"], color=_PALE, linewidth=0.7)
    beside.set_ylabel("m beyond circle", color="#8d7a58")
    begins_utc_s = None if night.went is None else night.went.begins_utc_s
    if begins_utc_s is not None and math.isfinite(night.begins_utc_s):
        axes.axvline((begins_utc_s - night.begins_utc_s) / 3600.0, color=_INK, linestyle=":")
    if night.alarm is not None:
        axes.axvline((night.alarm.time_s - rows["time_s"][0]) / 3600.0, color=_RED)
    return figure


def _svg(mpl: ModuleType, figure: Any) -> str:
    """The figure as an element to stand in the page; the same figure gives the same text."""
    held = io.StringIO()
    with mpl.rc_context({"svg.hashsalt": "driftlead", "svg.fonttype": "none"}):
        figure.tight_layout()
        figure.savefig(held, format="svg", metadata={"Date": None}, transparent=True)
    text = held.getvalue()
    return text[text.index("<svg") :]


def _cost_m(point: Point) -> float:
    return 0.0 if point.cost_m is None else point.cost_m


def _below(share: Share) -> float:
    return max(0.0, share.rate - share.low)


def _above(share: Share) -> float:
    return max(0.0, share.high - share.rate)
