"""Jumps of the computer's clock. No decision depends on it, but its logs and files do."""

from collections.abc import Callable
from typing import Final

JUMP_S: Final = 5.0
"""A clock that is steered (chrony, NTP) is slewed by far less between two looks."""
HOLD_S: Final = 600.0
"""How long a jump is told."""


class ClockProbe:
    """Tells that ``wall`` (Unix seconds) has moved against ``clock`` (monotonic seconds)."""

    name = "clock_jumped"
    instance = "computer"

    def __init__(self, *, clock: Callable[[], float], wall: Callable[[], float]) -> None:
        self._clock = clock
        self._wall = wall
        self._offset_s: float | None = None
        self._jumped_by_s = 0.0
        self._told_until_s: float | None = None

    def look(self) -> str | None:
        """Say so for some minutes after a jump."""
        now_s = self._clock()
        offset_s = self._wall() - now_s
        moved_s = 0.0 if self._offset_s is None else offset_s - self._offset_s
        self._offset_s = offset_s
        if abs(moved_s) >= JUMP_S:
            self._jumped_by_s = moved_s
            self._told_until_s = now_s + HOLD_S
        if self._told_until_s is None or now_s >= self._told_until_s:
            self._told_until_s = None
            return None
        way = "forward" if self._jumped_by_s > 0 else "back"
        return (
            f"The computer's clock jumped {way} by {abs(self._jumped_by_s):.0f} s. The watch does"
            " not depend on it; times in logs and file names do. It may have slept, or been set."
        )
