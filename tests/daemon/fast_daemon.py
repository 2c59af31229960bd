"""The daemon's own service as a process whose time runs as fast as a test says.

    python fast_daemon.py CONFIG CLOCK

All but the time is the daemon: sources, core, journal, dispatcher, control socket. ``CLOCK`` is a
page of memory shared with the test (see ``PacedClock``). A notifier of kind ``told`` writes each
call down, and is done when that is on the disk.
"""

import asyncio
import json
import logging
import math
import mmap
import os
import selectors
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from driftlead.alerts.alert import Alert
from driftlead.alerts.call import Call
from driftlead.config.load import load_config
from driftlead.core.events_json import event_to_json
from driftlead.daemon.sd_notify import SdNotify
from driftlead.daemon.service import Service
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.notify.registry import build_notifier
from driftlead.notify.settings import NotifierSettings

LOOK_AGAIN_S = 0.01
"""At the latest so soon after it was changed a new pace is seen."""


class PacedClock:
    """Seconds that go by at a pace of their own, 0 being not at all.

    The page holds doubles: how many stretches there are, then for each of them the monotonic
    second it began at, what the clock showed then, and its pace. Stretches are only ever added and
    are counted last, so that nobody reads half of one.
    """

    def __init__(self, page: Path) -> None:
        with page.open("rb") as file:
            shared = mmap.mmap(file.fileno(), 0, prot=mmap.PROT_READ)
        self._doubles = memoryview(shared).cast("d")

    def __call__(self) -> float:
        """Give the time."""
        began_s, showed_s, pace = self._stretch()
        return showed_s + (time.monotonic() - began_s) * pace

    def in_truth_s(self, seconds: float) -> float:
        """How long it takes until the clock shows ``seconds`` more."""
        pace = self._stretch()[2]
        return seconds / pace if pace else math.inf

    def _stretch(self) -> tuple[float, float, float]:
        at = 3 * int(self._doubles[0]) - 2
        return self._doubles[at], self._doubles[at + 1], self._doubles[at + 2]


class PacedSelector(selectors.EpollSelector):
    """Waits as long as the clock says."""

    def __init__(self, clock: PacedClock) -> None:
        super().__init__()
        self._clock = clock

    def select(self, timeout: float | None = None) -> Any:
        """Wait for ``timeout`` seconds of the clock."""
        if timeout:
            timeout = min(self._clock.in_truth_s(timeout), LOOK_AGAIN_S)
        return super().select(timeout)


class PacedLoop(asyncio.SelectorEventLoop):
    """An event loop in which every wait and limit is one of the clock."""

    def __init__(self, clock: PacedClock) -> None:
        super().__init__(PacedSelector(clock))
        self._clock = clock

    def time(self) -> float:
        """Give the time."""
        return self._clock()


class Told:
    """Writes down each call: the time, and the call as the journal has it."""

    def __init__(self, path: Path, *, clock: Callable[[], float], lasts: bool) -> None:
        self._file = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        self._clock = clock
        self.lasts = lasts

    async def notify(self, alert: Alert) -> None:
        """Be only ever called."""
        raise AssertionError(alert)

    async def called(self, call: Call) -> None:
        """Write it down."""
        told = {"at": self._clock(), "call": json.loads(event_to_json(call))}
        os.write(self._file, (json.dumps(told) + "\n").encode())
        os.fsync(self._file)


def main(config_path: str, page: str) -> None:
    """Keep the watch until killed."""
    logging.basicConfig(level=logging.WARNING)
    clock = PacedClock(Path(page))
    config = load_config(Path(config_path))

    def make(settings: NotifierSettings, context: NotifierContext) -> Notifier:
        if settings.kind != "told":
            return build_notifier(settings, context)
        path, lasts = Path(settings.options["path"]), settings.options["lasts"]
        return Told(path, clock=clock, lasts=lasts)

    async def watch() -> None:
        systemd = SdNotify.from_environment()
        await Service(config, monotonic=clock, systemd=systemd, make_notifier=make).run()

    with asyncio.Runner(loop_factory=lambda: PacedLoop(clock)) as runner:
        runner.run(watch())


if __name__ == "__main__":
    main(*sys.argv[1:])
