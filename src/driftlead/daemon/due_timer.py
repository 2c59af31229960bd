"""Waking the core when one of its limits runs out."""

import asyncio
from collections.abc import Callable


class DueTimer:
    """Calls ``on_due`` in the event loop once ``clock`` has reached the time it is armed for."""

    def __init__(self, *, clock: Callable[[], float], on_due: Callable[[], None]) -> None:
        self._clock = clock
        self._on_due = on_due
        self._armed_for_s: float | None = None
        self._handle: asyncio.TimerHandle | None = None

    def arm(self, due_s: float | None) -> None:
        """Wake at ``due_s``, and no longer at what was set before; None: not at all."""
        if due_s == self._armed_for_s:
            return
        self._armed_for_s = due_s
        if self._handle is not None:
            self._handle.cancel()
            self._handle = None
        if due_s is not None:
            wait_s = max(0.0, due_s - self._clock())
            self._handle = asyncio.get_running_loop().call_later(wait_s, self._fire)

    def _fire(self) -> None:
        # Should the clock stand a hair before the time, the core says so again and we come back.
        self._handle = None
        self._armed_for_s = None
        self._on_due()
