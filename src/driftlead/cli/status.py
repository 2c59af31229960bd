"""``driftlead status``."""

import json
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from driftlead.cli.common import daemon_options, duration, find_socket

if TYPE_CHECKING:
    from driftlead.cli.status_follow import Seen

_Say = Callable[[Mapping[str, Any]], str]


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Everything, as one JSON object.")
@click.option("--line", "as_line", is_flag=True, help="One short line, for a status bar.")
@click.option("--follow", is_flag=True, help="Look again and again, until Ctrl-C.")
@click.option(
    "--every", "every_s", type=duration, default="1s", show_default=True, help="With --follow."
)
@daemon_options
@click.pass_context
def status(
    ctx: click.Context,
    /,
    *,
    as_json: bool,
    as_line: bool,
    follow: bool,
    every_s: float,
    config_path: Path,
    socket_path: Path | None,
) -> None:
    """Show how she lies, how sure that is, and every alert that is up.

    With --follow the screen is kept up to date, and says so when the daemon no longer answers.
    --follow with --line or --json prints a line for each look (--line: each change) instead, as it
    does where the output is no terminal.

    With --line and no daemon it says so in the line, and the exit status is 1.
    """
    if as_json and as_line:
        raise click.UsageError("--json and --line exclude each other.")
    if every_s <= 0.0:
        raise click.BadParameter("0 s is no time to wait.", param_hint="--every")
    socket = find_socket(config_path, socket_path)
    if follow:
        _follow(socket, every_s, as_json=as_json, as_line=as_line)
        return
    from driftlead.daemon.control_client import NotRunningError, ask

    try:
        answer = ask(socket, {"status": True})["status"]
    except NotRunningError:
        if not as_line:
            raise
        from driftlead.cli.status_short import NO_DAEMON

        click.echo(NO_DAEMON)
        ctx.exit(1)
    if as_line:
        from driftlead.cli.status_short import short_status

        click.echo(short_status(answer))
    elif as_json:
        click.echo(json.dumps(answer, indent=2))
    else:
        from driftlead.cli.words import status_lines

        for line in status_lines(answer):
            click.echo(line)


def _follow(socket: Path, every_s: float, *, as_json: bool, as_line: bool) -> None:
    from driftlead.cli.status_follow import ANSWER_LIMIT_S, follow
    from driftlead.daemon.control_client import ask

    def look() -> Mapping[str, Any]:
        found: Mapping[str, Any] = ask(socket, {"status": True}, limit_s=ANSWER_LIMIT_S)["status"]
        return found

    looks = follow(look, every_s=every_s, clock=time.monotonic, sleep=time.sleep)
    try:
        if as_json or as_line or not sys.stdout.isatty():
            for text in followed_lines(looks, as_json=as_json):
                click.echo(text)
        else:
            _show(looks)
    except (KeyboardInterrupt, BrokenPipeError):
        return


def followed_lines(looks: "Iterator[Seen]", *, as_json: bool) -> Iterator[str]:
    """One line for each look; a short line only where it differs from the one before."""
    from driftlead.cli.status_short import NO_DAEMON, short_status

    before = ""
    for seen in looks:
        live = seen.status if seen.is_live else None
        if as_json:
            yield json.dumps(live, separators=(",", ":"))
            continue
        text = NO_DAEMON if live is None else short_status(live)
        if text != before:
            yield text
        before = text


def _show(looks: "Iterator[Seen]") -> None:
    # The terminal library is a large import that no other verb needs.
    from rich.live import Live

    from driftlead.cli.status_screen import screen

    with Live(auto_refresh=False, screen=True) as live:
        for seen in looks:
            live.update(screen(seen), refresh=True)
