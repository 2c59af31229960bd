"""Who is to hear of an alert, at each step of its escalation."""

from collections.abc import Collection, Iterable
from typing import Final

from driftlead.alerts.alert import Priority
from driftlead.alerts.settings import AlertSettings
from driftlead.alerts.watch_bill import CrewMember

SECOND: Final = 1
EVERYONE: Final = 2
"""Steps of the escalation; before them is 0, at once."""


class Audience:
    """Picks notifiers by name.

    A caution wakes nobody: only the common notifiers hear of it. A warning wakes one: whose watch
    it is. An alarm wakes that one, then a second, then everybody. Somebody whose notifiers have all
    failed is called all the same, but does not count, so the next one is called with them.
    """

    def __init__(self, settings: AlertSettings) -> None:
        self._outlets = settings.outlets
        self._bill = settings.bill
        claimed = {name for member in self._bill.crew for name in member.notifiers}
        everything = frozenset(each.name for each in settings.outlets)
        self._common = everything - claimed
        # With a crew, what no one of them has at their bunk is a log or a lamp, for all we know.
        self._wakers = everything & claimed or everything

    def at_step(
        self, step: int, priority: Priority, utc_s: float | None, failed: Collection[str]
    ) -> tuple[str, ...]:
        """Every notifier that is to have heard of an alert of this priority at this step."""
        wants = self._wants(priority)
        people = self._people(step, priority, utc_s, wants.difference(failed))
        claimed = {name for member in people for name in member.notifiers}
        return self.ordered(wants & (self._common | claimed))

    def of(self, name: str | None, priority: Priority) -> frozenset[str]:
        """The notifiers by which one member of the crew hears of alerts of this priority.

        A name that is nobody's may be that of a notifier itself.
        """
        if name is None:
            return frozenset()
        member = self._bill.find(name)
        return self._wants(priority) & ({name} if member is None else set(member.notifiers))

    def wakes(self, names: Collection[str], failed: Collection[str]) -> bool:
        """Whether any of these may have woken somebody."""
        return any(name in self._wakers and name not in failed for name in names)

    def ordered(self, names: Iterable[str]) -> tuple[str, ...]:
        """These notifiers as far as they exist, in the order of the configuration."""
        wanted = set(names)
        return tuple(each.name for each in self._outlets if each.name in wanted)

    def _wants(self, priority: Priority) -> frozenset[str]:
        return frozenset(e.name for e in self._outlets if priority.rank >= e.at_least.rank)

    def _people(
        self, step: int, priority: Priority, utc_s: float | None, working: Collection[str]
    ) -> Iterable[CrewMember]:
        if priority is Priority.CAUTION:
            return ()
        if step >= EVERYONE:
            return self._bill.crew
        wanted = 1 if priority is Priority.WARNING else step + 1
        called = []
        for member in self._bill.in_order(utc_s):
            called.append(member)
            wanted -= any(name in working for name in member.notifiers)
            if wanted == 0:
                break
        return called
