"""What to do when she drags: a card of steps in order, filled in from the situation.

The order is that of general seamanship (from memory): make sure, engine, veer where there is room,
weigh and lay out anew, and slip where there is no time left. The card assists; the skipper
decides, and local rules come first.
"""

import math
from collections.abc import Iterator, Mapping
from typing import Any, Final

from attrs import frozen

from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerAhead
from driftlead.units import Printer, format_bearing, format_position, format_speed

CARD_VERSION: Final = 1
VEER_MARGIN_M: Final = 15.0
"""Veering is not advised into the last metres before a danger: some boat's lengths are kept."""
LEAST_VEER_M: Final = 5.0
"""Less rode than this changes nothing worth the time."""
SOON_MIN: Final = 10.0
"""Weighing takes a crew some minutes; with less than this left, be ready to slip."""
NO_TIME_MIN: Final = 3.0
"""With less than this there is no time to weigh."""
FOOTNOTE: Final = (
    "This card assists: the skipper decides. Local rules and whoever lies to leeward come first."
)


@frozen(kw_only=True)
class Situation:
    """What is known when she drags; None: not known. Depth is of water, with the tide as it is.

    ``moved_m``, ``bearing_deg`` (true) and ``rate_mps`` are the anchor's way; ``danger`` what it
    leads to; ``rode_aboard_m`` all the rode there is; ``anchor`` where the anchor is believed now.
    """

    moved_m: float | None = None
    bearing_deg: float | None = None
    rate_mps: float | None = None
    danger: DangerAhead | None = None
    rode_m: float | None = None
    rode_aboard_m: float | None = None
    depth_m: float | None = None
    rise_to_high_water_m: float | None = None
    anchor: Position | None = None


@frozen(kw_only=True)
class Step:
    """One step: a word for it, what to do, and the figures behind it (SI, for programs)."""

    name: str
    title: str
    text: str
    figures: Mapping[str, float | str | None]


@frozen(kw_only=True)
class ResponseCard:
    """The steps in order. ``urgent`` names the step to go to at once, if there is no time."""

    steps: tuple[Step, ...]
    urgent: str | None

    def lines(self) -> Iterator[str]:
        """The card as text."""
        for number, step in enumerate(self.steps, start=1):
            mark = "  <-- NOW" if step.name == self.urgent else ""
            yield f"{number}. {step.title}{mark}"
            yield f"   {step.text}"
        yield FOOTNOTE

    def to_data(self) -> dict[str, Any]:
        """The card as plain dicts and lists."""
        return {
            "v": CARD_VERSION,
            "urgent": self.urgent,
            "steps": [
                {
                    "name": step.name,
                    "title": step.title,
                    "text": step.text,
                    "figures": dict(step.figures),
                }
                for step in self.steps
            ],
            "note": FOOTNOTE,
        }


def response_card(situation: Situation, units: Printer | None = None) -> ResponseCard:
    """Fill in the card."""
    units = units or Printer()
    minutes = situation.danger.minutes if situation.danger is not None else None
    urgent = None
    if minutes is not None and minutes < NO_TIME_MIN:
        urgent = "slip"
    elif minutes is not None and minutes < SOON_MIN:
        urgent = "engine"
    return ResponseCard(
        steps=(
            _confirm(situation, units),
            _engine(situation, units),
            _veer(situation, units),
            _weigh(situation, units),
            _slip(situation, units),
        ),
        urgent=urgent,
    )


def room_to_veer_m(situation: Situation) -> float | None:
    """Metres of rode that can still be veered: what is left aboard, and short of the danger.

    None if neither is known. Zero means that there is no room.
    """
    limits = []
    if situation.rode_m is not None and situation.rode_aboard_m is not None:
        limits.append(situation.rode_aboard_m - situation.rode_m)
    danger = situation.danger
    if danger is not None:
        # Veered in haste she may fall off towards any side, so the nearest of all counts.
        limits.append(min(danger.distance_m, danger.nearest_m) - VEER_MARGIN_M)
    return max(0.0, min(limits)) if limits else None


