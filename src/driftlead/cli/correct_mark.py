"""``driftlead correct-mark``."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import click

from driftlead.cli.common import command, daemon_options, find_socket, length, position
from driftlead.errors import DaemonError, UserInputError

_FIX_LIMIT_S: Final = 10.0
_FARTHEST_M: Final = 1000.0
_HOW: Final = "Give --lat and --lon, or --by and --bearing."


@click.command("correct-mark")
@click.option("--lat", metavar="LAT", help="Latitude of the anchor, such as 46.5012 or 46 30.072N.")
@click.option("--lon", metavar="LON", help="Its longitude; west is negative, or W.")
@click.option(
    "--by",
    "by_m",
    metavar="LENGTH",
    type=length,
    help="How far the anchor is from the mark: 12m, 40ft.",
)
@click.option(
    "--bearing", "bearing_deg", type=click.FloatRange(0.0, 360.0), help="Which way, degrees true."
)
@click.option("--from-boat", is_flag=True, help="Length and bearing are from the bow.")
@daemon_options
def correct_mark(
    lat: str | None,
    lon: str | None,
    by_m: float | None,
    bearing_deg: float | None,
    from_boat: bool,
    config_path: Path,
    socket_path: Path | None,
) -> None:
    """The anchor does not lie where the watch has it, but there.

    It can be said at any time while the anchor is down: the watch goes on around the new place,
    with the rode and the depth that it knows, and a drag alarm that was up is over once somebody
    has acknowledged it.

    Without a heading --from-boat takes it that she points at her anchor.
    """
    if (lat is not None or lon is not None) and (by_m is not None or bearing_deg is not None):
        raise UserInputError("This says twice where the anchor is: give one.", remedy=_HOW)
    if lat is not None and lon is not None:
        if from_boat:
            raise UserInputError("--from-boat goes with --by and --bearing.", remedy=_HOW)
        place = position(f"{lat},{lon}")
    elif by_m is not None and bearing_deg is not None:
        if by_m > _FARTHEST_M:
            raise UserInputError(
                f"No mark is {by_m:.0f} m off.", remedy="Give at most 1000m, or --lat and --lon."
            )
        from driftlead.daemon.control_client import ask

        status = ask(find_socket(config_path, socket_path), {"status": True})["status"]
        place = place_from(status, by_m, bearing_deg, from_boat=from_boat)
    else:
        raise UserInputError("This does not say where the anchor is.", remedy=_HOW)
    command(config_path, socket_path, {"command": "correct-mark", "position": place})


def place_from(
    status: Mapping[str, Any], metres: float, bearing_deg: float, *, from_boat: bool
) -> dict[str, float]:
    """The place so far from the mark, or from the bow; ``status`` is what the daemon answers."""
    from driftlead.geodesy.plane import LocalPlane, offset
    from driftlead.geodesy.position import Position

    if status["anchor"] is None or not status["on_watch"]:
        raise DaemonError(
            "Refused: No anchor is down, so there is no mark.", remedy="Say driftlead let-go first."
        )
    start = status["anchor"]
    if from_boat:
        age_s = status["fix_age_s"]
        if status["position"] is None or age_s is None or age_s > _FIX_LIMIT_S:
            raise DaemonError(
                "Refused: There is no fresh fix, so where the bow is is not known.",
                remedy="Wait for the receiver, or give --lat and --lon.",
            )
        start = status["bow"]
        if start is None:
            start, metres = status["position"], metres + status["antenna_aft_m"]
    plane = LocalPlane(Position(start["lat"], start["lon"]))
    place = plane.to_position(*offset(bearing_deg, metres))
    return {"lat_deg": place.lat_deg, "lon_deg": place.lon_deg}
