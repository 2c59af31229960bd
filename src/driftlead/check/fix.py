"""What fix and instruments are worth for an anchor watch, judged by what was heard. Pure."""

from collections.abc import Iterator, Sequence
from typing import Final

from driftlead.check.finding import Finding, Level
from driftlead.check.hearing import Hearing
from driftlead.config.model import Config
from driftlead.geodesy.position import Position
from driftlead.nmea.observations import PositionReport
from driftlead.units import format_length, format_position
from driftlead.watch.blindness import COARSE_QUANTUM_M, MIN_SATELLITES

_FINE_QUANTUM_M: Final = 0.5


def judge_fixes(hearings: Sequence[Hearing], config: Config) -> list[Finding]:
    """Judge the fix of each source that gives one, and whether the instruments are heard."""
    found: list[Finding] = []
    for hearing in hearings:
        found += _of_source(hearing, config)
    if not any(hearing.fixes for hearing in hearings):
        found.append(_no_fix(hearings))
    depths = [hearing.depth_m for hearing in hearings if hearing.depth_m is not None]
    found += judge_instruments(
        has_heading=any(hearing.has_heading for hearing in hearings),
        depth=f"{format_length(depths[-1])} below transducer" if depths else None,
        antenna_aft_m=config.watch.boat.antenna_aft_m,
    )
    return found


def _of_source(hearing: Hearing, config: Config) -> Iterator[Finding]:
    place = hearing.place
    if place is None:
        return
    what = f"fix of {hearing.name}"
    where = format_position(Position(place.lat_deg, place.lon_deg))
    hdop = "HDOP not sent" if hearing.hdop is None else f"HDOP {hearing.hdop:.1f}"
    satellites = "" if hearing.satellites is None else f", {hearing.satellites} satellites"
    yield from _quality(hearing, config, what, f"{where}, {hdop}{satellites}.")
    yield from _decimals(place, what)
    if not hearing.has_speed:
        yield Finding(
            Level.LOOK,
            what,
            "It sends no speed and course over ground, which make the track steadier.",
            "Switch on RMC or VTG in the receiver.",
        )
    if place.date is not None and place.date < config.earliest_date:
        yield Finding(
            Level.LOOK,
            what,
            f"Its date is {place.date}: its week counter has rolled over. It is corrected here.",
        )


def _quality(hearing: Hearing, config: Config, what: str, text: str) -> Iterator[Finding]:
    poor_hdop = config.watch.limits.poor_hdop
    if hearing.hdop is not None and hearing.hdop > poor_hdop:
        remedy = "Give the antenna a clear view of the sky; wait some minutes after switching on."
        yield Finding(Level.LOOK, what, f"Poor: {text} Above {poor_hdop:g} it is not good.", remedy)
    elif hearing.satellites is not None and hearing.satellites < MIN_SATELLITES:
        yield Finding(
            Level.LOOK, what, f"Poor: {text}", "Give the antenna a clear view of the sky."
        )
    else:
        yield Finding(Level.OK, what, text)


def _decimals(place: PositionReport, what: str) -> Iterator[Finding]:
    step = f"Its positions come in steps of {format_length(place.quantum_m)}"
    if place.quantum_m > COARSE_QUANTUM_M:
        remedy = "Have the receiver, or what repeats it, send at least three decimals of a minute."
        yield Finding(Level.FAIL, what, f"{step}: a drag would not show in time.", remedy)
    elif place.quantum_m > _FINE_QUANTUM_M:
        remedy = "Four decimals of a minute are better, if the receiver can send them."
        yield Finding(Level.LOOK, what, f"{step}.", remedy)


def _no_fix(hearings: Sequence[Hearing]) -> Finding:
    if any(hearing.positions for hearing in hearings):
        return Finding(
            Level.FAIL,
            "fix",
            "The receiver talks but has no fix.",
            "Give the antenna a clear view of the sky; the first fix may take some minutes.",
        )
    return Finding(
        Level.FAIL,
        "fix",
        "No source sends positions.",
        "Switch on RMC and GGA (or GLL, GNS) in the receiver, once a second if it can.",
    )


def judge_instruments(
    *, has_heading: bool, depth: str | None, antenna_aft_m: float
) -> Iterator[Finding]:
    """Judge whether a heading and a depth are heard; ``depth`` is it in words."""
    if has_heading:
        yield Finding(Level.OK, "heading", "Heard.")
    elif antenna_aft_m > 0.0:
        yield Finding(
            Level.LOOK,
            "heading",
            "Not heard: the drop point will be uncertain by the"
            f" {format_length(antenna_aft_m)} from the antenna to the bow.",
            "Connect a compass (HDT, HDG or HDM), or count on a wider circle.",
        )
    if depth is not None:
        yield Finding(Level.OK, "depth", f"Heard: {depth}.")
    else:
        yield Finding(
            Level.LOOK,
            "depth",
            "Not heard: the rode counts whole, and the circle is a little wider.",
            "Say the depth with let-go and veer: --depth 6m.",
        )
