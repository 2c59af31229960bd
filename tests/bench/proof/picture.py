"""The operating curves as SVG: false alarms against metres dragged."""

import math
from collections.abc import Iterator, Sequence
from typing import Final
from xml.sax.saxutils import escape

from attrs import frozen

WIDTH: Final = 760
HEIGHT: Final = 460
LEFT, RIGHT, TOP, BOTTOM = 64, 24, 24, 58
MOST_M: Final = 80.0
LEAST_PERCENT, MOST_PERCENT = 0.2, 50.0
_PAPER: Final = "#f6f1e4"
_INK: Final = "#2d2a26"
_GRID: Final = "#d8cfbb"
_COLOURS: Final = ("#b3311f", "#2f6d62", "#8a5a10", "#3d4f86")


@frozen(kw_only=True)
class Curve:
    """(share of nights with a false alarm, median metres) for each limit; ``at`` is the one set."""

    title: str
    points: Sequence[tuple[float, float]]
    at: tuple[float, float] | None


@frozen(kw_only=True)
class Mark:
    """Another detector, at the limit it has."""

    title: str
    at: tuple[float, float]


def draw(curves: Sequence[Curve], marks: Sequence[Mark]) -> str:
    """Return the SVG text."""
    elements = [*_frame()]
    for index, curve in enumerate(curves):
        colour = _COLOURS[index % len(_COLOURS)]
        places = [_xy(point) for point in curve.points if math.isfinite(point[1])]
        path = "L".join(f"{x:.1f},{y:.1f}" for x, y in places)
        if path:
            elements.append(f'<path d="M{path}" fill="none" stroke="{colour}" stroke-width="2"/>')
        if curve.at is not None and math.isfinite(curve.at[1]):
            x, y = _xy(curve.at)
            elements.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{colour}"/>')
        y_legend = TOP + 18 + 18 * index
        elements.append(
            f'<path d="M{WIDTH - 262} {y_legend - 4}h22" stroke="{colour}" stroke-width="2"/>'
            + _text(WIDTH - 234, y_legend, curve.title)
        )
    for index, mark in enumerate(marks):
        number = index + 1
        y_legend = TOP + 18 + 18 * (len(curves) + index)
        elements.append(_text(WIDTH - 256, y_legend, f"{number}   {mark.title}"))
        if math.isfinite(mark.at[1]):
            x, y = _xy(mark.at)
            elements.append(
                f'<path d="M{x - 4:.1f} {y - 4:.1f}l8 8m0 -8l-8 8" stroke="{_INK}" '
                f'stroke-width="1.6"/>' + _text(x + 7, y + 4, str(number))
            )
    body = "\n".join(elements)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'font-family="Georgia, serif" font-size="12" fill="{_INK}">\n'
        "<title>False alarms against metres dragged at the alarm</title>\n"
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{_PAPER}"/>\n{body}\n</svg>\n'
    )


def _frame() -> Iterator[str]:
    for m in range(0, int(MOST_M) + 1, 10):
        _, y = _place(1.0, m)
        yield f'<path d="M{LEFT} {y:.1f}H{WIDTH - RIGHT}" stroke="{_GRID}"/>'
        yield _text(LEFT - 8, y + 4, str(m), anchor="end")
    for percent in (0.2, 0.5, 1, 2, 5, 10, 20, 50):
        x, _ = _place(percent, 0.0)
        yield f'<path d="M{x:.1f} {TOP}V{HEIGHT - BOTTOM}" stroke="{_GRID}"/>'
        told = "none" if percent == LEAST_PERCENT else f"{percent:g}"
        yield _text(x, HEIGHT - BOTTOM + 18, told, anchor="middle")
    middle = (LEFT + WIDTH - RIGHT) / 2
    yield _text(middle, HEIGHT - 14, "nights with a false alarm, % of all", anchor="middle")
    y = (TOP + HEIGHT - BOTTOM) / 2
    yield (
        f'<text x="18" y="{y:.0f}" text-anchor="middle" transform="rotate(-90 18 {y:.0f})">'
        "metres dragged at the alarm, median</text>"
    )


def _place(percent: float, m: float) -> tuple[float, float]:
    percent = max(LEAST_PERCENT, min(MOST_PERCENT, percent))
    part = math.log(percent / LEAST_PERCENT) / math.log(MOST_PERCENT / LEAST_PERCENT)
    x = LEFT + part * (WIDTH - LEFT - RIGHT)
    y = HEIGHT - BOTTOM - min(m, MOST_M) / MOST_M * (HEIGHT - TOP - BOTTOM)
    return x, y


def _xy(point: tuple[float, float]) -> tuple[float, float]:
    return _place(100.0 * point[0], point[1])


def _text(x: float, y: float, text: str, *, anchor: str = "start") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(text)}</text>'
