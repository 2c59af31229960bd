"""What a dragging boat is driving towards, and how long that takes, in a sentence for the alarm."""

import json
from typing import Final

from driftlead.errors import DriftleadError
from driftlead.geodesy.plane import LocalPlane
from driftlead.track.point import TrackPoint

SLOWEST_MPS: Final = 0.01
"""A drift slower than this is not yet known to be one: it gives no time."""


def to_leeward(
    around: str,
    plane: LocalPlane,
    point: TrackPoint,
    *,
    hull_m: float,
    bearing_deg: float,
    rate_mps: float | None,
) -> str:
    """Say what lies along the drift, empty if nothing is known to.

    ``around`` is the GeoJSON of the neighbourhood, empty if there is none; ``hull_m`` how far the
    hull may stretch from the antenna.
    """
    if not around:
        return ""
    # Geometry is a heavy thing to load, and few nights need it.
    from driftlead.planning.dangers import Dangers  # noqa: PLC0415
    from driftlead.planning.room_around import around_from_geojson  # noqa: PLC0415
    from driftlead.planning.room_lie import boats_as_dangers  # noqa: PLC0415

    try:
        known = around_from_geojson(json.loads(around), file="the neighbourhood", plane=plane)
    except (DriftleadError, ValueError):
        # Nothing may keep an alarm from being raised.
        return " What lies to leeward cannot be read."
    others = boats_as_dangers(known.boats, (bearing_deg + 180.0) % 360.0)
    dangers = Dangers([*known.dangers, *others], hull_m=hull_m)
    ahead = dangers.ahead(
        point.east_m, point.north_m, bearing_deg, max(SLOWEST_MPS, rate_mps or 0.0)
    )
    if ahead is None:
        return ""
    if ahead.minutes is None:
        return (
            f" Nothing known lies that way; {ahead.nearest_name} is {ahead.nearest_m:.0f} m off, "
            f"bearing {ahead.nearest_bearing_deg:03.0f}."
        )
    return f" {ahead.name} is {ahead.distance_m:.0f} m ahead, {ahead.minutes:.0f} min at this rate."
