"""How long to wait before trying again."""

from typing import Final

from driftlead.sources.base import Sleep

FIRST_S: Final = 0.5
LONGEST_S: Final = 30.0


class Backoff:
    """Waits ``FIRST_S``, then twice as long each time up to ``LONGEST_S``, until reset."""

    def __init__(self, sleep: Sleep) -> None:
        self._sleep = sleep
        self._next_s = FIRST_S

    async def wait(self) -> None:
        """Wait before the next attempt."""
        wait_s = self._next_s
        self._next_s = min(2 * wait_s, LONGEST_S)
        await self._sleep(wait_s)

    def reset(self) -> None:
        """Start again from ``FIRST_S``: data flowed, so the next loss is a new one."""
        self._next_s = FIRST_S
