"""How far the calling for one alert has got."""

from typing import Final, Self

from attrs import evolve, frozen

LOUDEST: Final = 9
"""As far as loudness is counted: one digit, as the escalation counter of an ALF sentence has."""


@frozen(kw_only=True)
class Paging:
    """What must be known to go on calling for the alert of this name, instance and number.

    ``step`` is the step of the escalation reached, ``called`` are the notifiers that have been
    told. ``since_s``: since when it is up at its present priority; ``called_s``: when it was last
    heard anew; ``quiet_s``: since when it is silenced or handed over. They are monotonic seconds;
    in a snapshot they count from its moment, so none is later than 0.
    """

    name: str
    instance: str = ""
    number: int
    step: int = 0
    loudness: int = 0
    called: tuple[str, ...] = ()
    since_s: float
    called_s: float
    quiet_s: float

    @property
    def key(self) -> tuple[str, str]:
        """Of which alert this tells."""
        return (self.name, self.instance)

    def shifted(self, by_s: float) -> Self:
        """The same on a clock that shows ``by_s`` seconds more, to the millisecond."""
        return evolve(
            self,
            since_s=round(self.since_s + by_s, 3),
            called_s=round(self.called_s + by_s, 3),
            quiet_s=round(self.quiet_s + by_s, 3),
        )
