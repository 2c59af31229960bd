"""What the skipper is told when the mark was corrected."""

from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.geodesy.plane import LocalPlane, distance_and_bearing
from driftlead.geodesy.position import Position
from driftlead.units import format_bearing, format_length
from driftlead.watch.watch import Watch


def mark_text(before: AnchorEstimate | None, mark: Position, watch: Watch) -> str:
    """How far the mark was off, and a hint if the rode does not reach from it to the boat."""
    said = "The mark is corrected"
    if before is not None:
        plane = LocalPlane(Position(before.lat_deg, before.lon_deg))
        off_m, off_deg = distance_and_bearing(*plane.to_plane(mark.lat_deg, mark.lon_deg))
        said += f": {format_length(off_m)} towards {format_bearing(off_deg)} from where it was"
    if watch.anchored is not None:
        said += f", good to {watch.anchored.place.sigma_m:.0f} m"
    position, circle = watch.position, watch.circle
    if position is None or circle is None:
        return f"{said}."
    plane = LocalPlane(mark)
    away_m, _ = distance_and_bearing(*plane.to_plane(position.lat_deg, position.lon_deg))
    if away_m <= circle.radius_m:
        return f"{said}."
    return (
        f"{said}. She lies {format_length(away_m)} from it, where her rode reaches "
        f"{format_length(circle.radius_m)}: look at the place again, and at the rode."
    )
