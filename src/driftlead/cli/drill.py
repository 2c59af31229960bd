"""``driftlead drill``."""

import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import click

from driftlead.cli.common import daemon_options, find_socket
from driftlead.errors import DaemonError

_COLOURS: Final = {"OK": "green", "LOOK": "yellow", "FAIL": "red"}
_LIMIT_S: Final = 900.0
_REFUSED_WITHIN_S: Final = 1.0
"""A refusal comes within it; a drill takes longer, for it sounds for a while."""


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
    line says whether and when a notifier has carried it. It sounds on for twelve seconds after the
    last has been called, so that a sleeper wakes, or until somebody acknowledges; then it
    acknowledges itself. It ends at once when something real happens. Ends with 1 if it did not
    arrive everywhere.
    """
    from driftlead.drill.words import ending, findings

    control = find_socket(config_path, socket_path)
    request = {"drill": True, "until_acknowledged": until_acknowledged}
    sounds = (
        "DRILL. It sounds until somebody acknowledges ..."
        if until_acknowledged
        else "DRILL. It sounds until everybody has been called, and twelve seconds more ..."
    )
    answer = _ask(control, request, sounds)
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


def _ask(control: Path, request: Mapping[str, Any], sounds: str) -> Any:
    """Ask for a drill, and say ``sounds`` if it is not refused at once: it takes its time."""
    from driftlead.daemon.control_client import ask

    saying = threading.Timer(_REFUSED_WITHIN_S, lambda: click.echo(sounds, err=True))
    saying.daemon = True
    saying.start()
    try:
        return ask(control, request, limit_s=_LIMIT_S)
    finally:
        saying.cancel()
