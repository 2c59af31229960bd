"""Who is told of alerts, and how it goes on when nobody answers."""

from attrs import field, frozen

from driftlead.alerts.alert import Priority
from driftlead.alerts.watch_bill import WatchBill


@frozen(kw_only=True)
class OutletSettings:
    """A notifier as the alerts know it: its name, and the least priority it is to carry."""

    name: str
    at_least: Priority = Priority.CAUTION


@frozen(kw_only=True)
class EscalationSettings:
    """Seconds from an alert to each step, as long as nobody answers.

    The first two are those of a bridge navigational watch alarm system, IMO MSC.128(75) 4.1.2.
    ``repeat_s``: how long after the last call it is repeated. ``warning_becomes_alarm_s``: an
    unanswered warning becomes an alarm after this, 0: never (MSC.252(83) 19.2.1 allows it; its
    default time of 60 s, from memory, would wake everybody for many a short gap in the data).
    """

    second_after_s: float = 15.0
    everyone_after_s: float = 90.0
    repeat_s: float = 120.0
    warning_becomes_alarm_s: float = 300.0


@frozen(kw_only=True)
class AlertSettings:
    """Everything the handling of alerts must know.

    ``outlets`` are all notifiers there are; without any, nobody is called. Those that no member of
    the crew in ``bill`` claims are common: they are told of every alert at once.
    ``alls_well_s``: how often it is told that all is well, 0: never.
    """

    outlets: tuple[OutletSettings, ...] = field(factory=tuple)
    bill: WatchBill = field(factory=WatchBill)
    escalation: EscalationSettings = field(factory=EscalationSettings)
    alls_well_s: float = 0.0
