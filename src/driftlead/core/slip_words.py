"""What whoever has slipped the cable must write down, to find the anchor again."""

from collections.abc import Iterator

from driftlead.core.events_json import utc_text
from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.geodesy.plane import LocalPlane, distance_and_bearing
from driftlead.geodesy.position import Position
from driftlead.units import format_bearing, format_length, format_position
from driftlead.watch.slip_position import SlipPosition


def slip_text(slip: SlipPosition, utc_s: float | None) -> str:
    """The answer to a slip: the positions stand on lines of their own."""
    return "\n".join(_lines(slip, utc_s))


def _lines(slip: SlipPosition, utc_s: float | None) -> Iterator[str]:
    yield "Slipped: the watch has ended and the anchor stays. WRITE THIS DOWN, on paper:"
    yield ""
    yield f"    ANCHOR  {format_position(_place(slip.anchor))}"
    if slip.bow is not None:
        yield f"    BUOY    {format_position(_place(slip.bow))}"
    time = utc_text(None if utc_s is None else round(utc_s))
    said = "not known" if time is None else f"{time[:10]} {time[11:19]} UTC"
    yield f"    TIME    {said}"
    yield ""
    yield f"The anchor's place is good to {format_length(slip.anchor.sigma_m)}. {_buoy(slip)}"
    yield f"{_left_down(slip)} driftlead anchorages keeps all this."


def _buoy(slip: SlipPosition) -> str:
    if slip.bow is None:
        return "There is no fix to say where the bow was: mark the buoy otherwise."
    plane = LocalPlane(_place(slip.anchor))
    way_m, bearing_deg = distance_and_bearing(*plane.to_plane(slip.bow.lat_deg, slip.bow.lon_deg))
    return (
        "The buoy is where the bow was as the cable went, good to "
        f"{format_length(slip.bow.sigma_m)}: {format_length(way_m)} from the anchor, bearing "
        f"{format_bearing(bearing_deg)} from it."
    )


def _left_down(slip: SlipPosition) -> str:
    rode = "Rode" if slip.rode_m is None else f"{format_length(slip.rode_m)} of rode"
    depth = "." if slip.depth_m is None else f" in {format_length(slip.depth_m)} of water."
    return f"{rode} is left down{depth}"


def _place(estimate: AnchorEstimate) -> Position:
    return Position(estimate.lat_deg, estimate.lon_deg)
