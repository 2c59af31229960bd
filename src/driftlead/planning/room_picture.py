"""The answer to "will we fit?" drawn as SVG: plan view, north up, one scale on both axes."""

from collections.abc import Iterator
from typing import Any, Final
from xml.sax.saxutils import escape

import shapely

from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.room import Room
from driftlead.planning.room_geojson import worst_lie
from driftlead.planning.room_words import clearance_text, move_text
from driftlead.units import Printer

SIZE: Final = 720
MARGIN: Final = 40
FOOT: Final = 64
"""Room below the plan for the scale and a line of words."""
_PAPER: Final = "#f6f1e4"
_INK: Final = "#2d2a26"
_OWN: Final = "#2f6d62"
_OTHER: Final = "#6b5d86"
_ADVICE: Final = "#1f4e8c"
_WORST: Final = "#b3311f"
_FILLS: Final = {
    DangerKind.SHORE: "#d9c48f",
    DangerKind.SHOAL: "#b9d3cf",
    DangerKind.ROCK: "#8a7f70",
    DangerKind.PIER: "#8a7f70",
    DangerKind.WRECK: "#8a7f70",
    DangerKind.VESSEL: "#b9aecb",
    DangerKind.OTHER: "#c9b79a",
}
_STEPS: Final = (5, 10, 20, 50, 100, 200, 500, 1000)


def draw_room(room: Room, units: Printer) -> str:
    """The SVG text."""
    drawing = _Drawing(room, units)
    body = "\n".join(drawing.elements())
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SIZE} {SIZE + FOOT}" '
        f'width="{SIZE}" height="{SIZE + FOOT}" font-family="sans-serif" font-size="13" '
        f'role="img" aria-label="Swinging room of {escape(room.own.name, {chr(34): "&quot;"})}">\n'
        '<defs><marker id="head" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" '
        f'markerHeight="7" orient="auto"><path d="M0 0L8 4L0 8z" fill="{_ADVICE}"/></marker>'
        f'<clipPath id="plan"><rect width="{SIZE}" height="{SIZE}"/></clipPath></defs>\n'
        f'<rect width="{SIZE}" height="{SIZE + FOOT}" fill="{_PAPER}"/>\n{body}\n</svg>\n'
    )


