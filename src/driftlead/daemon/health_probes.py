"""The probes of this boat's computer."""

import time
from pathlib import Path

from driftlead.config.model import Config
from driftlead.daemon.health import Probe
from driftlead.daemon.health_clock import ClockProbe
from driftlead.daemon.health_disk import DiskProbe
from driftlead.daemon.health_heat import HeatProbe
from driftlead.daemon.health_supply import SupplyProbe


def make_probes(config: Config) -> tuple[Probe, ...]:
    """Make them: supply, heat, clock, and the disks of the journal and of the recording."""
    return (
        SupplyProbe(clock=time.monotonic),
        HeatProbe(),
        ClockProbe(clock=time.monotonic, wall=time.time),
        *(DiskProbe(name, folder) for name, folder in _folders(config).items()),
    )


def _folders(config: Config) -> dict[str, Path]:
    """One folder a disk: two on the same one would be two alerts for one situation."""
    folders = {
        "journal": config.journal.path.parent,
        "recording": config.recording.directory,
    }
    if _disk(folders["journal"]) == _disk(folders["recording"]):
        del folders["recording"]
    return folders


def _disk(folder: Path) -> int | None:
    """Identify the disk a folder is on, or will be made on."""
    for there in (folder, *folder.parents):
        try:
            return there.stat().st_dev
        except OSError:
            continue
    return None
