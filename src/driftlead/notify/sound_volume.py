"""Turning the sound card up when somebody must be woken, whoever turned it down.

The Code on Alerts asks that volume controls be overridden on an alert (IMO A.1021(26)).
"""

import re
from collections.abc import Awaitable, Callable

from driftlead.errors import NotifierError
from driftlead.notify.program import run_program

LIMIT_S = 3.0
_CARD = re.compile(r"[a-z]+:(?:CARD=)?(?P<card>[^,]+)")


class Volume:
    """One simple mixer control of one card; ``card`` None is ALSA's default card."""

    def __init__(
        self,
        control: str,
        *,
        card: str | None,
        percent: int,
        sleep: Callable[[float], Awaitable[None]],
    ) -> None:
        self._on_card = () if card is None else ("-c", card)
        self._control = control
        self._percent = percent
        self._sleep = sleep
        self.trouble: str | None = None

    async def force_up(self) -> None:
        """Set it; what went wrong, if anything did, is then in ``trouble``."""
        await self._run("sset", self._control, f"{self._percent}%", "unmute")

    async def probe(self) -> None:
        """Look whether the control is there, without touching it; ``trouble`` tells."""
        await self._run("sget", self._control)

    async def _run(self, *arguments: str) -> None:
        try:
            await run_program(
                ("amixer", "-q", *self._on_card, *arguments), limit_s=LIMIT_S, sleep=self._sleep
            )
        except NotifierError as error:
            listing = " ".join(("amixer", *self._on_card, "scontrols"))
            self.trouble = (
                f"The volume cannot be turned up: {error.message} `{listing}` lists the controls:"
                " correct 'volume_control', or turn it up by hand (alsamixer)."
            )
        else:
            self.trouble = None


def card_of(device: str | None) -> str | None:
    """Work out the card of an ALSA device: ``plughw:CARD=Device,DEV=0`` and ``hw:1,0`` name one."""
    found = None if device is None else _CARD.match(device)
    return None if found is None else found["card"]
