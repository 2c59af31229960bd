"""``driftlead transfer``."""

from pathlib import Path

import click

from driftlead.cli.common import command, daemon_options


@click.command()
@click.argument("to", metavar="CREW")
@click.argument("name", required=False)
@click.option("--by", metavar="WHO", help="Who hands over, for the record.")
@click.option("--where", metavar="PLACE", help="From where, for the record.")
@daemon_options
def transfer(
    to: str,
    name: str | None,
    by: str | None,
    where: str | None,
    config_path: Path,
    socket_path: Path | None,
) -> None:
    """Hand every alert that waits, or only those called NAME, over to CREW, one of the watch bill.

    From then on it sounds at CREW's notifiers alone. Unless they acknowledge it in time, by default
    in 90 seconds, it is everybody's again.
    """
    request = {"command": "transfer", "to": to, "name": name, "by": by, "where": where}
    command(config_path, socket_path, request)
