"""Keeping count during a drill: who was called, when, and what came of it. Pure."""

from collections.abc import Iterable, Iterator, Mapping

from attrs import evolve

from driftlead.alerts.alert import Alert, AlertState
from driftlead.alerts.call import Call
from driftlead.alerts.watch_bill import CrewMember
from driftlead.core.drill import BY_ITSELF, DRILL, is_real
from driftlead.core.reply import Event
from driftlead.drill.report import Answered, DrillReport, Ending, Passage, Reached


class Tally:
    """Hears of every event and every attempt of one drill, begun at ``began_s``.

    ``unbuilt`` says of the notifiers that could not be built what is wrong with them. Those that
    are ``forwarding`` have not carried what they have taken until it is ``sent``.
    """

    def __init__(
        self,
        notifiers: Iterable[str],
        *,
        unbuilt: Mapping[str, str],
        forwarding: Iterable[str] = (),
        began_s: float,
    ) -> None:
        self._began_s = began_s
        self._forwarding = frozenset(forwarding)
        self._passages = {
            name: Passage(notifier=name, trouble=unbuilt.get(name)) for name in notifiers
        }
        self.answered: Answered | None = None
        self.real_alert: str | None = None
        self.is_up = True

    def hear(self, event: Event) -> None:
        """Hear what came out of the core."""
        if isinstance(event, Call):
            self._hear_call(event)
        elif isinstance(event, Alert):
            self._hear_alert(event)

    def attempted(self, notifier: str, call: Call, trouble: str | None, now_s: float) -> None:
        """Hear how an attempt to carry ``call`` has ended; ``trouble`` None: it was carried."""
        passage = self._passages.get(notifier)
        if call.alert.name != DRILL or not call.alert.state.sounds or passage is None:
            return
        if passage.carried_s is not None:
            return
        if trouble is not None:
            self._passages[notifier] = evolve(passage, trouble=trouble)
        elif notifier in self._forwarding:
            self._passages[notifier] = evolve(passage, waits=True, trouble=None)
        else:
            self._carried(passage, now_s)

    @property
    def waiting(self) -> tuple[str, ...]:
        """Those who have taken it and are yet to send it."""
        return tuple(name for name, each in self._passages.items() if each.waits)

    def sent(self, notifier: str, trouble: str | None, sent_s: float) -> None:
        """Hear that one of those has sent it, or has given it up because of ``trouble``."""
        passage = self._passages[notifier]
        if trouble is None:
            self._carried(passage, sent_s)
        else:
            self._passages[notifier] = evolve(passage, waits=False, trouble=trouble)

    @property
    def is_complete(self) -> bool:
        """Whether nothing more can come of it: everyone has carried it or has failed."""
        return all(
            each.carried_s is not None or each.trouble is not None
            for each in self._passages.values()
        )

    @property
    def newest_s(self) -> float:
        """When last anybody was called, or had it arrive; the beginning, if nobody was yet."""
        known = (time_s for each in self._passages.values() for time_s in _times_s(each))
        return self._began_s + max(known, default=0.0)

    def report(self, ending: Ending, now_s: float, crew: Iterable[CrewMember]) -> DrillReport:
        """Sum up."""
        return DrillReport(
            ending=ending,
            took_s=now_s - self._began_s,
            passages=tuple(self._passages.values()),
            crew=tuple(Reached(who=each.name, after_s=self._first_s(each)) for each in crew),
            answered=self.answered,
            real_alert=self.real_alert,
        )

    def _carried(self, passage: Passage, now_s: float) -> None:
        self._passages[passage.notifier] = evolve(
            passage, carried_s=now_s - self._began_s, waits=False, trouble=None
        )

    def _hear_call(self, call: Call) -> None:
        if call.alert.name != DRILL or not call.alert.state.sounds:
            return
        for name in call.outlets:
            passage = self._passages.get(name)
            if passage is not None and passage.called_s is None:
                called_s = call.mono_s - self._began_s
                self._passages[name] = evolve(passage, called_s=called_s)

    def _hear_alert(self, alert: Alert) -> None:
        if alert.name == DRILL:
            self.is_up = alert.state is not AlertState.NORMAL
            if alert.state is AlertState.ACTIVE_ACKNOWLEDGED and alert.by != BY_ITSELF:
                after_s = alert.mono_s - self._began_s
                self.answered = Answered(after_s=after_s, by=alert.by, where=alert.where)
        elif is_real(alert) and self.is_up:
            self.real_alert = alert.name

    def _first_s(self, member: CrewMember) -> float | None:
        times_s = [
            passage.carried_s
            for name in member.notifiers
            if (passage := self._passages.get(name)) is not None
        ]
        return min((time_s for time_s in times_s if time_s is not None), default=None)


def _times_s(passage: Passage) -> Iterator[float]:
    for time_s in (passage.called_s, passage.carried_s):
        if time_s is not None:
            yield time_s
