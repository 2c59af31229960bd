"""The drill: an alert that says that it is none. It goes every alert's way, and gives way to all.

It cannot hide anything real: it is refused while something real sounds, it ends the moment
something real is raised, and it is an alert of its own, so whoever answers the one has not answered
the other by it.
"""

from collections.abc import Sequence
from typing import Final

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.condition import Condition
from driftlead.alerts.escalation import NOTIFIER_FAILED
from driftlead.alerts.management import AlertManagement, AlertNews
from driftlead.alerts.moment import Moment
from driftlead.errors import RefusedError

DRILL: Final = "drill"
"""The name of its alert."""
BY_ITSELF: Final = "the drill itself"
"""Who has answered a drill that nobody was to answer."""


def is_real(alert: Alert) -> bool:
    """Whether a drill must give way to ``alert``: one that sounds and is not about the drill.

    That a notifier has failed is what a drill is to find out.
    """
    return alert.state.sounds and alert.name not in (DRILL, NOTIFIER_FAILED)


def begin_drill(alerts: AlertManagement) -> Condition:
    """Give the condition that begins one. Raises RefusedError while there is something real."""
    for alert in alerts.alerts:
        if alert.name == DRILL:
            raise RefusedError(
                "A drill is on already.", remedy="End it first: driftlead acknowledge drill."
            )
        if alert.state.is_unanswered or alert.priority is Priority.ALARM:
            what = f"the {alert.priority.value} {alert.name.replace('_', ' ')} is up"
            raise RefusedError(f"This is no time for a drill: {what}.", remedy="See to that first.")
    return Condition(
        name=DRILL,
        priority=Priority.ALARM,
        reason="commanded",
        text="DRILL: a test of the alarm, nothing is wrong. Acknowledge it as if it were real.",
    )


def end_drill(alerts: AlertManagement, now: Moment) -> list[AlertNews]:
    """End it whatever state it is in; nothing if none is on."""
    answered = alerts.acknowledge(DRILL, now, by=BY_ITSELF)
    return [*answered, *alerts.take(Condition(name=DRILL, priority=None), now)]


def give_way(alerts: AlertManagement, news: Sequence[object], now: Moment) -> list[AlertNews]:
    """End a drill that has been answered, or that something real has broken in upon.

    ``news`` is what has just happened; gives what happens by it.
    """
    drill = alerts.find(DRILL)
    if drill is None:
        return []
    answered = drill.state is AlertState.ACTIVE_ACKNOWLEDGED
    real = any(isinstance(each, Alert) and is_real(each) for each in news)
    return end_drill(alerts, now) if answered or real else []
