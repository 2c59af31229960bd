"""How often somebody may try: so many times in a while, each by himself and all together."""

from collections import deque
from collections.abc import Callable
from typing import Final

EACH: Final = 5
ALL: Final = 20
WINDOW_S: Final = 300.0


class Attempts:
    """Counts failed attempts by address. ``clock`` gives monotonic seconds."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._failed: deque[tuple[float, str]] = deque(maxlen=ALL)

    def wait_s(self, address: str) -> float:
        """How long ``address`` has to wait before its next attempt; 0: it may try."""
        now_s = self._clock()
        recent = [(at_s, who) for at_s, who in self._failed if now_s - at_s < WINDOW_S]
        own = [at_s for at_s, who in recent if who == address]
        waits = [0.0]
        if len(own) >= EACH:
            waits.append(own[-EACH] + WINDOW_S - now_s)
        if len(recent) >= ALL:
            waits.append(recent[-ALL][0] + WINDOW_S - now_s)
        return max(waits)

    def failed(self, address: str) -> None:
        """Count one."""
        self._failed.append((self._clock(), address))
