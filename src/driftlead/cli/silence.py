"""``driftlead silence``."""

from pathlib import Path

import click

from driftlead.cli.common import command, daemon_options


@click.command()
@click.argument("name", required=False)
@click.option("--by", metavar="WHO", help="Who asks for quiet, for the record.")
@click.option("--where", metavar="PLACE", help="From where, for the record.")
@daemon_options
def silence(
    name: str | None,
    by: str | None,
    where: str | None,
    config_path: Path,
    socket_path: Path | None,
) -> None:
    """Quiet for 30 seconds: every alert that sounds, or only those called NAME.

    It is no answer: unless somebody acknowledges meanwhile, the alert sounds again, and others are
    called as they would have been.
    """
    request = {"command": "silence", "name": name, "by": by, "where": where}
    command(config_path, socket_path, request)
