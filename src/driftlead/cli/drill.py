"""``driftlead drill``."""

from pathlib import Path
from typing import Final

import click

from driftlead.cli.common import daemon_options, find_socket
from driftlead.errors import DaemonError

_COLOURS: Final = {"OK": "green", "LOOK": "yellow", "FAIL": "red"}
_LIMIT_S: Final = 900.0


@click.command()
@click.option(
    "--until-acknowledged",
    is_flag=True,
    help="Sound until somebody acknowledges, and say who did and how soon.",
)
@daemon_options
def drill(until_acknowledged: bool, config_path: Path, socket_path: Path | None) -> None:
    """Wake everybody, as if she dragged, and see what arrives.

    The daemon raises an alarm that says that it is a drill. It sounds, flashes and is sent like a
    real one, and everybody is called in their turn, so tell the crew and those ashore before. Each
    line says whether and when a notifier has carried it. Then the drill acknowledges itself. It
    ends at once when something real happens. Ends with 1 if it did not arrive everywhere.
    """
    from driftlead.daemon.control_client import ask
    from driftlead.drill.words import ending, findings

    click.echo(
        "DRILL. It sounds until somebody acknowledges ..."
        if until_acknowledged
        else "DRILL. It sounds until everybody has been called ...",
        err=True,
    )
    request = {"drill": True, "until_acknowledged": until_acknowledged}
    answer = ask(find_socket(config_path, socket_path), request, limit_s=_LIMIT_S)
    report = answer["drill"]
    if report is None:
        raise DaemonError(answer["text"], remedy=answer["remedy"])
    for finding in findings(report):
        level = click.style(
            f"{finding.level.value:<5}", fg=_COLOURS[finding.level.value], bold=True
        )
        click.echo(f"{level} {finding.what}: {finding.text}")
        if finding.remedy:
            click.echo(f"      {finding.remedy}")
    click.echo(ending(report))
    if not report["good"]:
        raise click.exceptions.Exit(1)
