"""Whether the display that has taken an alert over still lives.

While it has, everybody else's sounders are quiet. So a display must beat to be given an alert, and
must go on beating to keep it: one that falls silent is a failed notifier, and from those alerts are
taken back.
"""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Final

from driftlead.alerts.alert import Alert
from driftlead.alerts.book import AlertKey
from driftlead.alerts.lifecycle import SILENCE_S
from driftlead.notify.alert_sentences import Heartbeat

LATE: Final = 1.5
"""A display is given up after so many of its own intervals without a beat."""
LONGEST_INTERVAL_S: Final = SILENCE_S / LATE
"""One that beats more rarely is not given alerts: its death would be quieter than a silence."""
_MOST_DISPLAYS: Final = 16


class Takeover:
    """Hears the heartbeats of displays, by their talkers, and minds the one that has alerts.

    ``on_trouble`` hears that it has fallen silent, and None once a display beats again or nothing
    that it had waits for an answer any more.
    """

    def __init__(
        self,
        *,
        clock: Callable[[], float],
        sleep: Callable[[float], Awaitable[None]],
        on_trouble: Callable[[str | None], None],
    ) -> None:
        self._clock = clock
        self._sleep = sleep
        self._on_trouble = on_trouble
        self._lives_until_s: dict[str, float] = {}
        self._holder: str | None = None
        self._lent_until_s = 0.0
        self._held: set[AlertKey] = set()
        self._troubled = False
        self._minding: asyncio.Task[None] | None = None

    def hear(self, beat: Heartbeat) -> None:
        """Hear a display: it works, or says itself that it does not."""
        known = self._lives_until_s
        if not beat.works or not 0.0 < beat.interval_s <= LONGEST_INTERVAL_S:
            known.pop(beat.talker, None)
            if self._minding is not None and beat.talker == self._holder:
                self._lost("says that it does not work, or beats too rarely")
        elif beat.talker in known or len(known) < _MOST_DISPLAYS:
            known[beat.talker] = self._clock() + LATE * beat.interval_s
            if self._holder is None:
                # Which one had it before a restart is not known.
                self._holder = beat.talker
            self._say(None)

    def may_take(self, talker: str) -> bool:
        """Whether this display beats, and often enough to be trusted with an alert."""
        return self._lives_until_s.get(talker, 0.0) > self._clock()

    def taken_by(self, talker: str) -> None:
        """Note which display has asked for an alert and was given it."""
        self._holder = talker

    def told(self, alert: Alert, *, ours: bool) -> None:
        """Hear each change of an alert, and whether the displays are responsible for it."""
        if ours:
            self._held.add(alert.key)
            if self._minding is None:
                self._lent_until_s = self._clock() + SILENCE_S
                task = self._mind()
                self._minding = asyncio.get_running_loop().create_task(task, name="mind display")
        elif not (self._troubled and alert.state.is_unanswered):
            self._held.discard(alert.key)
            if not self._held:
                self.rest()
                self._say(None)

    def rest(self) -> None:
        """Mind nobody any more."""
        self._holder = None
        if self._minding is not None:
            self._minding.cancel()
            self._minding = None

    async def _mind(self) -> None:
        while (left_s := self._until_s() - self._clock()) > 0.0:
            await self._sleep(left_s)
        self._lost("has fallen silent")

    def _until_s(self) -> float:
        if self._holder is None:
            return self._lent_until_s
        return self._lives_until_s.get(self._holder, 0.0)

    def _lost(self, how: str) -> None:
        self._say(f"The display that had taken an alert over {how}. The alert is taken back.")
        self.rest()

    def _say(self, text: str | None) -> None:
        if self._troubled or text is not None:
            self._troubled = text is not None
            self._on_trouble(text)
