"""``driftlead acknowledge``."""

from pathlib import Path

import click

from driftlead.cli.common import command, daemon_options


@click.command()
@click.argument("name", required=False)
@click.option("--by", metavar="WHO", help="Who answers, for the record.")
@click.option("--where", metavar="PLACE", help="From where, for the record.")
@daemon_options
def acknowledge(
    name: str | None,
    by: str | None,
    where: str | None,
    config_path: Path,
    socket_path: Path | None,
) -> None:
    """Answer every alert that waits for it, or only those called NAME.

    NAME is as driftlead status shows it ("notifier failed"), or with underscores for its blanks.

    The sound stops at once; the alert stays on the list until it is over. The watch goes on.
    """
    request = {"command": "acknowledge", "name": name, "by": by, "where": where}
    command(config_path, socket_path, request)
