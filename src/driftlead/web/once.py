"""Each command is carried out once: a request that comes again, or late, is refused."""

from collections.abc import Callable
from typing import Final

from attrs import define

from driftlead.web.deck import Outcome

LATE_S: Final = 60.0
"""What was asked longer ago than this is not done any more: the anchorage may look different."""
EARLY_S: Final = 5.0
MOST: Final = 256


@define
class Asked:
    """One command that was asked for, and what came of it, once that is known."""

    at_s: float
    outcome: Outcome | None = None


class Once:
    """Remembers the keys of commands for as long as a command can be repeated.

    ``clock`` gives the seconds this run has lasted.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._asked: dict[tuple[str, str], Asked] = {}

    def is_timely(self, run_s: float) -> bool:
        """Whether what was asked for at ``run_s`` is still what is wanted."""
        return -EARLY_S <= self._clock() - run_s <= LATE_S

    @property
    def is_full(self) -> bool:
        """Whether more were asked for lately than anybody in earnest would ask for."""
        self._forget()
        return len(self._asked) >= MOST

    def seen(self, device_id: str, key: str) -> Asked | None:
        """The command this device gave with this key before."""
        return self._asked.get((device_id, key))

    def take(self, device_id: str, key: str) -> Asked:
        """Remember a command; its outcome is to be written into what is returned."""
        asked = self._asked[device_id, key] = Asked(self._clock())
        return asked

    def _forget(self) -> None:
        # Anything older is refused for being late.
        oldest_s = self._clock() - LATE_S - EARLY_S
        for key, asked in list(self._asked.items()):
            if asked.at_s >= oldest_s:
                break
            del self._asked[key]
