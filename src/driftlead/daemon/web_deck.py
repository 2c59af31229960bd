"""The daemon as the page sees it."""

from collections.abc import Awaitable, Callable, Mapping
from typing import Any

from attrs import evolve

from driftlead.config.model import Config
from driftlead.core.inputs import Command
from driftlead.daemon.control_protocol import Answer, Request
from driftlead.daemon.core_link import CoreLink
from driftlead.errors import DaemonError
from driftlead.sources.base import SourceHealth
from driftlead.web.deck import Glance, Outcome, glance_at
from driftlead.web.server import Aboard, WebServer


class WebDeck:
    """Looks at the watch, and gives it the commands that come from the page.

    ``answer`` carries a request of the control socket out; ``health`` tells of the sources, and
    ``troubles`` gives ``journal_ok``, ``recording_ok`` and ``lost_lines``.
    """

    def __init__(
        self,
        link: CoreLink,
        *,
        clock: Callable[[], float],
        answer: Callable[[Request], Awaitable[Answer]],
        health: Callable[[], Mapping[str, SourceHealth]],
        troubles: Callable[[], Mapping[str, Any]],
    ) -> None:
        self._link = link
        self._clock = clock
        self._answer = answer
        self._health = health
        self._troubles = troubles

    def glance(self) -> Glance:
        """Look. Raises DaemonError while the daemon starts or stops."""
        if not self._link.is_running:
            raise DaemonError("The daemon is starting or stopping.", remedy="Wait a moment.")
        glance = glance_at(self._link.core, self._clock())
        return evolve(glance, health=self._health(), **self._troubles())

    async def command(self, command: Command) -> Outcome:
        """Give a command, and wait for the disk. Raises DaemonError while the daemon stops."""
        answer = await self._answer(command)
        return Outcome(
            accepted=answer.done, saved=answer.ok, text=answer.text, remedy=answer.remedy
        )


def make_web_server(
    config: Config,
    deck: WebDeck,
    *,
    clock: Callable[[], float],
    sleep: Callable[[float], Awaitable[None]],
    on_fault: Callable[[str | None], None],
) -> WebServer | None:
    """Make the server of the page, if the configuration has one."""
    if config.web is None:
        return None
    aboard = Aboard(
        watch=config.watch,
        boat_name=config.boat_name,
        plan=config.web.plan,
        nights=config.recording.directory,
        state_dir=config.journal.path.parent,
        bill=config.bill,
    )
    return WebServer(config.web, deck, aboard, clock=clock, sleep=sleep, on_fault=on_fault)
