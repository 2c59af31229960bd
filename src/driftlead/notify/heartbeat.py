"""The heartbeat: once a second, as long as the watch is truly kept, and never by a mere timer.

It comes from the loop that feeds systemd's watchdog: the core has judged a fix, or has declared
that there is none to judge. What hears it can show, or sound, that it has stopped.
"""

import logging
from collections.abc import Iterable
from typing import Protocol, runtime_checkable

from driftlead.notify.lane import Outlet

_LOGGER = logging.getLogger(__name__)


@runtime_checkable
class HearsBeat(Protocol):
    """A notifier that must know from second to second that the watch is kept."""

    def beat(self, *, on_watch: bool) -> None:
        """Hear one beat; return at once. ``on_watch``: an anchor is down."""


class Heart:
    """Passes the beat on to those of the notifiers that hear it."""

    def __init__(self, outlets: Iterable[Outlet]) -> None:
        self._hearers = {
            outlet.name: outlet.notifier
            for outlet in outlets
            if isinstance(outlet.notifier, HearsBeat)
        }
        self._broken: set[str] = set()

    def beat(self, *, on_watch: bool) -> None:
        """Beat once. Never fails: a notifier that does is logged, the first time."""
        for name, hearer in self._hearers.items():
            try:
                hearer.beat(on_watch=on_watch)
            except Exception:
                if name not in self._broken:
                    _LOGGER.exception("Notifier %s failed at a heartbeat", name)
                self._broken.add(name)
