"""``driftlead simulate``: made-up nights with known truth, to practise and to test with."""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from driftlead.cli.common import position
from driftlead.errors import UserInputError

if TYPE_CHECKING:
    from driftlead.simulate.scenario import Scenario

# As in simulate.anchor.DragMode, which is not loaded for the help.
MODES = ("creep", "steady", "hops", "breakout", "in-shift", "after-fetching-up")
_RATES_HZ = ("0.2", "0.5", "1", "2", "5", "10")


@click.command()
@click.option("--seed", type=int, default=1, show_default=True, help="Which night: any number.")
@click.option("--drags/--holds", default=None, help="What the anchor does.  [default: holds]")
@click.option("--mode", type=click.Choice(MODES), help="How it drags; else as chance has it.")
@click.option(
    "--hours",
    type=click.FloatRange(1.0, 48.0),
    default=8.0,
    show_default=True,
    help="How long the night is.",
)
@click.option(
    "--rate",
    "rate_hz",
    type=click.Choice(_RATES_HZ),
    default="1",
    show_default=True,
    help="Fixes a second.",
)
@click.option("--place", type=position, metavar="LAT,LON", help="Where; else somewhere at sea.")
@click.option("--late", is_flag=True, help="The watch is set late, the boat lying back already.")
@click.option("--nmea", is_flag=True, help="Bare NMEA 0183, without the skipper's commands.")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    help="File to write, compressed if it ends in .gz; with --count, a folder.  [default: by the"
    " seed, here: drawn-1-holds.log.gz, drawn-1-creep.nmea.gz]",
)
@click.option(
    "--truth",
    "truth_path",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write what is true of each night as JSON.",
)
@click.option(
    "--count",
    type=click.IntRange(1, 10_000),
    help="Make so many nights, with seeds from --seed on.",
)
@click.option("--force", is_flag=True, help="Write over files that are there already.")
def simulate(
    seed: int,
    drags: bool | None,
    mode: str | None,
    hours: float,
    rate_hz: str,
    place: dict[str, float] | None,
    late: bool,
    nmea: bool,
    out: Path | None,
    truth_path: Path | None,
    count: int | None,
    force: bool,
) -> None:
    """Make a night at anchor by chance: wind, tide, boat and receiver, with the truth known.

    All of it is synthetic: no boat, place or receiver in it is real. It is a recording that
    driftlead replay takes. The same options give the same night. --mode implies --drags.
    """
    from attrs import evolve

    from driftlead.geodesy.position import Position
    from driftlead.simulate.anchor import DragMode
    from driftlead.simulate.draw import draw_night
    from driftlead.simulate.night import simulate_night
    from driftlead.simulate.night_files import bare_text, full_truth_json, packed, recording_text
    from driftlead.simulate.scenario import set_late

    if mode is not None and drags is False:
        raise UserInputError(
            "--mode says how the anchor drags, and --holds that it does not.",
            remedy="Leave one of them out.",
        )
    nights: dict[Path, Scenario] = {}
    for number in range(seed, seed + (count or 1)):
        scenario = draw_night(
            number,
            drags=bool(drags) or mode is not None,
            mode=None if mode is None else DragMode(mode),
            hours=hours,
            interval_s=1.0 / float(rate_hz),
        )
        if place is not None:
            scenario = evolve(scenario, drop=Position(**place))
        nights[_path(out, scenario, nmea=nmea, many=count is not None)] = (
            set_late(scenario) if late else scenario
        )
    if not force:
        _check_free([*nights, *([] if truth_path is None else [truth_path])])
    truth = {}
    for path, scenario in nights.items():
        night = simulate_night(scenario)
        text = bare_text(night) if nmea else recording_text(night)
        _write(path, packed(text) if path.suffix == ".gz" else text.encode("ascii"))
        truth[scenario.name] = full_truth_json(night)
        click.echo(f"{path}: a synthetic night of {hours:g} h. {scenario.story}")
        if nmea:
            click.echo(f"  {_how_to_replay(scenario, path)}")
    if truth_path is not None:
        _write(truth_path, (json.dumps(truth, indent=2) + "\n").encode("ascii"))


def _path(out: Path | None, scenario: "Scenario", *, nmea: bool, many: bool) -> Path:
    """Where a night goes; its own name in the folder, unless it is given one."""
    if out is not None and not many:
        return out
    return (out or Path()) / f"{scenario.name}.{'nmea' if nmea else 'log'}.gz"


def _check_free(paths: Iterable[Path]) -> None:
    for path in paths:
        if path.exists():
            raise UserInputError(
                f"{path} is there already.", remedy="Name another, or write over it with --force."
            )


def _write(path: Path, content: bytes) -> None:
    try:
        if not path.parent.exists():
            path.parent.mkdir(parents=True)
            click.echo(f"{path.parent} was not there: the folder is made.", err=True)
        path.write_bytes(content)
    except OSError as error:
        raise UserInputError(
            f"{path} cannot be written: {error.strerror}.",
            remedy="Give a file in a folder that you may write to.",
        ) from error


def _how_to_replay(scenario: "Scenario", path: Path) -> str:
    """Say the options by which the watch of a bare log is kept."""
    boat, drop = scenario.boat, scenario.drop
    return (
        f"driftlead replay {path} --rode {scenario.anchoring.said_m:g}m "
        f"--drop={drop.lat_deg:.6f},{drop.lon_deg:.6f} "
        f"--bow-height {boat.bow_height_m:.1f}m --antenna-aft {boat.antenna_aft_m:.1f}m"
    )
