"""``driftlead watch``: the daemon."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from driftlead.cli.common import config_option

if TYPE_CHECKING:
    from driftlead.config.model import Config


@click.command()
@config_option
@click.option(
    "--events",
    "events_path",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Append every event to this file or named pipe, one JSON object a line.",
)
def watch(config_path: Path, events_path: Path | None) -> None:
    """Keep the watch until stopped: systemd runs this, or you in a terminal.

    A watch that was on when the program or the power stopped is taken up again by itself.
    """
    import asyncio

    from driftlead.cli.log_setup import set_up_log
    from driftlead.config.load import load_config

    set_up_log()
    config = load_config(config_path)
    asyncio.run(_watch(config, events_path))


async def _watch(config: "Config", events_path: Path | None) -> None:
    import asyncio
    import signal

    from driftlead.daemon.health_probes import make_probes
    from driftlead.daemon.sd_notify import SdNotify
    from driftlead.daemon.service import Service

    service = Service(
        config,
        systemd=SdNotify.from_environment(),
        events_path=events_path,
        probes=make_probes(config),
    )
    for number in (signal.SIGTERM, signal.SIGINT):
        asyncio.get_running_loop().add_signal_handler(number, service.request_stop)
    # A watch started by hand goes on when its terminal is closed.
    signal.signal(signal.SIGHUP, signal.SIG_IGN)
    await service.run()
