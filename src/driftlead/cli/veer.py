"""``driftlead veer``."""

from pathlib import Path

import click

from driftlead.cli.common import command, daemon_options, length


@click.command()
@click.argument("length_m", metavar="LENGTH", type=length)
@click.option("--depth", "depth_m", type=length, help="Depth of water; else the sounder's.")
@daemon_options
def veer(
    length_m: float, depth_m: float | None, config_path: Path, socket_path: Path | None
) -> None:
    """The rode out is now LENGTH in all, from the bow roller to the anchor.

    Say it whenever rode is veered or shortened in: the drag circle is drawn by it. LENGTH has a
    unit: 30m, 100ft, 5fm, 2shackles.
    """
    request = {"command": "veer", "rode_m": length_m, "depth_m": depth_m}
    command(config_path, socket_path, request)
