"""``driftlead pair``."""

from pathlib import Path

import click

from driftlead.cli.common import daemon_options, find_socket
from driftlead.errors import DaemonError


@click.command()
@daemon_options
def pair(config_path: Path, socket_path: Path | None) -> None:
    """Show a PIN by which one more device may see the watch and give commands.

    Open the page on that device and type the PIN there. It is good for five minutes and for one
    device. Who has it may weigh the anchor as well as you may: do not leave it lying about.
    """
    from driftlead.daemon.control_client import ask

    answer = ask(find_socket(config_path, socket_path), {"web": "pair"})
    if not answer["ok"]:
        raise DaemonError(answer["text"], remedy=answer["remedy"])
    if not answer["web"]["served"]:
        click.echo("The page is not served at the moment: see driftlead status.", err=True)
    click.echo(f"PIN: {answer['web']['pin']}   (good for 5 minutes, for one device)")
