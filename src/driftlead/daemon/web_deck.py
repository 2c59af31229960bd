"""The daemon as the page sees it."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Mapping
from typing import Any, Final

from attrs import evolve

from driftlead.config.model import Config
from driftlead.core.inputs import Command, Drill
from driftlead.daemon.control_protocol import Answer, DrillRequest, Request
from driftlead.daemon.core_link import CoreLink
from driftlead.errors import DaemonError, RefusedError
from driftlead.sources.base import SourceHealth
from driftlead.web.deck import Glance, Outcome, glance_at
from driftlead.web.server import Aboard, WebServer

_LOGGER = logging.getLogger(__name__)
_DRILL_BEGUN: Final = (
    "The drill has begun. It sounds until somebody acknowledges, for ten minutes at the most."
)


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
        self._holding: asyncio.Future[Answer] | None = None
        self._report: Mapping[str, Any] | None = None
        self._drills = 0

    def glance(self) -> Glance:
        """Look. Raises DaemonError while the daemon starts or stops."""
        if not self._link.is_running:
            raise DaemonError("The daemon is starting or stopping.", remedy="Wait a moment.")
        glance = glance_at(self._link.core, self._clock())
        return evolve(
            glance,
            health=self._health(),
            drill=self._report,
            drills=self._drills,
            **self._troubles(),
        )

    async def command(self, command: Command) -> Outcome:
        """Give a command, and wait for the disk. Raises DaemonError while the daemon stops.

        A drill sounds until somebody answers; what came of it is in ``glance`` then.
        """
        if command == Drill():
            return await self._begin_drill()
        answer = await self._answer(command)
        return Outcome(
            accepted=answer.done, saved=answer.ok, text=answer.text, remedy=answer.remedy
        )

    async def _begin_drill(self) -> Outcome:
        request = DrillRequest(until_acknowledged=True)
        holding = asyncio.ensure_future(self._answer(request))
        # It is refused before it waits for anything, or not at all.
        await asyncio.sleep(0)
        if holding.done() and (error := holding.exception()) is not None:
            if isinstance(error, RefusedError):
                return Outcome(accepted=False, saved=False, text=error.message, remedy=error.remedy)
            raise error
        self._holding = holding
        holding.add_done_callback(self._drill_ended)
        return Outcome(accepted=True, saved=True, text=_DRILL_BEGUN)

    def _drill_ended(self, holding: asyncio.Future[Answer]) -> None:
        if holding.cancelled():
            return
        if (error := holding.exception()) is not None:
            _LOGGER.error("A drill begun from the page broke off: %s", error)
            return
        self._report = holding.result().drill
        self._drills += 1


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
