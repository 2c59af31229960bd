"""What a drill has found out. Pure."""

import enum
from typing import Any

from attrs import asdict, field, frozen


class Ending(enum.StrEnum):
    """What ended a drill."""

    COMPLETE = "complete"
    """Every notifier was called, each has carried it or failed, and it has sounded long enough."""
    ACKNOWLEDGED = "acknowledged"
    """Somebody answered."""
    REAL_ALERT = "real_alert"
    """Something real sounded; the drill made way for it."""
    OUT_OF_TIME = "out_of_time"
    """The limit passed first."""


@frozen(kw_only=True)
class Passage:
    """How the drill fared with one notifier; seconds from its beginning, None: it did not happen.

    ``called_s``: when its turn came. ``carried_s``: when it said that it had carried it, which for
    one that sends means that it was sent. ``waits``: it has taken it, and will send it when it can.
    ``trouble``: why it did not.
    """

    notifier: str
    called_s: float | None = None
    carried_s: float | None = None
    waits: bool = False
    trouble: str | None = None

    @property
    def failed(self) -> bool:
        """Whether its turn came and nothing arrived."""
        return self.carried_s is None and (self.called_s is not None or self.trouble is not None)


@frozen(kw_only=True)
class Reached:
    """When the first of somebody's notifiers carried it; None: none of them did."""

    who: str
    after_s: float | None


@frozen(kw_only=True)
class Answered:
    """Who answered, from where, and after how many seconds."""

    after_s: float
    by: str | None
    where: str | None


@frozen(kw_only=True)
class DrillReport:
    """The outcome. ``crew`` is empty without a watch bill; ``real_alert`` is its name."""

    ending: Ending
    took_s: float
    passages: tuple[Passage, ...]
    crew: tuple[Reached, ...] = ()
    answered: Answered | None = field(default=None)
    real_alert: str | None = None

    @property
    def is_good(self) -> bool:
        """Whether it reached every notifier whose turn came, and ran its course.

        A drill somebody answered is over before everybody's turn has come.
        """
        if self.ending is Ending.COMPLETE:
            return all(each.carried_s is not None for each in self.passages)
        return self.ending is Ending.ACKNOWLEDGED and not any(each.failed for each in self.passages)

    def to_data(self) -> dict[str, Any]:
        """Plain dicts and lists for JSON; seconds to the millisecond."""
        return asdict(self, value_serializer=_plain) | {"good": self.is_good}


def _plain(_instance: Any, _attribute: Any, value: Any) -> Any:
    if isinstance(value, float):
        return round(value, 3)
    return value.value if isinstance(value, enum.Enum) else value
