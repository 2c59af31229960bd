"""A core, a dispatcher and the drills between them, on a clock the test turns."""

import asyncio
from collections.abc import AsyncIterator, Mapping

import pytest_asyncio

from driftlead.alerts.alert import Alert
from driftlead.alerts.call import Call
from driftlead.alerts.settings import AlertSettings, OutletSettings
from driftlead.alerts.watch_bill import CrewMember, WatchBill
from driftlead.core.core import Core
from driftlead.core.inputs import Command, Fault
from driftlead.core.reply import Event, Reply
from driftlead.core.settings import CoreSettings
from driftlead.drill.drills import Drills
from driftlead.drill.report import DrillReport
from driftlead.notify.base import Notifier
from driftlead.notify.dispatcher import Dispatcher
from driftlead.notify.lane import Outlet
from driftlead.testing import FakeTime


class Chain:
    """The whole chain from a command to the notifiers, as the daemon has it."""

    def __init__(
        self,
        notifiers: Mapping[str, Notifier],
        *,
        crew: tuple[CrewMember, ...] = (),
        unbuilt: Mapping[str, str] | None = None,
    ) -> None:
        self.time = FakeTime()
        self.notifiers = dict(notifiers)
        self.unbuilt = dict(unbuilt or {})
        self.troubles: dict[str, str] = {}
        self.events: list[Event] = []
        names = (*self.notifiers, *self.unbuilt)
        alerts = AlertSettings(
            outlets=tuple(OutletSettings(name=name) for name in names), bill=WatchBill(crew=crew)
        )
        self.core = Core(CoreSettings(alerts=alerts), mono_s=self.time.clock())
        self.drills = Drills(
            command=self.command,
            clock=self.time.clock,
            sleep=self.time.sleep,
            trouble_of=self.troubles.get,
            crew=crew,
            patience_s=alerts.escalation.everyone_after_s if crew else 0.0,
        )
        self.dispatcher = Dispatcher(
            [Outlet(name=name, notifier=each) for name, each in self.notifiers.items()],
            on_fault=self._fail,
            sleep=self.time.sleep,
            on_attempted=self.drills.attempted,
        )

    def command(self, command: Command) -> Reply:
        """Give a command."""
        reply = self.core.command(self.time.clock(), command)
        self.tell(reply.events)
        return reply

    def fault(self, name: str, text: str | None, instance: str = "") -> None:
        """Let something of ours fail, or work again."""
        fault = Fault(name=name, instance=instance, text=text)
        self.tell(self.core.fault(self.time.clock(), fault))

    def _fail(self, name: str, text: str | None) -> None:
        self.fault("notifier_failed", text, name)

    def tell(self, events: object) -> None:
        """Hand events on."""
        assert isinstance(events, list | tuple)
        for event in events:
            self.events.append(event)
            if isinstance(event, Call):
                self.dispatcher.dispatch(event)
            self.drills.hear(event)

    def begin(self, *, until_acknowledged: bool = False) -> "asyncio.Task[DrillReport]":
        """Begin a drill."""
        return asyncio.create_task(
            self.drills.hold(
                self.notifiers, unbuilt=self.unbuilt, until_acknowledged=until_acknowledged
            )
        )

    async def wait(self, seconds: float) -> None:
        """Let time pass, for the core as well."""
        steps = round(seconds * 10)
        for _ in range(steps):
            await self.time.advance(0.1)
            self.tell(self.core.advance(self.time.clock()))

    async def report(self, drilling: "asyncio.Task[DrillReport]", limit_s: float) -> DrillReport:
        """Let time pass until the drill is over, for so long at most."""
        for _ in range(round(limit_s * 10)):
            if drilling.done():
                break
            await self.wait(0.1)
        assert drilling.done(), "the drill is still on"
        return drilling.result()

    def states(self, name: str = "drill") -> list[str]:
        """The states of one alert, in order."""
        return [e.state.value for e in self.events if isinstance(e, Alert) and e.name == name]


@pytest_asyncio.fixture
async def make_chain() -> AsyncIterator[type[Chain]]:
    """Make chains that are closed after the test."""
    made: list[Chain] = []

    class Closed(Chain):
        """One that is remembered."""

        def __init__(self, *given: object, **named: object) -> None:
            super().__init__(*given, **named)  # type: ignore[arg-type]
            made.append(self)

    yield Closed
    for chain in made:
        closing = asyncio.create_task(chain.dispatcher.close())
        while not closing.done():
            await chain.time.advance(1.0)
