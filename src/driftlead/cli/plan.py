"""``driftlead plan``: how much rode, and will it hold, before the anchor is let go."""

import datetime as dt
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from driftlead.cli.common import config_option, duration, length, position, rode_or_depth
from driftlead.cli.stay import begins_at, boat_settings, read_tide, write_file, zone
from driftlead.errors import UserInputError

if TYPE_CHECKING:
    from driftlead.planning.plan_lights import Darkness
    from driftlead.tide.shares import TideCurve
    from driftlead.tide.table import TideTable

_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


def _height(text: str) -> float:
    """Read ``4m``, or ``-1.2m`` for what dries, into metres: a type for click."""
    from driftlead.tide.reading import parse_height_m

    try:
        return parse_height_m(text)
    except UserInputError as error:
        raise click.BadParameter(str(error)) from error


def _speed(text: str) -> float:
    """Read ``25kn`` or ``12m/s`` into metres a second: a type for click."""
    from driftlead.units import parse_speed_mps

    try:
        return parse_speed_mps(text)
    except UserInputError as error:
        raise click.BadParameter(str(error)) from error


@click.command()
@click.option("--depth", "depth_m", type=rode_or_depth, help="Depth of water when the stay begins.")
@click.option(
    "--charted",
    "charted_m",
    metavar="HEIGHT",
    type=_height,
    help="Charted depth; -1.2m where it dries.",
)
@click.option(
    "--tide",
    "tide_path",
    type=_FILE,
    help="Your high and low waters, CSV or TOML.  [default: as the configuration says]",
)
@click.option(
    "--curve",
    type=click.Choice(["cosine", "twelfths"]),
    default="cosine",
    show_default=True,
    help="How the tide runs from turn to turn.",
)
@click.option(
    "--wind",
    "wind_mps",
    metavar="SPEED",
    type=_speed,
    required=True,
    help="Mean wind to expect: 25kn.",
)
@click.option(
    "--gusts",
    "gust_mps",
    metavar="SPEED",
    type=_speed,
    help="Its gusts; by default 1.4 times the wind.",
)
@click.option(
    "--bottom",
    type=click.Choice(["sand", "mud", "clay", "weed", "rock"]),
    help="What the anchor goes into.",
)
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="By default today.")
@click.option("--at", "at", type=click.DateTime(["%H:%M"]), help="When it begins; else now.")
@click.option("--for", "for_s", type=duration, default="12h", show_default=True, help="How long.")
@click.option("--zone", type=zone, help="Zone of all times, UTC or +01:00.  [default: UTC]")
@click.option("--position", "place", metavar="LAT,LON", type=position, help="For sunset.")
@click.option("--scope", type=float, help="Your own rule of scope, such as 6.")
@click.option("--chain", "chain_m", type=length, help="Chain aboard.")
@click.option("--chain-size", "chain_size_m", type=length, help="Diameter of its wire: 8mm.")
@click.option("--chain-kg-per-m", type=float, help="What a metre of it weighs, if weighed.")
@click.option("--rope", "rope_m", type=length, help="Rope aboard, above the chain.")
@click.option("--rope-size", "rope_size_m", type=length, help="Its diameter.")
@click.option("--rope-kg-per-m", type=float, help="What a metre of it weighs dry, if weighed.")
@click.option("--rope-kind", type=click.Choice(["nylon", "polyester"]), help="[default: nylon]")
@click.option("--snubber", "snubber_m", type=length, help="Length of the nylon snubber.")
@click.option("--snubber-size", "snubber_size_m", type=length, help="Its diameter.")
@click.option("--length", "length_m", type=length, help="Of the boat, over all.")
@click.option("--beam", "beam_m", type=length, help="Of the boat.")
@click.option("--hull", type=click.Choice(["sail", "power"]), help="[default: sail]")
@click.option("--draught", "draught_m", type=length, help="Of the boat.")
@click.option("--bow-height", "bow_height_m", type=length, help="Bow roller above the water.")
@click.option("--drag-area", "drag_area_m2", type=float, help="To the wind, in m2, if known.")
@click.option("--clearance", "clearance_m", type=length, help="Water wanted under the keel.")
@click.option(
    "--units",
    type=click.Choice(["metric", "feet", "fathoms"]),
    help="Of the printout.  [default: metric]",
)
@click.option("--wind-units", type=click.Choice(["knots", "m/s"]), help="[default: knots]")
@click.option("--json", "as_json", is_flag=True, help="Print JSON, in SI units.")
@click.option(
    "--picture",
    "picture_path",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the rode from the side as SVG.",
)
@config_option
def plan(
    *,
    depth_m: float | None,
    charted_m: float | None,
    tide_path: Path | None,
    curve: str,
    wind_mps: float,
    gust_mps: float | None,
    bottom: str | None,
    date: dt.datetime | None,
    at: dt.datetime | None,
    for_s: float,
    place: dict[str, float] | None,
    scope: float | None,
    as_json: bool,
    picture_path: Path | None,
    config_path: Path,
    **boat: Any,
) -> None:
    """How much rode to veer, and will it hold.

    Measures of the boat and her tackle are taken from the configuration where it has them; options
    come first. Every length and speed has its unit: 6m, 20ft, 3fm, 25kn.

    It assists; the skipper decides, and local rules come first.
    """
    from attrs import evolve

    from driftlead.planning.plan import make_plan
    from driftlead.planning.plan_boat import plan_boat
    from driftlead.planning.plan_stay import plan_stay
    from driftlead.tackle.bottom import Bottom
    from driftlead.tide.shares import TideCurve

    zone_given = boat.pop("zone")
    settings = boat_settings(config_path, _typed(boat))
    configured_zone = settings.zone
    settings = evolve(settings, zone=zone_given or settings.zone)
    begins = begins_at(date, at, settings.zone)
    if tide_path is not None:
        tide: TideTable | None = _tide(tide_path, settings.zone, TideCurve(curve))
    else:
        sounded = depth_m is not None
        tide = _configured_tide(
            config_path, configured_zone, TideCurve(curve), begins, for_s, sounded=sounded
        )
    stay = plan_stay(
        begins=begins,
        for_s=for_s,
        depth_m=depth_m,
        charted_m=charted_m,
        tide=tide,
        wind_mps=wind_mps,
        gust_mps=gust_mps,
        bottom=None if bottom is None else Bottom(bottom),
        scope=scope,
    )
    printer = settings.printer
    made = make_plan(plan_boat(settings), stay, rode_step_m=printer.rode_step_m)
    dark = None if place is None else _darkness(place, stay.begins, stay.ends)
    if picture_path is not None:
        from driftlead.planning.plan_picture import draw_plan

        write_file(picture_path, draw_plan(made, printer))
    if as_json:
        from driftlead.planning.plan_json import plan_to_json

        click.echo(json.dumps(plan_to_json(made, dark), indent=2))
        return
    from driftlead.planning.plan_words import PlanWords, reminder_lines

    for line in (*PlanWords(made, printer).lines(), "", *reminder_lines(settings.length_m, dark)):
        click.echo(line)


