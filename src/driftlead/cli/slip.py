"""``driftlead slip``."""

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import click

from driftlead.cli.common import daemon_options, find_socket
from driftlead.errors import DaemonError


@click.command()
@daemon_options
def slip(config_path: Path, socket_path: Path | None) -> None:
    """The cable is slipped and buoyed, the anchor stays: end the watch, at once.

    Where the anchor lies is kept, and shown large: write it down. Weigh is for an anchor that comes
    up with her.
    """
    from driftlead.daemon.control_client import ask

    answer = ask(find_socket(config_path, socket_path), {"command": "slip"})
    # Whatever else went wrong, this is what must not be lost.
    for line in _large(answer["events"]):
        click.secho(line, bold=True)
    if not answer["ok"]:
        raise DaemonError(answer["text"], remedy=answer["remedy"])
    click.echo(answer["text"])


def _large(events: Iterable[Mapping[str, Any]]) -> Iterable[str]:
    from driftlead.cli.large import large
    from driftlead.geodesy.position import Position
    from driftlead.units import format_position

    for event in events:
        if event["kind"] == "state" and event["name"] == "slipped":
            anchor = event["anchor"]
            place = format_position(Position(anchor["lat"], anchor["lon"]))
            for half in place.split(" "):
                yield from ("", *large(half))
            yield ""
