"""What a source is, and what it is given to work with."""

from collections.abc import Awaitable, Callable
from typing import Protocol

from attrs import frozen

from driftlead.lines import StampedLine


@frozen
class SourceHealth:
    """Whether a source is open, told at each change. ``detail`` is for people, with the remedy.

    Open means that lines can come in, not that any do: silence is judged by the watch's limits.
    """

    source: str
    open: bool
    detail: str


Emit = Callable[[StampedLine], None]
"""Takes each line, in the order read. What it raises comes out of ``run``."""
Clock = Callable[[], float]
"""Monotonic seconds."""
OnHealth = Callable[[SourceHealth], None]
Sleep = Callable[[float], Awaitable[None]]
"""Waits for seconds; ``asyncio.sleep`` outside of tests."""


class Source(Protocol):
    """Where lines come from."""

    @property
    def name(self) -> str:
        """The name from the configuration, which its lines bear."""

    async def run(self) -> None:
        """Read and emit until cancelled.

        A source that is lost says so in its health and opens again by itself. A log returns at
        its end, and raises SourceError where it cannot be read on.
        """
