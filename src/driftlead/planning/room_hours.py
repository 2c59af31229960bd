"""The hours of a stay, and how far the water has risen since the depths were taken."""

import datetime as dt
from typing import Final

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.tide.table import TideTable

_HOUR: Final = dt.timedelta(hours=1)
LONGEST: Final = dt.timedelta(days=3)
"""Longer stays repeat themselves, and each hour costs time to look at."""


@frozen(kw_only=True)
class Hour:
    """A moment of the stay: ``when`` is aware, None where no tide is known."""

    when: dt.datetime | None = None
    rise_m: float = 0.0

    @property
    def text(self) -> str:
        """``"03:40"`` in the zone of the stay; empty where no tide is known."""
        return "" if self.when is None else f"{self.when:%H:%M}"


def hours_of(tide: TideTable, begins: dt.datetime, ends: dt.datetime) -> tuple[Hour, ...]:
    """Give every hour from the beginning, each high and low water, and the end.

    Rises count from ``begins``. Raises UserInputError for a stay that the tide table does not
    cover, or one of more than ``LONGEST``.
    """
    if not dt.timedelta(0) < ends - begins <= LONGEST:
        raise UserInputError(
            "A stay is longer than nothing and no longer than three days here.",
            remedy="Give its length, such as --for 12h.",
        )
    zone = begins.tzinfo
    times = {begins, ends}
    times |= {begins + n * _HOUR for n in range((ends - begins) // _HOUR + 1)}
    times |= {turn.when.astimezone(zone) for turn in tide.turns_within(begins, ends)}
    now_m = tide.height_m(begins)
    return tuple(Hour(when=when, rise_m=tide.height_m(when) - now_m) for when in sorted(times))
