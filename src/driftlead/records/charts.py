"""Curves over the hours of a night, as SVG."""

from collections.abc import Iterator, Sequence
from typing import Final
from xml.sax.saxutils import escape

from driftlead.core.events_json import utc_text
from driftlead.records.xml_text import xml_text

WIDTH: Final = 640
HEIGHT: Final = 190
_LEFT: Final = 52
_RIGHT: Final = 12
_TOP: Final = 16
_BOTTOM: Final = 28
_INK: Final = "#2d2a26"
_LINE: Final = "#5f5447"
_MARK: Final = "#b3311f"
_LIMIT: Final = "#2f6d62"
_GRID: Final = "#d8cfba"
_HOUR_STEPS: Final = (0.25, 0.5, 1, 2, 3, 6, 12, 24)
_VALUE_STEPS: Final = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)


def curve_svg(
    samples: Sequence[tuple[float, float]],
    *,
    label: str,
    unit: str,
    limit: tuple[float, str] | None = None,
    marks: Sequence[tuple[float, str]] = (),
) -> str:
    """Draw (utc_s, value) samples, from zero up; ``unit`` is written at the values.

    ``limit`` is a level line with its name, ``marks`` are moments with theirs. Without samples the
    picture says so.
    """
    body = "\n".join(_elements(samples, unit, limit, marks))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" '
        f'height="{HEIGHT}" font-family="sans-serif" font-size="11" role="img" '
        f'aria-label="{_escaped(label)}">\n{body}\n</svg>\n'
    )


def _elements(
    samples: Sequence[tuple[float, float]],
    unit: str,
    limit: tuple[float, str] | None,
    marks: Sequence[tuple[float, str]],
) -> Iterator[str]:
    if len(samples) < 2:
        yield f'<text x="{_LEFT}" y="{HEIGHT / 2:.0f}" fill="{_INK}">No track was kept.</text>'
        return
    first_s, last_s = samples[0][0], max(samples[-1][0], samples[0][0] + 1.0)
    top = max(*(value for _, value in samples), limit[0] if limit else 0.0, 1.0) * 1.1

    def xy(utc_s: float, value: float) -> tuple[float, float]:
        x = _LEFT + (utc_s - first_s) / (last_s - first_s) * (WIDTH - _LEFT - _RIGHT)
        return x, HEIGHT - _BOTTOM - value / top * (HEIGHT - _TOP - _BOTTOM)

    step = next((each for each in _VALUE_STEPS if top / each <= 5.0), _VALUE_STEPS[-1])
    for count in range(int(top / step) + 1):
        _, y = xy(first_s, float(count * step))
        yield f'<path d="M{_LEFT} {y:.1f}H{WIDTH - _RIGHT}" stroke="{_GRID}"/>'
        yield _text(_LEFT - 6, y + 4, f"{count * step} {unit}", _INK, "end")
    for utc_s in _hours(first_s, last_s):
        x, _ = xy(utc_s, 0.0)
        clock = (utc_text(utc_s) or "")[11:16]
        yield f'<path d="M{x:.1f} {HEIGHT - _BOTTOM}v4" stroke="{_INK}"/>'
        yield _text(x, HEIGHT - 10, clock, _INK, "middle")
    if limit is not None:
        _, y = xy(first_s, limit[0])
        yield (
            f'<path d="M{_LEFT} {y:.1f}H{WIDTH - _RIGHT}" stroke="{_LIMIT}" '
            'stroke-dasharray="9 4"/>'
        )
        yield _text(WIDTH - _RIGHT, y - 4, limit[1], _LIMIT, "end")
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in (xy(*sample) for sample in samples))
    yield f'<polyline points="{points}" fill="none" stroke="{_LINE}" stroke-width="1.2"/>'
    for utc_s, words in marks:
        if first_s <= utc_s <= last_s:
            x, _ = xy(utc_s, 0.0)
            yield f'<path d="M{x:.1f} {_TOP}V{HEIGHT - _BOTTOM}" stroke="{_MARK}"/>'
            yield _text(x + 4, _TOP + 8, words, _MARK, "start")


def _hours(first_s: float, last_s: float) -> Iterator[float]:
    hours = (last_s - first_s) / 3600.0
    step_s = 3600.0 * next((each for each in _HOUR_STEPS if hours / each <= 9.0), 24)
    utc_s = -(-first_s // step_s) * step_s
    while utc_s <= last_s:
        yield utc_s
        utc_s += step_s


def _text(x: float, y: float, words: str, colour: str, anchor: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}">'
        f"{_escaped(words)}</text>"
    )


def _escaped(text: str) -> str:
    return escape(xml_text(text), {'"': "&quot;"})
