"""The answer to "will we fit?" in words, and as JSON."""

import math
from collections.abc import Iterator
from typing import Any, Final

from driftlead.planning.room import MOVE_LIMIT_M, Clearance, Room
from driftlead.planning.room_move import SHORT_M, Move
from driftlead.units import FOOT_M, Printer, UnitSystem, compass_point, format_bearing

ROOM_VERSION: Final = 1
_NOTABLE: Final = 8
_TOUCH_M: Final = 0.05


def room_lines(room: Room, units: Printer) -> Iterator[str]:
    """The lines, the most important first."""
    circle = room.circle
    yield (
        f"{room.own.name} swings {units.rode(circle.radius_m)} about her anchor: "
        f"{units.rode(circle.reach_m)} of reach over {units.depth(circle.least_depth_m)} of water"
        f"{_at(circle.hour.text)}, and {units.short(circle.length_m)} of boat."
    )
    worst = room.worst
    if worst is None:
        yield "Nothing is marked round her, so nothing was compared."
    else:
        yield from _verdict(room, worst, units)
        yield ""
        yield "Nearest in any wind looked at, the worst first:"
        for clearance in room.worst_of_each():
            yield f"  {clearance_text(clearance, units)}"
        yield from _sectors(room, units)
        yield ""
        yield "Whole circles, as in a calm, when each lies as she likes:"
        for gap in room.circles:
            yield f"  {gap.other} ({gap.kind}): {_gap_text(gap.gap_m, units)}"
        yield from _calm_advice(room, units)
    yield ""
    yield (
        "Places, rodes and depths are as they were given, and boats lie as they like. It assists "
        "and never replaces a look-out; whoever lay there first has the room. The skipper decides."
    )


def clearance_text(clearance: Clearance, units: Printer) -> str:
    """One clearance: with whom, how much, and when."""
    wind = compass_point(clearance.wind_from_deg)
    return f"{clearance.other} ({clearance.kind}): {_how_near(clearance, units)}, wind {wind}"


def move_text(move: Move, units: Printer) -> str:
    """``"23 m towards 227° (SW)"``: rounded up, so that it is never too short."""
    step_m = units.rode_step_m
    metres = math.ceil(move.distance_m / step_m - 1e-9) * step_m
    return f"{units.rode(metres)} towards {format_bearing(move.bearing_deg)}"


def room_to_data(room: Room) -> dict[str, Any]:
    """Plain dicts and lists in SI; metres to a centimetre."""
    own, circle = room.own, room.circle
    return {
        "v": ROOM_VERSION,
        "own": {
            "name": own.name,
            "gear": own.gear.value,
            "rode_m": own.rode_m,
            "depth_m": own.depth_m,
            "length_m": own.length_m,
        },
        "circle": {
            "radius_m": _cm(circle.radius_m),
            "reach_m": _cm(circle.reach_m),
            "length_m": _cm(circle.length_m),
            "least_depth_m": _cm(circle.least_depth_m),
            "at": _when(circle.hour.when),
        },
        "margin_m": room.margin_m,
        "fits": room.fits,
        "nearest": [_clearance_data(each) for each in room.worst_of_each()],
        "sectors": [_clearance_data(each) for each in room.worst_of_sectors()],
        "hours": [_clearance_data(each) for each in _worst_of_hours(room)],
        "circles": [
            {"other": gap.other, "kind": gap.kind, "gap_m": _cm(gap.gap_m)} for gap in room.circles
        ],
        "move": _move_data(room.move),
        "calm_move": _move_data(room.calm_move),
    }


def _verdict(room: Room, worst: Clearance, units: Printer) -> Iterator[str]:
    margin = units.rode(room.margin_m)
    if room.fits:
        yield f"She fits: everything stays clear by {margin} or more."
    elif worst.clearance_m < _TOUCH_M:
        yield f"SHE DOES NOT FIT: she can touch {worst.other}."
    else:
        yield (
            f"TOO NEAR: {worst.other} comes within {_down(worst.clearance_m, units)}; "
            f"{margin} is wanted."
        )
    if room.fits:
        return
    if room.move is None:
        yield (
            f"No move of up to {units.rode(MOVE_LIMIT_M)} clears everything: another berth, or "
            "less rode."
        )
    else:
        yield f"Let go {move_text(room.move, units)} from there and all clears by {margin}."


def _sectors(room: Room, units: Printer) -> Iterator[str]:
    close = [each for each in room.worst_of_sectors() if each.clearance_m < room.margin_m - SHORT_M]
    if not close:
        return
    yield ""
    yield f"Winds in which something comes nearer than {units.rode(room.margin_m)}:"
    for each in close[:_NOTABLE]:
        wind = compass_point(each.wind_from_deg)
        yield f"  {wind:<3} {each.other}: {_how_near(each, units)}"
    if len(close) > _NOTABLE:
        rest = ", ".join(compass_point(each.wind_from_deg) for each in close[_NOTABLE:])
        yield f"  and {rest}"


def _calm_advice(room: Room, units: Printer) -> Iterator[str]:
    least = room.circles[0].gap_m
    if least >= room.margin_m:
        return
    if room.calm_move is None:
        yield f"  No move of up to {units.rode(MOVE_LIMIT_M)} clears the whole circles."
    else:
        yield (
            f"  {move_text(room.calm_move, units)} from there the whole circles are clear by "
            f"{units.rode(room.margin_m)} too."
        )


def _how_near(clearance: Clearance, units: Printer) -> str:
    at = clearance.hour.text
    if clearance.clearance_m < _TOUCH_M:
        return f"TOUCHES{f', first at {at}' if at else ''}"
    return f"{_down(clearance.clearance_m, units)}{_at(at)}"


def _gap_text(gap_m: float, units: Printer) -> str:
    return f"overlap by {units.short(-gap_m)}" if gap_m < 0.0 else f"{_down(gap_m, units)} between"


def _down(m: float, units: Printer) -> str:
    """A clearance, never rounded up: to tenths below ten metres, then to whole ones."""
    if m < 10.0:
        tenth_m = (1.0 if units.system is UnitSystem.METRIC else FOOT_M) / 10.0
        return units.short(math.floor(m / tenth_m + 1e-9) * tenth_m)
    return units.rode(math.floor(m / units.rode_step_m + 1e-9) * units.rode_step_m)


def _at(text: str) -> str:
    return f" at {text}" if text else ""


def _worst_of_hours(room: Room) -> list[Clearance]:
    worst: dict[int, Clearance] = {}
    for clearance in room.clearances:
        worst.setdefault(room.hours.index(clearance.hour), clearance)
    return list(worst.values())


def _clearance_data(clearance: Clearance) -> dict[str, Any]:
    return {
        "other": clearance.other,
        "kind": clearance.kind,
        "wind_from_deg": clearance.wind_from_deg,
        "at": _when(clearance.hour.when),
        "rise_m": _cm(clearance.hour.rise_m),
        "clearance_m": _cm(clearance.clearance_m),
    }


def _move_data(move: Move | None) -> dict[str, float] | None:
    if move is None:
        return None
    return {
        "distance_m": _cm(move.distance_m),
        "bearing_deg": round(move.bearing_deg, 1) % 360.0,
        "east_m": _cm(move.east_m),
        "north_m": _cm(move.north_m),
    }


def _when(when: Any) -> str | None:
    return None if when is None else str(when.isoformat(timespec="seconds"))


def _cm(m: float) -> float:
    return round(m, 2) + 0.0
