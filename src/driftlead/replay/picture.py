"""One night's track with the drag circle, drawn as SVG.

Plan view, north up, one metre the same on both axes. Time runs from pale to dark along the track;
where she drags the track is heavy and the anchor's way is a dashed arrow.
"""

from collections.abc import Iterator, Sequence
from typing import Final
from xml.sax.saxutils import escape

from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.replay.trace import Trace
from driftlead.units import format_length

SIZE: Final = 640
MARGIN: Final = 44
_SHADES: Final = ("#c9b79a", "#a8967e", "#857562", "#5f5447", "#38322b")
"""Chart-paper browns, one for each fifth of the night."""
_DRAG: Final = "#b3311f"
_PAPER: Final = "#f6f1e4"
_INK: Final = "#2d2a26"
_CIRCLE: Final = "#2f6d62"
_STEPS: Final = (5, 10, 20, 50, 100, 200, 500, 1000)


def draw_night(trace: Trace) -> str:
    """The SVG text; a night without a fix gives a picture that says so."""
    if not trace.points:
        return _document(['<text x="40" y="60" font-size="18">No fix in this log.</text>'])
    centre = trace.drop or trace.points[0].position
    return _document(list(_Drawing(trace, LocalPlane(centre)).elements()))


class _Drawing:
    def __init__(self, trace: Trace, plane: LocalPlane) -> None:
        self._trace = trace
        self._plane = plane
        watched = [p for p in trace.points if p.state not in ("stowed", "aweigh", "slipped")]
        self._points = watched or trace.points
        self._track = [self._en(point.position) for point in self._points]
        radius_m = trace.radius_m or 0.0
        corners = [*self._track, (-radius_m, -radius_m), (radius_m, radius_m)]
        if trace.anchor is not None:
            corners.append(self._en(Position(trace.anchor.lat_deg, trace.anchor.lon_deg)))
        west, east = min(e for e, _ in corners), max(e for e, _ in corners)
        south, north = min(n for _, n in corners), max(n for _, n in corners)
        self._mid = (0.5 * (west + east), 0.5 * (south + north))
        self._scale = (SIZE - 2 * MARGIN) / max(east - west, north - south, 10.0)

    def elements(self) -> Iterator[str]:
        trace = self._trace
        if trace.radius_m is not None:
            x, y = self._xy((0.0, 0.0))
            yield (
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{trace.radius_m * self._scale:.1f}" '
                f'fill="{_CIRCLE}" fill-opacity="0.07" stroke="{_CIRCLE}" stroke-width="1.6" '
                'stroke-dasharray="9 4"/>'
            )
            yield _text(
                x,
                y - trace.radius_m * self._scale - 6,
                f"drag circle, {trace.radius_m:.0f} m",
                _CIRCLE,
                middle=True,
            )
        yield from self._track_lines()
        yield from self._anchor()
        yield from self._scale_bar()
        yield _north_arrow()

    def _track_lines(self) -> Iterator[str]:
        count = len(self._track)
        for fifth, shade in enumerate(_SHADES):
            part = self._track[fifth * count // 5 : (fifth + 1) * count // 5 + 1]
            yield self._line(part, shade, 1.1)
        start = None
        for index, point in enumerate([*self._points, None]):
            dragging = point is not None and point.state == "dragging"
            if dragging and start is None:
                start = index
            elif not dragging and start is not None:
                yield self._line(self._track[start:index], _DRAG, 2.4)
                start = None

    def _anchor(self) -> Iterator[str]:
        trace = self._trace
        if trace.drop is None:
            return
        x, y = self._xy(self._en(trace.drop))
        yield (
            f'<path d="M{x - 7:.1f} {y:.1f}h14M{x:.1f} {y - 7:.1f}v14" stroke="{_INK}" '
            'stroke-width="2.2"/>'
        )
        yield _text(x + 10, y + 4, "drop point", _INK)
        if trace.anchor is None or trace.anchor.method.value != "moved":
            return
        to_x, to_y = self._xy(self._en(Position(trace.anchor.lat_deg, trace.anchor.lon_deg)))
        yield (
            f'<path d="M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}" stroke="{_DRAG}" '
            'stroke-width="1.6" stroke-dasharray="3 4" marker-end="url(#head)"/>'
        )

    def _scale_bar(self) -> Iterator[str]:
        length_m = next(
            (step for step in reversed(_STEPS) if step * self._scale <= SIZE / 3), _STEPS[0]
        )
        width = length_m * self._scale
        y = SIZE - 18
        yield (
            f'<path d="M{MARGIN} {y - 5}v5h{width:.1f}v-5" fill="none" stroke="{_INK}" '
            'stroke-width="1.5"/>'
        )
        yield _text(MARGIN + width + 8, y, format_length(float(length_m)), _INK)

    def _line(self, points: Sequence[tuple[float, float]], colour: str, width: float) -> str:
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(self._xy, points))
        return (
            f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{width}" '
            'stroke-linejoin="round"/>'
        )

    def _en(self, position: Position) -> tuple[float, float]:
        return self._plane.to_plane(position.lat_deg, position.lon_deg)

    def _xy(self, en: tuple[float, float]) -> tuple[float, float]:
        return (
            SIZE / 2 + (en[0] - self._mid[0]) * self._scale,
            SIZE / 2 - (en[1] - self._mid[1]) * self._scale,
        )


def _text(x: float, y: float, words: str, colour: str, *, middle: bool = False) -> str:
    anchor = ' text-anchor="middle"' if middle else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}"{anchor}>{escape(words)}</text>'


def _north_arrow() -> str:
    x = SIZE - 26
    return (
        f'<path d="M{x} 54V18M{x - 6} 28L{x} 16L{x + 6} 28" fill="none" stroke="{_INK}" '
        f'stroke-width="1.6"/><text x="{x}" y="70" text-anchor="middle">N</text>'
    )


def _document(elements: Sequence[str]) -> str:
    body = "\n".join(elements)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE} {SIZE}" width="{SIZE}" '
        f'height="{SIZE}" font-family="sans-serif" font-size="13" role="img" '
        'aria-label="Track of a night at anchor with the drag circle">\n'
        '<defs><marker id="head" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" '
        f'markerHeight="7" orient="auto"><path d="M0 0L8 4L0 8z" fill="{_DRAG}"/></marker></defs>\n'
        f'<rect width="{SIZE}" height="{SIZE}" fill="{_PAPER}"/>\n{body}\n</svg>\n'
    )
