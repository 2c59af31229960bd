"""Commands from the page: once each, in time, and by paired devices only."""

import logging
from collections.abc import Callable
from typing import Any, Final

from aiohttp import web
from attrs import asdict

from driftlead.errors import DaemonError
from driftlead.web.body import json_object
from driftlead.web.commands import AskedCommand, parse_command
from driftlead.web.deck import Deck, Outcome
from driftlead.web.devices import Device
from driftlead.web.live import Live
from driftlead.web.once import Once
from driftlead.web.problem import ProblemError

_LOGGER = logging.getLogger(__name__)
_LOOK: Final = "Look how she lies now, and ask again if it is still wanted."


class Acting:
    """Handles ``POST /api/v1/commands``."""

    def __init__(
        self, deck: Deck, live: Live, *, device: Callable[[web.Request], Device | None]
    ) -> None:
        self._deck = deck
        self._live = live
        self._device = device
        self._once = Once(live.run_s)

    async def command(self, request: web.Request) -> web.Response:
        """Carry out a command."""
        device = self._device(request)
        assert device is not None  # noqa: S101  # the guard lets nobody else here
        data = await json_object(request)
        asked = parse_command(data, by=device.name)
        self._check_timely(device, asked)
        remembered = self._once.take(device.id, asked.key)
        outcome = await self._carry_out(asked)
        remembered.outcome = outcome
        _LOGGER.log(
            logging.INFO if outcome.accepted else logging.WARNING,
            "%r (%s): %s %s",
            device.name,
            device.id,
            outcome.text,
            outcome.remedy,
        )
        return web.json_response(asdict(outcome))

    def _check_timely(self, device: Device, asked: AskedCommand) -> None:
        before = self._once.seen(device.id, asked.key)
        if before is not None:
            raise ProblemError(
                409,
                "replayed",
                "This was asked for before, and is not done twice.",
                answer=_answer(before.outcome),
            )
        if asked.run_id != self._live.run_id:
            raise ProblemError(409, "too_old", "The daemon was restarted since.", _LOOK)
        if not self._once.is_timely(asked.run_s):
            raise ProblemError(409, "too_old", "This was asked for too long ago.", _LOOK)
        if self._once.is_full:
            raise ProblemError(
                429, "busy", "So many commands were given just now.", "Wait a minute."
            )

    async def _carry_out(self, asked: AskedCommand) -> Outcome:
        try:
            return await self._deck.command(asked.command)
        except DaemonError as error:
            return _refused(error.message, error.remedy)


def _refused(text: str, remedy: str) -> Outcome:
    return Outcome(accepted=False, saved=False, text=text, remedy=remedy)


def _answer(outcome: Outcome | None) -> dict[str, Any] | None:
    return None if outcome is None else asdict(outcome)
