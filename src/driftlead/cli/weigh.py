"""``driftlead weigh``."""

from pathlib import Path

import click

from driftlead.cli.common import command, daemon_options


@click.command()
@daemon_options
def weigh(config_path: Path, socket_path: Path | None) -> None:
    """The anchor is off the bottom and comes up: end the watch, at once."""
    command(config_path, socket_path, {"command": "weigh"})
