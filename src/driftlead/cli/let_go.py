"""``driftlead let-go``."""

from pathlib import Path
from typing import Any

import click

from driftlead.cli.common import command, daemon_options, position, rode_or_depth
from driftlead.errors import UserInputError


@click.command()
@click.option("--rode", "rode_m", type=rode_or_depth, help="The rode out, if it is known already.")
@click.option("--depth", "depth_m", type=rode_or_depth, help="Depth of water; else the sounder's.")
@click.option(
    "--late",
    is_flag=True,
    help="It was let go a while ago and she lies back to it: work out where it is.",
)
@click.option(
    "--drop",
    metavar="LAT,LON",
    type=position,
    help="Where the anchor lies, if you marked it otherwise.",
)
@daemon_options
def let_go(
    rode_m: float | None,
    depth_m: float | None,
    late: bool,
    drop: dict[str, float] | None,
    config_path: Path,
    socket_path: Path | None,
) -> None:
    """The anchor touches bottom: mark it and begin the watch.

    Say it at that moment, with the bow over the anchor. Said too early, say it again. Lengths
    have a unit: 30m, 100ft, 5fm.
    """
    if late and drop is not None:
        raise UserInputError(
            "--late and --drop exclude each other.",
            remedy="Where the anchor's place is known, leave --late out.",
        )
    request: dict[str, Any] = {
        "command": "let-go",
        "rode_m": rode_m,
        "depth_m": depth_m,
        "drop": drop,
        "late": late,
    }
    command(config_path, socket_path, request)
