"""A small crew, and a desk at which alerts are raised, answered and left unanswered."""

import pytest
from attrs import evolve

from driftlead.alerts.alert import Alert, Priority
from driftlead.alerts.call import Call
from driftlead.alerts.condition import Condition
from driftlead.alerts.management import AlertManagement, AlertNews
from driftlead.alerts.moment import Moment
from driftlead.alerts.paging import Paging
from driftlead.alerts.settings import AlertSettings, OutletSettings
from driftlead.alerts.watch_bill import CrewMember, WatchBill, WatchHours

HOUR_S = 3600.0
MIDNIGHT_S = 1_780_358_400.0
"""2026-06-02 00:00 UTC (date -u -d @1780358400)."""
CREW = AlertSettings(
    outlets=(
        OutletSettings(name="log"),
        OutletSettings(name="aft", at_least=Priority.WARNING),
        OutletSettings(name="fore", at_least=Priority.WARNING),
        OutletSettings(name="saloon", at_least=Priority.ALARM),
    ),
    bill=WatchBill(
        crew=(
            CrewMember(name="skipper", notifiers=("aft",), watches=(WatchHours(0.0, 4 * HOUR_S),)),
            CrewMember(
                name="mate", notifiers=("fore",), watches=(WatchHours(4 * HOUR_S, 8 * HOUR_S),)
            ),
            CrewMember(name="hand", notifiers=("saloon",)),
        )
    ),
)
"""The log is nobody's; the skipper stands the middle watch, the mate the morning watch."""


class Desk:
    """Alerts in the middle watch, beginning at 0 s, which is 01:00 in ship's time."""

    def __init__(
        self,
        settings: AlertSettings = CREW,
        *,
        alerts: tuple[Alert, ...] = (),
        pagings: tuple[Paging, ...] = (),
        last_number: int = 0,
        at_s: float = 0.0,
        utc_s: float | None = MIDNIGHT_S + HOUR_S,
    ) -> None:
        self.settings = settings
        self.now_s = at_s
        self._utc_s = utc_s if utc_s is None else utc_s - at_s
        self.management = AlertManagement(
            settings, alerts=alerts, pagings=pagings, last_number=last_number, mono_s=at_s
        )
        self.management.watch_is(True, at_s)
        self.news: list[AlertNews] = []
        self._saved = self._stands()

    @property
    def now(self) -> Moment:
        """Now."""
        return Moment(self.now_s, None if self._utc_s is None else self._utc_s + self.now_s)

    def note(self, news: list[AlertNews]) -> list[AlertNews]:
        """Keep what came out; as the daemon does, save with it how everything stands."""
        self.news += news
        if news:
            self._saved = self._stands()
        return news

    def raise_(
        self,
        name: str = "drag",
        priority: Priority | None = Priority.ALARM,
        *,
        instance: str = "",
        reason: str = "why",
    ) -> list[AlertNews]:
        """A condition holds; with no priority, no longer."""
        condition = Condition(name=name, instance=instance, priority=priority, reason=reason)
        return self.note(self.management.take(condition, self.now))

    def acknowledge(self) -> list[AlertNews]:
        """Somebody answers everything."""
        return self.note(self.management.acknowledge(None, self.now))

    def silence(self) -> list[AlertNews]:
        """Somebody wants quiet."""
        return self.note(self.management.silence(None, self.now))

    def hand_over(self, to: str) -> list[AlertNews]:
        """Somebody hands everything over."""
        return self.note(self.management.hand_over(to, None, self.now, by="mate"))

    def until(self, at_s: float) -> list[AlertNews]:
        """Let time pass; everything is decided at the instant it is due."""
        news: list[AlertNews] = []
        while (due_s := self.management.due_s()) <= at_s:
            self.now_s = max(self.now_s, due_s)
            news += self.management.advance(self.now)
        self.now_s = at_s
        return self.note(news)

    def _stands(self) -> tuple[tuple[Alert, ...], tuple[Paging, ...], int]:
        of = self.management
        return (of.alerts, of.pagings(self.now_s), of.last_number)

    def restarted(
        self,
        *,
        after_s: float = 10.0,
        settings: AlertSettings | None = None,
        as_saved: bool = False,
    ) -> "Desk":
        """The same after a power cut, on a clock that begins anew at 5 s.

        ``as_saved``: nothing was saved since the latest news.
        """
        utc_s = self.now.utc_s
        alerts, pagings, last_number = self._saved if as_saved else self._stands()
        return Desk(
            self.settings if settings is None else settings,
            alerts=alerts,
            pagings=pagings,
            last_number=last_number,
            at_s=5.0,
            utc_s=None if utc_s is None else utc_s + after_s,
        )

    def calls(self) -> list[Call]:
        """Every call so far."""
        return [each for each in self.news if isinstance(each, Call)]


def told(news: list[AlertNews]) -> list[str]:
    """Calls in short: when, why, who, and how loudly."""
    return [
        f"{call.mono_s:g} {call.reason.value} {'+'.join(call.outlets)} {call.loudness}"
        for call in news
        if isinstance(call, Call)
    ]


def with_escalation(settings: AlertSettings, **seconds: float) -> AlertSettings:
    """Other times."""
    return evolve(settings, escalation=evolve(settings.escalation, **seconds))


@pytest.fixture
def desk() -> Desk:
    """A desk with a crew."""
    return Desk()


@pytest.fixture(scope="session")
def make_desk() -> type[Desk]:
    """Make a desk: ``make_desk(settings)``."""
    return Desk


@pytest.fixture(scope="session")
def crew_settings() -> AlertSettings:
    """The settings with the crew."""
    return CREW
