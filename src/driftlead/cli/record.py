"""``driftlead record``."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from driftlead.cli.common import daemon_options, duration, find_socket
from driftlead.errors import DaemonError, RecordingError, UserInputError

if TYPE_CHECKING:
    from driftlead.config.model import Config
    from driftlead.daemon.raw_record import RawSummary


@click.command()
@click.argument("out", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--for", "for_s", metavar="DURATION", type=duration, help="Stop after this: 30s, 5min, 2h."
)
@daemon_options
def record(out: Path, for_s: float | None, config_path: Path, socket_path: Path | None) -> None:
    """Record what the sources say into the new file OUT, without a watch.

    Every line is kept as it came, with its time, to be looked at or replayed. Ctrl-C ends it.
    The daemon records by itself all the time: this is for when it is not running.
    """
    import asyncio

    from driftlead.cli.log_setup import set_up_log
    from driftlead.config.load import load_config
    from driftlead.daemon.control_client import ask_if_running

    config = load_config(config_path)
    if ask_if_running(find_socket(config_path, socket_path), {"status": True}) is not None:
        raise DaemonError(
            "The daemon is running: two cannot read one source.",
            remedy=f"It records everything itself, in {config.recording.directory}.",
        )
    set_up_log()
    try:
        summary = asyncio.run(_record(config, out, for_s))
    except FileExistsError as error:
        raise UserInputError(f"{out} is there already.", remedy="Name a new file.") from error
    except OSError as error:
        raise RecordingError(
            f"{out} cannot be written: {error.strerror}.", remedy="Check the path and the disk."
        ) from error
    _show(summary, out)


async def _record(config: "Config", out: Path, for_s: float | None) -> "RawSummary":
    import asyncio
    import signal
    import time

    from driftlead.daemon.raw_record import record_raw

    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, stop.set)
    if for_s is not None:
        loop.call_later(for_s, stop.set)
    with out.open("xb") as file:
        return await record_raw(config, file, stop=stop, monotonic=time.monotonic)


def _show(summary: "RawSummary", out: Path) -> None:
    click.echo(f"Recorded {summary.seconds:.0f} s in {out}.")
    for name, decoder in summary.sources.items():
        counts = [
            f"{kind.replace('_', ' ')} {count}"
            for fate in (decoder.accepted, decoder.unsupported)
            for kind, count in sorted(fate.items())
        ]
        bad = ", ".join(
            f"{reason.value.replace('_', ' ')} {count}"
            for reason, count in sorted(decoder.rejected.items())
        )
        rejected = f"; rejected: {bad}" if bad else ""
        click.echo(f"{name}: {', '.join(counts) or 'nothing understood'}{rejected}.")
