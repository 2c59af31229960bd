"""Holding drills, one at a time, within a running daemon."""

from collections.abc import Awaitable, Callable, Iterable, Mapping
from typing import Final, Protocol, runtime_checkable

from driftlead.alerts.alert import Alert
from driftlead.alerts.call import Call
from driftlead.alerts.watch_bill import CrewMember
from driftlead.core.drill import DRILL
from driftlead.core.inputs import Command, Drill
from driftlead.core.reply import Event, Reply
from driftlead.drill.report import DrillReport, Ending
from driftlead.drill.tally import Tally
from driftlead.errors import RefusedError
from driftlead.notify.base import Notifier

LOOK_EVERY_S: Final = 0.2
SOUND_S: Final = 12.0
"""How long it sounds after the last has been called: a sleeper is to wake, and the crew to hear the
whole rhythm."""
GRACE_S: Final = 30.0
"""How long the last who was called has to carry it."""
UNANSWERED_S: Final = 600.0
"""How long a drill that somebody is to answer may sound."""


@runtime_checkable
class Forwards(Protocol):
    """A notifier that keeps what it has taken until it can be sent."""

    def still_has(self, alert: Alert) -> bool:
        """Whether ``alert`` was taken but has not gone out yet."""


class Drills:
    """Begins and ends drills by ``command``, and listens to what comes of them.

    Give it every event of the core (``hear``) and the end of every attempt of every notifier
    (``attempted``). ``trouble_of`` says what is known to be wrong with a notifier. ``patience_s``
    is how long it may take until everybody is called.
    """

    def __init__(
        self,
        *,
        command: Callable[[Command], Reply],
        clock: Callable[[], float],
        sleep: Callable[[float], Awaitable[None]],
        trouble_of: Callable[[str], str | None] = lambda _: None,
        crew: Iterable[CrewMember] = (),
        patience_s: float = 0.0,
    ) -> None:
        self._command = command
        self._clock = clock
        self._sleep = sleep
        self._trouble_of = trouble_of
        self._crew = tuple(crew)
        self._patience_s = patience_s
        self._tally: Tally | None = None
        self._drill: Alert | None = None

    def hear(self, event: Event) -> None:
        """Hear what came out of the core."""
        if self._tally is not None:
            self._tally.hear(event)
            if isinstance(event, Call) and event.alert.name == DRILL and self._drill is None:
                self._drill = event.alert

    def attempted(self, notifier: str, call: Call, trouble: str | None) -> None:
        """Hear that a notifier has ended an attempt: carried if ``trouble`` is None."""
        if self._tally is not None:
            self._tally.attempted(notifier, call, trouble, self._clock())

    async def hold(
        self,
        notifiers: Mapping[str, Notifier],
        *,
        unbuilt: Mapping[str, str],
        until_acknowledged: bool = False,
    ) -> DrillReport:
        """Hold one, and end it, whatever happens; what came of it.

        It lasts until every notifier has carried it or failed and the last of them has had
        ``SOUND_S`` to sound, or, ``until_acknowledged``, until somebody answers. ``unbuilt`` are
        the notifiers that do not exist, and why. Raises RefusedError when it is no time for a
        drill.
        """
        if self._tally is not None:
            raise RefusedError("A drill is on already.", remedy="Wait for its end.")
        began_s = self._clock()
        forwards = {name: each for name, each in notifiers.items() if isinstance(each, Forwards)}
        tally = self._tally = Tally(
            (*notifiers, *unbuilt), unbuilt=unbuilt, forwarding=forwards, began_s=began_s
        )
        has_begun = False
        try:
            reply = self._command(Drill())
            has_begun = reply.accepted
            if not has_begun:
                raise RefusedError(reply.text, remedy=reply.remedy)
            limit_s = UNANSWERED_S if until_acknowledged else self._patience_s + GRACE_S
            ending = await self._wait(tally, forwards, began_s + limit_s, until_acknowledged)
            return tally.report(ending, self._clock(), self._crew)
        finally:
            self._tally = self._drill = None
            if has_begun and tally.is_up:
                self._command(Drill(over=True))

    async def _wait(
        self,
        tally: Tally,
        forwards: Mapping[str, Forwards],
        until_s: float,
        until_acknowledged: bool,
    ) -> Ending:
        gone_s: dict[str, float] = {}
        while True:
            if tally.real_alert is not None:
                return Ending.REAL_ALERT
            if tally.answered is not None or not tally.is_up:
                return Ending.ACKNOWLEDGED
            self._see_who_has_sent(tally, forwards, gone_s)
            if tally.is_complete and not until_acknowledged:
                if self._clock() - tally.newest_s >= SOUND_S:
                    return Ending.COMPLETE
            elif self._clock() >= until_s:
                return Ending.OUT_OF_TIME
            await self._sleep(LOOK_EVERY_S)

    def _see_who_has_sent(
        self, tally: Tally, forwards: Mapping[str, Forwards], gone_s: dict[str, float]
    ) -> None:
        for name in tally.waiting:
            if self._drill is None or forwards[name].still_has(self._drill):
                gone_s.pop(name, None)
            elif name in gone_s:
                # A look later, so that one that gave it up has had time to say so.
                tally.sent(name, self._trouble_of(name), gone_s[name])
            else:
                gone_s[name] = self._clock()
