"""What the core answers to a command."""

from attrs import frozen

from driftlead.alerts.alert import Alert
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call
from driftlead.core.state_event import StateEvent

Event = StateEvent | Alert | Call | AllsWell


@frozen(kw_only=True)
class Reply:
    """The answer: done or refused, in words for the person, and the events it caused.

    A refused command has changed nothing; ``remedy`` then says what to do instead.
    """

    accepted: bool
    text: str
    remedy: str = ""
    events: tuple[Event, ...] = ()
