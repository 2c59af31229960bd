"""What is remembered of an anchoring, in words."""

from collections.abc import Iterable, Iterator

from driftlead.core.events_json import utc_text
from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring, Slip
from driftlead.records.store import Stored
from driftlead.units import (
    Printer,
    format_bearing,
    format_position,
)


def slip_text(slip: Slip, units: Printer) -> str:
    """Where a slipped anchor lies, where it was left from, and what hangs on it."""
    words = f"SLIPPED: the anchor lies at {place_text(slip.anchor, slip.sigma_m, units)}"
    if slip.bow is not None:
        words += f"; buoyed at {place_text(slip.bow, slip.bow_sigma_m, units)}"
    left = left_down_text(slip, units)
    return f"{words}; {left} left down." if left else f"{words}."


def place_text(place: Position, sigma_m: float | None, units: Printer) -> str:
    """A position with its error."""
    good = "" if sigma_m is None else f", good to {units.short(sigma_m)}"
    return f"{format_position(place)}{good}"


def left_down_text(slip: Slip, units: Printer) -> str:
    """``38 m of rode in 6.2 m``; empty if nothing is known."""
    rode = "" if slip.rode_m is None else f"{units.rode(slip.rode_m)} of rode"
    if slip.depth_m is None:
        return rode
    return f"{rode or 'rode'} in {units.depth(slip.depth_m)}"


def clock(utc_s: float | None) -> str:
    """``2026-06-14 22:04`` in UTC, to the nearest minute; a dash where it is not known."""
    text = utc_text(None if utc_s is None else round(utc_s / 60.0) * 60.0)
    return "-" if text is None else text[:16].replace("T", " ")


def title(stored: Stored) -> str:
    """What an anchoring is called: its place, if it has a name, and its evening."""
    name = stored.anchoring.place or f"Anchoring {stored.number}"
    return f"{name}, {clock(stored.anchoring.began_utc_s)} UTC"


def how_it_went(anchoring: Anchoring, units: Printer, *, over: bool = False) -> str:
    """One sentence: rode, depth, wind, and whether she held; ``over`` as in ``held_text``."""
    parts = [
        tackle_text(anchoring, units),
        wind_text(anchoring, units),
        held_text(anchoring, units, over=over),
    ]
    parts.append(alerts_text(anchoring))
    return "; ".join(part for part in parts if part) + "."


def tackle_text(anchoring: Anchoring, units: Printer) -> str:
    """``38 m of rode in 6.0 m``; empty if nothing is known."""
    rode = f"{units.rode(anchoring.rode_m)} of rode" if anchoring.rode_m is not None else ""
    if anchoring.depth_m is None:
        return rode
    return f"{rode or 'let go'} in {units.depth(anchoring.depth_m)}"


def wind_text(anchoring: Anchoring, units: Printer) -> str:
    """``wind 12 to 24 kn``; empty if there was no wind instrument."""
    least, greatest = anchoring.least_wind_mps, anchoring.greatest_wind_mps
    if least is None or greatest is None:
        return ""
    low = units.wind(least).removesuffix(f" {units.wind_unit.sign}")
    return f"wind {low} to {units.wind(greatest)}"


def held_text(anchoring: Anchoring, units: Printer, *, over: bool = False) -> str:
    """``held``, or how often and how far she dragged; ``over``: it is, though no end was seen."""
    if not anchoring.drags:
        if anchoring.ended_utc_s is not None:
            return "held"
        return "no drag seen" if over else "no drag so far"
    words = []
    for drag in anchoring.drags:
        word = "DRAGGED"
        if drag.moved_m is not None:
            word += f" {units.rode(drag.moved_m)}"
        if drag.bearing_deg is not None:
            word += f" towards {format_bearing(drag.bearing_deg)}"
        if drag.held_utc_s is not None:
            word += ", held again"
        words.append(word)
    return "; ".join(words)


def alerts_text(anchoring: Anchoring) -> str:
    """``1 alarm, 2 warnings``; empty if there were neither."""
    words = []
    for priority in ("alarm", "warning"):
        count = anchoring.raised(priority)
        if count:
            words.append(f"{count} {priority}{'' if count == 1 else 's'}")
    return ", ".join(words)


def list_lines(
    all_stored: Iterable[Stored], units: Printer, *, newest: int | None = None
) -> Iterator[str]:
    """Two lines for each anchoring, a third where the anchor was left, in the order given.

    ``newest`` is the number of the last anchoring: whichever has no end before it is over.
    """
    for stored in all_stored:
        anchoring = stored.anchoring
        place = f"  {anchoring.place}" if anchoring.place else ""
        ended = anchoring.ended_utc_s
        over = newest not in (None, stored.number)
        not_seen = "not seen to weigh" if over else "not weighed yet"
        until = f" UTC, {not_seen}" if ended is None else f" to {clock(ended)} UTC"
        yield (
            f"{stored.number:>3}  {clock(anchoring.began_utc_s)}{until}  "
            f"{format_position(anchoring.drop)}{place}"
        )
        yield f"     {how_it_went(anchoring, units, over=over)}"
        if anchoring.slip is not None:
            yield f"     {slip_text(anchoring.slip, units)}"
