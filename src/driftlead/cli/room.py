"""``driftlead room``: will we fit, and what would we hit."""

import datetime as dt
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from driftlead.cli.common import config_option, duration, length, position, rode_or_depth
from driftlead.cli.stay import begins_at, boat_settings, read_tide, write_file, zone
from driftlead.errors import UserInputError

if TYPE_CHECKING:
    from driftlead.planning.neighbours import Boat
    from driftlead.planning.plan_settings import PlanSettings
    from driftlead.planning.room_hours import Hour

_FILE: Final = click.Path(exists=True, dir_okay=False, path_type=Path)
_OUT: Final = click.Path(dir_okay=False, path_type=Path)
_WIND_REMEDY: Final = "Write SW, 225, or from one clockwise to the other: SW-NW, 225-315."
EXIT_NO_ROOM: Final = 11


def parse_winds(text: str) -> tuple[float, float]:
    """Read ``SW``, ``225``, ``SW-NW`` or ``225-315`` into bearings, from and clockwise to."""
    parts = [part.strip() for part in text.split("-")]
    if not 1 <= len(parts) <= 2:
        raise UserInputError(f"{text!r} is no wind.", remedy=_WIND_REMEDY)
    bearings = [_bearing_deg(part, text) for part in parts]
    return bearings[0], bearings[-1]


def _bearing_deg(part: str, text: str) -> float:
    from driftlead.units import compass_point

    if re.fullmatch(r"[0-9]{1,3}(\.[0-9]+)?", part) and float(part) <= 360.0:
        return float(part)
    points = {compass_point(22.5 * n): 22.5 * n for n in range(16)}
    if part.upper() not in points:
        raise UserInputError(f"{text!r} is no wind.", remedy=_WIND_REMEDY)
    return points[part.upper()]


def _winds(text: str) -> tuple[float, float]:
    try:
        return parse_winds(text)
    except UserInputError as error:
        raise click.BadParameter(str(error)) from error


@click.command()
@click.option("--drop", metavar="LAT,LON", type=position, required=True, help="Where to let go.")
@click.option("--rode", "rode_m", type=rode_or_depth, required=True, help="The rode to lie to.")
@click.option(
    "--depth", "depth_m", type=rode_or_depth, required=True, help="Depth of water there now."
)
@click.option(
    "--on",
    "gear",
    type=click.Choice(["chain", "rope", "mooring"]),
    default="chain",
    show_default=True,
    help="What we lie to.",
)
@click.option("--around", "around_path", type=_FILE, help="Neighbours and dangers: GeoJSON, TOML.")
@click.option(
    "--wind",
    "winds",
    metavar="FROM[-TO]",
    type=_winds,
    help="Winds that may come, clockwise: SW, 225, SW-NW.  [default: any]",
)
@click.option("--margin", "margin_m", type=length, default="10m", show_default=True, help="Wanted.")
@click.option("--tide", "tide_path", type=_FILE, help="Your high and low waters, CSV or TOML.")
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="By default today.")
@click.option("--at", "at", type=click.DateTime(["%H:%M"]), help="When it begins; else now.")
@click.option("--for", "for_s", type=duration, default="12h", show_default=True, help="How long.")
@click.option("--zone", type=zone, help="Zone of all times, UTC or +01:00.  [default: UTC]")
@click.option("--name", help="The boat's.")
@click.option("--length", "length_m", type=length, help="Of the boat, over all.")
@click.option("--beam", "beam_m", type=length, help="Of the boat.  [default: a third of length]")
@click.option("--bow-height", "bow_height_m", type=length, help="Bow roller above the water.")
@click.option(
    "--units",
    type=click.Choice(["metric", "feet", "fathoms"]),
    help="Of the printout.  [default: metric]",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON, in SI units.")
@click.option("--geojson", "geojson_path", type=_OUT, help="Write circles and advice as GeoJSON.")
@click.option("--picture", "picture_path", type=_OUT, help="Draw the anchorage as SVG.")
@config_option
@click.pass_context
def room(
    ctx: click.Context,
    /,
    *,
    drop: dict[str, float],
    rode_m: float,
    depth_m: float,
    gear: str,
    around_path: Path | None,
    winds: tuple[float, float] | None,
    margin_m: float,
    tide_path: Path | None,
    date: dt.datetime | None,
    at: dt.datetime | None,
    for_s: float,
    as_json: bool,
    geojson_path: Path | None,
    picture_path: Path | None,
    config_path: Path,
    **boat: Any,
) -> None:
    """Will we fit, and what would we hit.

    Lays out where we and every neighbour may lie, for each wind and, with a tide table, each hour,
    and measures what is left between, the worst first. Says which least move of the drop point
    would clear everything.

    The boat's measures are taken from the configuration where it has them; options come first.
    Every length has its unit: 38m, 125ft, 21fm.

    Exit status: 0 if she fits, 11 if something comes nearer than the margin, others for errors.
    It assists; the skipper decides, and whoever lay there first has the room.
    """
    from driftlead.geodesy.plane import LocalPlane
    from driftlead.geodesy.position import Position
    from driftlead.planning.room import Around, look_round, winds_between
    from driftlead.records.around_file import load_around
    from driftlead.units import UnitSystem

    if boat["units"] is not None:
        boat["units"] = UnitSystem(boat["units"])
    settings = boat_settings(config_path, boat)
    plane = LocalPlane(Position(**drop))
    found = look_round(
        _own(settings, gear, rode_m, depth_m),
        Around() if around_path is None else load_around(around_path, plane, depth_m=depth_m),
        hours=_hours(tide_path, begins_at(date, at, settings.zone), for_s, settings.zone),
        winds_deg=None if winds is None else winds_between(*winds),
        margin_m=margin_m,
    )
    units = settings.printer
    if geojson_path is not None:
        from driftlead.planning.room_geojson import room_to_geojson

        write_file(geojson_path, json.dumps(room_to_geojson(found, plane)) + "\n")
    if picture_path is not None:
        from driftlead.planning.room_picture import draw_room

        write_file(picture_path, draw_room(found, units))
    from driftlead.planning.room_words import room_lines, room_to_data

    if as_json:
        click.echo(json.dumps(room_to_data(found), indent=2))
    else:
        for line in room_lines(found, units):
            click.echo(line)
    ctx.exit(0 if found.fits else EXIT_NO_ROOM)


def _own(settings: "PlanSettings", gear: str, rode_m: float, depth_m: float) -> "Boat":
    from driftlead.planning.neighbours import BEAM_OF_LENGTH, Boat, Gear

    if settings.length_m is None:
        raise UserInputError(
            "Not known: the boat's length.",
            remedy="Give --length 9.6m, or write it in [boat] of the configuration.",
        )
    beam_m = settings.beam_m
    return Boat(
        name=settings.name or "We",
        gear=Gear(gear),
        rode_m=rode_m,
        depth_m=depth_m,
        length_m=settings.length_m,
        beam_m=settings.length_m * BEAM_OF_LENGTH if beam_m is None else beam_m,
        bow_height_m=1.0 if settings.bow_height_m is None else settings.bow_height_m,
    )


def _hours(
    tide_path: Path | None, begins: dt.datetime, for_s: float, in_zone: dt.timezone
) -> "tuple[Hour, ...]":
    from driftlead.planning.room_hours import Hour, hours_of

    if tide_path is None:
        return (Hour(),)
    return hours_of(read_tide(tide_path, in_zone), begins, begins + dt.timedelta(seconds=for_s))
