"""``driftlead status``."""

import json
from pathlib import Path

import click

from driftlead.cli.common import daemon_options, find_socket


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
@daemon_options
def status(as_json: bool, config_path: Path, socket_path: Path | None) -> None:
    """Show how she lies, how sure that is, and every alert that is up."""
    from driftlead.daemon.control_client import ask

    answer = ask(find_socket(config_path, socket_path), {"status": True})["status"]
    if as_json:
        click.echo(json.dumps(answer, indent=2))
        return
    from driftlead.cli.words import status_lines

    for line in status_lines(answer):
        click.echo(line)
