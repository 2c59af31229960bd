"""The receiver's time of day held against our monotonic clock: whether it has jumped."""

import math
from typing import Final

from driftlead.alerts.alert import Priority
from driftlead.alerts.condition import Condition

JUMP_S: Final = 60.0
"""Less is a straggler, a leap second or a slow start; it changes no watch and no night's story."""
EVEN_AGAIN_S: Final = 600.0
"""A clock that has gone evenly for so long is believed again."""

_DAY_S: Final = 86_400.0


class ClockSteps:
    """Takes every step of the receiver's clock against ours that is ``JUMP_S`` or more."""

    def __init__(self) -> None:
        self.is_open = False
        """Whether there is a jump to be told, or one that was told and is not over."""
        self._jumped_mono_s = 0.0
        self._news: list[Condition] = []

    def step(self, mono_s: float, step_s: float) -> None:
        """At ``mono_s`` the time of day was ``step_s`` seconds ahead of what was expected.

        What is due to midnight is no jump; nor is the very first time, whose step is infinite.
        """
        if not math.isfinite(step_s):
            return
        step_s = (step_s + _DAY_S / 2.0) % _DAY_S - _DAY_S / 2.0
        if abs(step_s) < JUMP_S:
            return
        self.is_open = True
        self._jumped_mono_s = mono_s
        way = "forward" if step_s > 0.0 else "back"
        self._news.append(
            Condition(
                name="clock_jumped",
                priority=Priority.CAUTION,
                reason=f"stepped_{way}",
                text=f"The receiver's clock stepped {way} by {abs(step_s):.0f} s: times told "
                "before, and whose watch it was, may be wrong.",
            )
        )

    def news(self, mono_s: float) -> list[Condition]:
        """What there is to tell at ``mono_s`` that was not told yet."""
        news, self._news = self._news, []
        if self.is_open and mono_s - self._jumped_mono_s >= EVEN_AGAIN_S:
            self.is_open = False
            news.append(Condition(name="clock_jumped", priority=None))
        return news
