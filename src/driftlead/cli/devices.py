"""``driftlead devices``."""

import json
from pathlib import Path

import click

from driftlead.cli.common import daemon_options, find_socket
from driftlead.errors import DaemonError


@click.command()
@click.option("--revoke", "device_id", metavar="ID", help="Unpair this device, at once.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@daemon_options
def devices(
    device_id: str | None, as_json: bool, config_path: Path, socket_path: Path | None
) -> None:
    """List the devices that may see the watch and give commands, or unpair one."""
    from driftlead.daemon.control_client import ask

    request = {"web": "devices"} if device_id is None else {"web": "revoke", "device": device_id}
    answer = ask(find_socket(config_path, socket_path), request)
    if not answer["ok"]:
        raise DaemonError(answer["text"], remedy=answer["remedy"])
    known = answer["web"]["devices"]
    if as_json:
        click.echo(json.dumps(known, indent=2))
        return
    if device_id is not None:
        click.echo(f"{device_id} is unpaired.")
    if not known:
        click.echo("No device is paired. driftlead pair shows the PIN for one.")
    for each in known:
        click.echo(f"{each['id']}  {each['paired_utc']}  {each['name']}")