class _Drawing:
    def __init__(self, room: Room, units: Printer) -> None:
        self._room = room
        self._units = units
        own = room.own
        circles = [(own.east_m, own.north_m, room.circle.radius_m)]
        rise_m = room.circle.hour.rise_m
        circles += [(b.east_m, b.north_m, b.circle_m(rise_m)) for b in room.around.boats]
        # A coast may run on for miles: only what is near decides how much is shown.
        near = shapely.Point(own.east_m, own.north_m).buffer(3.0 * room.circle.radius_m)
        bounds = [(e - r, n - r, e + r, n + r) for e, n, r in circles]
        for danger in room.around.dangers:
            close = danger.shape.intersection(near)
            if not close.is_empty:
                bounds.append(close.bounds)
        west, south = min(b[0] for b in bounds), min(b[1] for b in bounds)
        east, north = max(b[2] for b in bounds), max(b[3] for b in bounds)
        self._mid = (0.5 * (west + east), 0.5 * (south + north))
        self._scale = (SIZE - 2 * MARGIN) / max(east - west, north - south, 10.0)
        self._circles = circles

    def elements(self) -> Iterator[str]:
        yield '<g clip-path="url(#plan)">'
        for danger in self._room.around.dangers:
            yield self._danger(danger.shape, danger.kind)
        names = [self._room.own.name, *(boat.name for boat in self._room.around.boats)]
        for index, (name, circle) in enumerate(zip(names, self._circles, strict=True)):
            yield from self._circle(name, circle, _OTHER if index else _OWN)
        for _, area in worst_lie(self._room):
            yield self._shape(area, f'fill="{_WORST}" fill-opacity="0.25" stroke="{_WORST}"')
        for danger in self._room.around.dangers:
            point = danger.shape.representative_point()
            x, y = self._xy(point.x, point.y)
            yield _text(x + 8, y - 6, danger.name, _INK)
        yield from self._advice()
        yield "</g>"
        yield from self._scale_bar()
        yield from self._words()
        x = SIZE - 26
        yield (
            f'<path d="M{x} 54V18M{x - 6} 28L{x} 16L{x + 6} 28" fill="none" stroke="{_INK}" '
            f'stroke-width="1.6"/><text x="{x}" y="70" text-anchor="middle">N</text>'
        )

    def _danger(self, shape: Any, kind: DangerKind) -> str:
        fill = _FILLS[kind]
        if shape.geom_type == "Point":
            x, y = self._xy(shape.x, shape.y)
            return (
                f'<path d="M{x - 5:.1f} {y:.1f}h10M{x:.1f} {y - 5:.1f}v10" stroke="{_INK}" '
                'stroke-width="1.6"/>'
            )
        if shape.geom_type == "LineString":
            return self._shape(shape, f'fill="none" stroke="{fill}" stroke-width="5"')
        return self._shape(shape, f'fill="{fill}" stroke="{_INK}" stroke-width="0.8"')

    def _circle(self, name: str, circle: tuple[float, float, float], colour: str) -> Iterator[str]:
        east_m, north_m, radius_m = circle
        x, y = self._xy(east_m, north_m)
        yield (
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius_m * self._scale:.1f}" fill="{colour}" '
            f'fill-opacity="0.07" stroke="{colour}" stroke-width="1.6" stroke-dasharray="9 4"/>'
            f'<path d="M{x - 5:.1f} {y:.1f}h10M{x:.1f} {y - 5:.1f}v10" stroke="{colour}" '
            'stroke-width="2"/>'
        )
        top = y - radius_m * self._scale + 18
        yield _text(x, top, f"{name}, {self._units.rode(radius_m)}", colour, middle=True)

    def _advice(self) -> Iterator[str]:
        move = self._room.move
        if move is None or move.distance_m == 0.0:
            return
        own = self._room.own
        x, y = self._xy(own.east_m, own.north_m)
        to_x, to_y = self._xy(own.east_m + move.east_m, own.north_m + move.north_m)
        radius = self._room.circle.radius_m * self._scale
        yield (
            f'<circle cx="{to_x:.1f}" cy="{to_y:.1f}" r="{radius:.1f}" fill="none" '
            f'stroke="{_ADVICE}" stroke-width="1.6"/>'
            f'<path d="M{x:.1f} {y:.1f}L{to_x:.1f} {to_y:.1f}" stroke="{_ADVICE}" '
            'stroke-width="2" marker-end="url(#head)"/>'
        )
        yield _text(to_x, to_y + 18, move_text(move, self._units), _ADVICE, middle=True)

    def _scale_bar(self) -> Iterator[str]:
        step_m = self._units.rode_step_m
        steps = [step * step_m for step in _STEPS]
        length_m = next((s for s in reversed(steps) if s * self._scale <= SIZE / 3), steps[0])
        width, y = length_m * self._scale, SIZE + 22
        yield (
            f'<path d="M{MARGIN} {y - 5}v5h{width:.1f}v-5" fill="none" stroke="{_INK}" '
            'stroke-width="1.5"/>'
        )
        yield _text(MARGIN + width + 8, y, self._units.rode(length_m), _INK)

    def _words(self) -> Iterator[str]:
        worst = self._room.worst
        words = "nothing marked round her"
        if worst is not None:
            words = f"nearest: {clearance_text(worst, self._units)}"
        yield _text(MARGIN, SIZE + 46, words, _INK if self._room.fits else _WORST)

    def _shape(self, shape: Any, style: str) -> str:
        path = ""
        rings = [shape.exterior, *shape.interiors] if shape.geom_type == "Polygon" else [shape]
        for ring in rings:
            corners = [self._xy(east, north) for east, north in shapely.get_coordinates(ring)]
            path += "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in corners)
            path += "Z" if shape.geom_type == "Polygon" else ""
        return f'<path d="{path}" {style} fill-rule="evenodd"/>'

    def _xy(self, east_m: float, north_m: float) -> tuple[float, float]:
        return (
            SIZE / 2 + (east_m - self._mid[0]) * self._scale,
            SIZE / 2 - (north_m - self._mid[1]) * self._scale,
        )


def _text(x: float, y: float, words: str, colour: str, *, middle: bool = False) -> str:
    anchor = ' text-anchor="middle"' if middle else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}"{anchor}>{escape(words)}</text>'
