"""The rode from the side, drawn as SVG: how it lies at high water in gusts, wind and calm."""

from collections.abc import Iterator, Sequence
from typing import Final
from xml.sax.saxutils import escape

from driftlead.planning.plan import Plan
from driftlead.tackle.mixed_rode import curve, part_lengths_out
from driftlead.units import Printer

WIDTH: Final = 720
MARGIN: Final = 40
_PAPER: Final = "#f6f1e4"
_INK: Final = "#2d2a26"
_SEA: Final = "#2f6d62"
_GROUND: Final = "#857562"
_LINES: Final = ("#b3311f", "#5f5447", "#a8967e")


def draw_plan(plan: Plan, printer: Printer) -> str:
    """Return the SVG text. Lengths and heights are to one scale."""
    depth_m, bow_m = plan.most.depth_m, plan.boat.bow_height_m
    loads_n = (plan.gust_load_n, plan.mean_load_n, 0.0)
    parts = part_lengths_out(plan.boat.rode, plan.rode_m)
    curves = [curve(parts, depth_m + bow_m, load_n) for load_n in loads_n]
    reach_m = max(points[-1][0] for points in curves)
    scale = (WIDTH - 2 * MARGIN) / max(reach_m, 0.25 * (depth_m + bow_m))
    ground = 66.0 + scale * (depth_m + bow_m)
    frame = _Frame(scale, ground)
    elements = [
        *_water(plan, printer, frame),
        *_rodes(curves, frame),
        f'<path d="M{MARGIN - 8} {ground:.1f}l16 -5v10z" fill="{_INK}"/>',
        *_legend(plan, printer, ground + 26.0),
    ]
    return _document(elements, ground + 92.0)


class _Frame:
    def __init__(self, scale: float, ground: float) -> None:
        self._scale, self._ground = scale, ground

    def xy(self, point: tuple[float, float]) -> str:
        return f"{MARGIN + point[0] * self._scale:.1f},{self.y(point[1]):.1f}"

    def y(self, up_m: float) -> float:
        return self._ground - up_m * self._scale


def _water(plan: Plan, printer: Printer, frame: _Frame) -> Iterator[str]:
    levels = [plan.most] if plan.stay.water.tide is None else [plan.most, plan.least]
    for moment in levels:
        if moment.depth_m <= 0.0:
            continue
        y = frame.y(moment.depth_m)
        name = {"HW": "high water", "LW": "low water"}.get(moment.turn, "water")
        yield (
            f'<path d="M0 {y:.1f}H{WIDTH}" stroke="{_SEA}" stroke-width="1.2" '
            'stroke-dasharray="7 5"/>'
        )
        text = f"{name}, {printer.depth(moment.depth_m)}"
        yield f'<text x="8" y="{y - 5:.1f}" fill="{_SEA}">{escape(text)}</text>'
    yield f'<path d="M0 {frame.y(0.0):.1f}H{WIDTH}" stroke="{_GROUND}" stroke-width="3"/>'


def _rodes(curves: Sequence[Sequence[tuple[float, float]]], frame: _Frame) -> Iterator[str]:
    for points, colour in zip(curves, _LINES, strict=True):
        path = " ".join(map(frame.xy, points))
        yield f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2"/>'
        bow = frame.xy(points[-1]).split(",")
        yield f'<circle cx="{bow[0]}" cy="{bow[1]}" r="4" fill="{colour}"/>'


def _legend(plan: Plan, printer: Printer, y: float) -> Iterator[str]:
    words = (
        f"gusts of {printer.wind(plan.stay.gust_mps)}: {printer.force(plan.gust_load_n)}",
        f"wind of {printer.wind(plan.stay.wind_mps)}: {printer.force(plan.mean_load_n)}",
        "calm",
    )
    for line, (text, colour) in enumerate(zip(words, _LINES, strict=True)):
        yield (f'<text x="{MARGIN}" y="{y + 18 * line:.1f}" fill="{colour}">{escape(text)}</text>')


def _document(elements: Sequence[str], height: float) -> str:
    body = "\n".join(elements)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" '
        f'width="{WIDTH}" height="{height:.0f}" font-family="sans-serif" font-size="13" '
        'role="img" aria-label="The rode from the side, at high water">\n'
        f'<rect width="{WIDTH}" height="{height:.0f}" fill="{_PAPER}"/>\n{body}\n</svg>\n'
    )
