"""Everything about alerts in one place: the book, and the calling of the crew."""

from collections.abc import Iterable
from typing import Final

from driftlead.alerts.alert import Alert, AlertState
from driftlead.alerts.book import AlertBook
from driftlead.alerts.call import Call
from driftlead.alerts.condition import Condition
from driftlead.alerts.escalation import Escalation
from driftlead.alerts.lifecycle import AlertEvent
from driftlead.alerts.moment import Moment
from driftlead.alerts.paging import Paging
from driftlead.alerts.settings import AlertSettings
from driftlead.errors import RefusedError

AlertNews = Alert | Call

_NOBODY_TO_TAKE_IT: Final = "Give [[crew]] with the notifiers of each in the configuration."


class AlertManagement:
    """Conditions, answers and time in; changes of alerts and calls out, each after its cause."""

    def __init__(
        self,
        settings: AlertSettings,
        *,
        alerts: Iterable[Alert] = (),
        pagings: Iterable[Paging] = (),
        last_number: int = 0,
        mono_s: float = 0.0,
    ) -> None:
        """Begin at ``mono_s``; ``alerts`` and ``pagings`` are those of a snapshot."""
        self._book = AlertBook(alerts, last_number=last_number)
        self._bill = settings.bill
        self._escalation = Escalation(settings)
        self._escalation.take_up(self._book.alerts, pagings, mono_s)

    @property
    def alerts(self) -> tuple[Alert, ...]:
        """Every alert that is not normal, most urgent first, then in order of raising."""
        return self._book.alerts

    @property
    def last_number(self) -> int:
        """The number of the latest raising."""
        return self._book.last_number

    def pagings(self, mono_s: float) -> tuple[Paging, ...]:
        """How far the calling has got, for a snapshot at ``mono_s``."""
        return tuple(paging.shifted(-mono_s) for paging in self._escalation.pagings)

    def find(self, name: str, instance: str = "") -> Alert | None:
        """The alert of this name and instance, if it is not normal."""
        return self._book.find(name, instance)

    def watch_is(self, on_watch: bool, since_s: float) -> None:
        """Say whether a watch is on, and since when if it has just begun (monotonic seconds)."""
        if not on_watch:
            self._escalation.watch_since_s = None
        elif self._escalation.watch_since_s is None:
            self._escalation.watch_since_s = since_s

    # -- what happens --------------------------------------------------------------------------

    def take(self, condition: Condition, now: Moment) -> list[AlertNews]:
        """Hear of a condition: nothing comes out if it is nothing new."""
        alert = self._book.take(condition, now)
        return [] if alert is None else self._told(alert, now)

    def acknowledge(
        self, name: str | None, now: Moment, *, by: str | None = None, where: str | None = None
    ) -> list[AlertNews]:
        """Answer every alert that waits for it, or those called ``name``."""
        return self._answer(AlertEvent.ACKNOWLEDGED, name, now, by=by, where=where)

    def silence(
        self, name: str | None, now: Moment, *, by: str | None = None, where: str | None = None
    ) -> list[AlertNews]:
        """Silence for half a minute every alert that sounds, or those called ``name``."""
        return self._answer(AlertEvent.SILENCED, name, now, by=by, where=where)

    def hand_over(
        self,
        to: str,
        name: str | None,
        now: Moment,
        *,
        by: str | None = None,
        where: str | None = None,
    ) -> list[AlertNews]:
        """Hand every alert nobody has answered, or those called ``name``, over to ``to``.

        That is one of the crew, or the notifier at which somebody takes it over (``where``): a
        display on the bridge. Raises RefusedError, with a remedy, unless it can be reached.
        """
        crew = ", ".join(member.name for member in self._bill.crew)
        there = to == where and self._escalation.knows(to)
        if not crew and not there:
            raise RefusedError("There is no watch bill.", remedy=_NOBODY_TO_TAKE_IT)
        if self._bill.find(to) is None and not there:
            raise RefusedError(f"Nobody called {to!r} is aboard.", remedy=f"The crew are: {crew}.")
        if not self._escalation.reaches(to):
            raise RefusedError(
                f"{to} cannot be reached: no notifier of theirs works.",
                remedy="Wake them yourself, or hand it over to somebody else.",
            )
        return self._answer(AlertEvent.TRANSFERRED, name, now, by=by, where=where, handed_to=to)

    def resumed(self, now: Moment) -> list[AlertNews]:
        """What to tell after a restart: what still sounds, and to whom all that is up was told.

        A silence is over: how long it had lasted since it was last saved is not known.
        """
        news: list[AlertNews] = []
        for alert in self._book.alerts:
            if alert.state is AlertState.SILENCED:
                sounds = self._book.time_out(alert.key, AlertEvent.SILENCE_RAN_OUT, now)
                news += self._told(sounds, now)
                continue
            if alert.state.sounds:
                news.append(alert)
            news += self._escalation.resumed(alert, now)
        return news

    # -- what time brings ----------------------------------------------------------------------

    def due_s(self) -> float:
        """When ``advance`` next has something to decide (monotonic seconds); infinity: never."""
        return self._escalation.due_s()

    def advance(self, now: Moment) -> list[AlertNews]:
        """Time has come to ``now``: limits that ran out, then the calls that are due."""
        news: list[AlertNews] = []
        for key, event in self._escalation.timed_out(now.mono_s):
            news += self._told(self._book.time_out(key, event, now), now)
        return [*news, *self._escalation.calls_due(now)]

    # -- inside --------------------------------------------------------------------------------

    def _answer(
        self,
        event: AlertEvent,
        name: str | None,
        now: Moment,
        *,
        by: str | None,
        where: str | None,
        handed_to: str | None = None,
    ) -> list[AlertNews]:
        changed = self._book.answer(event, name, now, by=by, where=where, handed_to=handed_to)
        return [news for alert in changed for news in self._told(alert, now)]

    def _told(self, alert: Alert, now: Moment) -> list[AlertNews]:
        return [alert, *self._escalation.hear(alert, now)]
