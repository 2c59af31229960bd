"""``driftlead veer``."""

import re
from pathlib import Path
from typing import Final

import click

from driftlead.cli.common import above_zero, command, daemon_options

_NUMBER_BELOW_ZERO: Final = re.compile(r"-\s*[0-9.]")


class _Lengths(click.Command):
    """Takes ``-5m`` for a length, to say what is wrong with it, and not for an option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        for arg in args:
            if _NUMBER_BELOW_ZERO.match(arg):
                raise click.BadParameter(f"{arg!r}: a length must be above zero.", ctx=ctx)
        return super().parse_args(ctx, args)


@click.command(cls=_Lengths)
@click.argument("length_m", metavar="LENGTH", type=above_zero)
@click.option("--depth", "depth_m", type=above_zero, help="Depth of water; else the sounder's.")
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