def _typed(given: dict[str, Any]) -> dict[str, Any]:
    """Make words of options what the settings hold."""
    from driftlead.tackle.design_load import Hull
    from driftlead.tackle.rope import RopeKind
    from driftlead.units import UnitSystem, WindUnit

    words = {
        "hull": Hull,
        "rope_kind": RopeKind,
        "units": UnitSystem,
        "wind_units": WindUnit,
    }
    return {
        name: words[name](value) if name in words and value is not None else value
        for name, value in given.items()
    }


def _tide(path: Path, in_zone: dt.timezone, curve: "TideCurve") -> "TideTable":
    from driftlead.tide.table import TideTable

    return TideTable(read_tide(path, in_zone).turns, curve)


def _configured_tide(
    config_path: Path,
    in_zone: dt.timezone,
    curve: "TideCurve",
    begins: dt.datetime,
    for_s: float,
    *,
    sounded: bool,
) -> "TideTable | None":
    """The table of the configuration, whose times are of its own zone whatever is given.

    One that does not reach so far is told and left out where the depth was sounded: nobody has
    asked for it, and without it there is a plan all the same.
    """
    if not config_path.is_file():
        return None
    from driftlead.config.load import load_tide_path

    path = load_tide_path(config_path)
    if path is None:
        return None
    table = _tide(path, in_zone, curve)
    reaches = table.begins <= begins and begins + dt.timedelta(seconds=for_s) <= table.ends
    if sounded and not reaches:
        click.echo(
            f"Note: The tide table of the configuration, {path}, does not cover the stay. Add the "
            "high and low waters around it.",
            err=True,
        )
        return None
    return table


def _darkness(place: dict[str, float], begins: dt.datetime, ends: dt.datetime) -> "Darkness":
    from driftlead.geodesy.position import Position
    from driftlead.planning.plan_lights import darkness

    return darkness(Position(**place), begins, ends)