def _confirm(situation: Situation, units: Printer) -> Step:
    known = ""
    if situation.moved_m is not None and situation.bearing_deg is not None:
        known = (
            f"The watch has her anchor {units.rode(situation.moved_m)} towards "
            f"{format_bearing(situation.bearing_deg)}"
        )
        if situation.rate_mps is not None:
            known += f", at {format_speed(situation.rate_mps)}"
        known += ". "
    depth = (
        f" The sounder: does it differ from {units.depth(situation.depth_m)}?"
        if situation.depth_m is not None
        else ""
    )
    return Step(
        name="confirm",
        title="Confirm",
        text=f"{known}Look at a transit abeam: does it open and not close again? A lead on the "
        f"bottom with slack line: does it tend ahead?{depth} A hand on the rode: does it tremble?",
        figures={
            "moved_m": situation.moved_m,
            "bearing_deg": situation.bearing_deg,
            "rate_mps": situation.rate_mps,
            "depth_m": situation.depth_m,
        },
    )


def _engine(situation: Situation, units: Printer) -> Step:
    danger = situation.danger
    left = ""
    if danger is not None and danger.minutes is not None:
        left = (
            f"{danger.name} ({danger.kind.value}) is {units.rode(danger.distance_m)} away along "
            f"the drift: {_minutes(danger.minutes)} at this rate. "
        )
    elif danger is not None:
        left = (
            f"The drift leads to nothing marked; nearest is {danger.nearest_name}, "
            f"{units.rode(danger.nearest_m)} off, bearing "
            f"{format_bearing(danger.nearest_bearing_deg)}. "
        )
    return Step(
        name="engine",
        title="All hands, engine on",
        text=f"{left}Wake the crew, start the engine, see that no line is near the propeller. Slow "
        "ahead into the wind eases the load. Warn whoever lies to leeward: horn, VHF, light.",
        figures={
            "danger": None if danger is None else danger.name,
            "distance_m": None if danger is None else danger.distance_m,
            "minutes": None if danger is None else danger.minutes,
        },
    )


def _veer(situation: Situation, units: Printer) -> Step:
    room_m = room_to_veer_m(situation)
    if room_m is None:
        text = "If there is room astern and rode left: veer, then snub it gently and see."
    elif room_m < LEAST_VEER_M:
        text = "NO ROOM to veer: the rode is out, or the danger too near. Go on to the next step."
    else:
        text = (
            f"There is room for {units.rode(math.floor(room_m))} more and no farther. Veer it, "
            "snub it gently, then look at the transit again. Tell driftlead: veer LENGTH."
        )
    return Step(
        name="veer",
        title="Veer, if there is room",
        text=text,
        figures={"room_m": room_m, "rode_m": situation.rode_m},
    )


def _weigh(situation: Situation, units: Printer) -> Step:
    rode = (
        f" There are {units.rode(situation.rode_m)} to heave in."
        if situation.rode_m is not None
        else ""
    )
    return Step(
        name="weigh",
        title="Weigh and anchor anew",
        text=f"It drags on: steam up to it and weigh.{rode} Clear the anchor of weed, choose a "
        "berth with more room to leeward or better bottom, and set it harder. Tell driftlead: "
        "weigh, then let-go.",
        figures={"rode_m": situation.rode_m},
    )


def _slip(situation: Situation, units: Printer) -> Step:
    where = ""
    if situation.anchor is not None:
        where = f"The anchor lies near {format_position(situation.anchor)}; write it down. "
    line_m = None
    line = "a line longer than the depth at high water"
    if situation.depth_m is not None:
        # A third over the greatest depth, so that the buoy watches in a sea and a stream.
        line_m = math.ceil(1.3 * (situation.depth_m + (situation.rise_to_high_water_m or 0.0)) + 2)
        line = f"at least {units.rode(line_m)} of line"
        if situation.rise_to_high_water_m is None:
            line += " and more if the tide rises"
    return Step(
        name="slip",
        title="Foul, or no time left: slip and buoy",
        text=f"{where}Make a buoy or fenders fast to the bitter end with {line}, cast off or cut, "
        "and go. Mark the place where it is slipped, and come back for it by day.",
        figures={
            "lat_deg": None if situation.anchor is None else situation.anchor.lat_deg,
            "lon_deg": None if situation.anchor is None else situation.anchor.lon_deg,
            "buoy_line_m": line_m,
        },
    )


def _minutes(minutes: float) -> str:
    if minutes < 1.0:
        return "less than a minute"
    if minutes < 120.0:
        whole = math.floor(minutes)
        return f"{whole} minute{'' if whole == 1 else 's'}"
    return f"{minutes / 60.0:.0f} hours"
