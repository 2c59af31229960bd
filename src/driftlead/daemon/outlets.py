"""Building every notifier the owner asked for; one that cannot be built is told as failed."""

import contextlib
from collections.abc import Awaitable, Callable
from pathlib import Path

from driftlead.config.model import Config
from driftlead.errors import DriftleadError
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.notify.faults import NotifierFaults
from driftlead.notify.lane import Outlet
from driftlead.notify.registry import build_notifier
from driftlead.notify.settings import NotifierSettings

BuildNotifier = Callable[[NotifierSettings, NotifierContext], Notifier]


def build_outlets(
    config: Config,
    *,
    state_dir: Path,
    clock: Callable[[], float],
    sleep: Callable[[float], Awaitable[None]],
    faults: NotifierFaults,
    build: BuildNotifier = build_notifier,
) -> list[Outlet]:
    """Build the notifiers in the event loop; ``faults`` hears of those that cannot be built."""
    with contextlib.suppress(OSError):  # whoever needs the folder says so
        state_dir.mkdir(parents=True, exist_ok=True)
    outlets = []
    for settings in config.notifiers:
        context = NotifierContext(
            name=settings.name,
            boat=config.boat_name,
            state_dir=state_dir,
            clock=clock,
            sleep=sleep,
            report=faults.background(settings.name),
            at_least=settings.at_least,
        )
        try:
            notifier = build(settings, context)
        except DriftleadError as error:
            # It is in no dispatcher, so nothing will ever say that it works: it stays failed.
            faults.sending(settings.name, f"{error} Then restart driftlead.")
        else:
            outlets.append(Outlet(name=settings.name, notifier=notifier))
    return outlets
