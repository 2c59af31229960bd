"""When the watch cannot see: no data, no fix, a poor fix, a frozen receiver.

Each is a condition of its own with its own limits. Silence and loss are timed by our monotonic
clock, because the receiver's stands still then; quality by the receiver's.
"""

import math
from collections.abc import Iterable
from typing import Final

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.condition import Condition
from driftlead.nmea.fix import Fix
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.settings import LimitSettings

INTERVALS: Final = 3.0
"""A receiver slower than our limits is late only after this many of its own intervals."""
RECOVER_S: Final = 30.0
"""How long the fix must be good again before it is called good."""
MIN_SATELLITES: Final = 4
COARSE_QUANTUM_M: Final = 5.0
"""A talker that cuts positions to two decimals of a minute steps 18.5 m: no drag shows in time."""

_C, _W, _A = Priority.CAUTION, Priority.WARNING, Priority.ALARM
# To look a member up in its enumeration costs as much as five names, and every fix asks for this.
_JUMPED: Final = FixState.JUMPED


class Graded:
    """A condition that grows more urgent the longer it lasts."""

    def __init__(self, name: str, *steps: tuple[float, Priority]) -> None:
        self.name = name
        self._steps = steps
        self.priority: Priority | None = None
        self.reason = ""

    def limit_s(self, step: int, interval_s: float) -> float:
        """When step ``step`` is due, stretched for slow receivers."""
        return max(self._steps[step][0], INTERVALS * interval_s * (step + 1))

    def reached(self, now_s: float, since_s: float, interval_s: float = 0.0) -> Priority | None:
        """The priority of what is so since ``since_s``, None before the first step."""
        found = None
        for step, (_limit_s, priority) in enumerate(self._steps):
            # Added as the due time is, so that at the due time it is due to the last bit.
            if now_s >= since_s + self.limit_s(step, interval_s):
                found = priority
        return found

    def next_limit_s(self, interval_s: float) -> float | None:
        """The limit of the first step not reached yet."""
        for step, (_limit_s, priority) in enumerate(self._steps):
            if self.priority is None or priority.rank > self.priority.rank:
                return self.limit_s(step, interval_s)
        return None

    def last(self, priority: Priority, reason: str, text: str) -> list[Condition]:
        """It lasts, at this priority; never less urgent than it was told already."""
        if self.priority is not None and self.priority.rank > priority.rank:
            priority = self.priority
        return self.change(priority, reason, text)

    def change(self, priority: Priority | None, reason: str, text: str) -> list[Condition]:
        """The condition if it differs from the last one told."""
        if priority is self.priority and (priority is None or reason == self.reason):
            return []
        self.priority = priority
        self.reason = reason
        return [Condition(name=self.name, priority=priority, reason=reason, text=text)]


class Blindness:
    """Keeps the four conditions. Only asked while a watch is on."""

    def __init__(self, limits: LimitSettings, *, mono_s: float) -> None:
        self._limits = limits
        self._stale = Graded("data_stale", (limits.stale_warning_s, _W), (limits.stale_alarm_s, _A))
        self._lost = Graded("fix_lost", (limits.lost_warning_s, _W), (limits.lost_alarm_s, _A))
        self._poor = Graded("fix_poor", (limits.poor_caution_s, _C), (limits.poor_warning_s, _W))
        self._frozen = Graded(
            "fix_frozen", (limits.frozen_caution_s, _C), (limits.frozen_warning_s, _W)
        )
        self._epoch_s = mono_s
        self._fix_s = mono_s
        self._interval_s = 1.0
        self._poor_since_s: float | None = None
        self._poor_last_s = -math.inf
        self._poor_reason = ""
        self._poor_reason_last_s = -math.inf
        self._watching = False

    @property
    def fix_mono_s(self) -> float:
        """When the last usable fix came (or the watch began)."""
        return self._fix_s

    @property
    def interval_s(self) -> float:
        """The receiver's own interval, seconds, as heard so far."""
        return self._interval_s

    def begin(self, mono_s: float) -> None:
        """A watch begins: silence before it does not count."""
        self._watching = True
        self._epoch_s = max(self._epoch_s, mono_s)
        self._fix_s = max(self._fix_s, mono_s)

    def resume(self, alerts: Iterable[Alert]) -> None:
        """These alerts were up when the program ended: what they say was told, and may clear."""
        graded = {each.name: each for each in (self._stale, self._lost, self._poor, self._frozen)}
        for alert in alerts:
            told = graded.get(alert.name)
            if told is not None and alert.state is not AlertState.RECTIFIED_UNACKNOWLEDGED:
                told.priority, told.reason = alert.priority, alert.reason

    def end(self) -> list[Condition]:
        """The watch ends: nothing of this matters any longer."""
        self._watching = False
        self._poor_since_s = None
        changes: list[Condition] = []
        for graded in (self._stale, self._lost, self._poor, self._frozen):
            changes += graded.change(None, "", "")
        return changes

    def hear_no_fix(self, mono_s: float) -> list[Condition]:
        """The receiver speaks, but has no fix."""
        self._hear_epoch(mono_s)
        return self._stale.change(None, "", "")

    def hear_fix(self, mono_s: float, fix: Fix, point: TrackPoint) -> list[Condition]:
        """A usable fix, and the track point made of it."""
        self._hear_epoch(mono_s)
        self._fix_s = mono_s
        if not self._watching:
            return []
        changes: list[Condition] = []
        if self._stale.priority is not None:
            changes += self._stale.change(None, "", "")
        if self._lost.priority is not None:
            changes += self._lost.change(None, "", "")
        reason = self._poverty(fix, point)
        if reason or self._poor_since_s is not None or self._poor.priority is not None:
            changes += self._judge_poor(point.time_s, reason)
        if point.unchanged_s >= self._limits.frozen_caution_s or self._frozen.priority is not None:
            changes += self._judge_frozen(point.unchanged_s, fix.quantum_m)
        return changes

    def due_s(self) -> float | None:
        """When ``advance`` may next have something to say."""
        if not self._watching:
            return None
        dues = []
        stale_s = self._stale.next_limit_s(self._interval_s)
        if stale_s is not None:
            dues.append(self._epoch_s + stale_s)
        lost_s = self._lost.next_limit_s(self._interval_s)
        # While nothing at all is heard, whether it would have been a fix is no question.
        if lost_s is not None and self._stale.priority is None and self._epoch_s > self._fix_s:
            dues.append(self._fix_s + lost_s)
        return min(dues, default=None)

    def advance(self, mono_s: float) -> list[Condition]:
        """Time has passed to ``mono_s``."""
        silent_s = mono_s - self._epoch_s
        stale = self._stale.reached(mono_s, self._epoch_s, self._interval_s)
        if stale is not None:
            return self._stale.last(
                stale, "no_position_sentences", f"No position data for {silent_s:.0f} s."
            )
        if self._epoch_s > self._fix_s:
            without_s = mono_s - self._fix_s
            lost = self._lost.reached(mono_s, self._fix_s, self._interval_s)
            if lost is not None:
                return self._lost.last(
                    lost,
                    "receiver_has_no_fix",
                    f"The receiver has had no fix for {without_s:.0f} s.",
                )
        return []

    def _hear_epoch(self, mono_s: float) -> None:
        gap_s = mono_s - self._epoch_s
        if 0.0 < gap_s < 120.0:
            self._interval_s += 0.1 * (gap_s - self._interval_s)
        self._epoch_s = mono_s

    def _poverty(self, fix: Fix, point: TrackPoint) -> str:
        if point.fix_state is _JUMPED:
            return "position_jump"
        if fix.hdop is not None and fix.hdop > self._limits.poor_hdop:
            return "high_hdop"
        if fix.satellites is not None and fix.satellites < MIN_SATELLITES:
            return "few_satellites"
        if fix.quantum_m > COARSE_QUANTUM_M:
            return "coarse_position"
        return ""

    def _judge_poor(self, time_s: float, reason: str) -> list[Condition]:
        if reason:
            # Reasons that take turns from fix to fix are not news each time.
            stale_reason = time_s - self._poor_reason_last_s >= RECOVER_S
            if self._poor_since_s is None or stale_reason or reason == self._poor_reason:
                self._poor_reason = reason
                self._poor_reason_last_s = time_s
            if self._poor_since_s is None:
                self._poor_since_s = time_s
            self._poor_last_s = time_s
            priority = self._poor.reached(time_s, self._poor_since_s)
            if priority is None:
                return []
            reason = self._poor_reason
            return self._poor.last(priority, reason, _POOR_TEXTS[reason])
        if time_s - self._poor_last_s >= RECOVER_S:
            self._poor_since_s = None
            return self._poor.change(None, "", "")
        return []

    def _judge_frozen(self, unchanged_s: float, quantum_m: float) -> list[Condition]:
        # A coarse talker stands still for as long as the boat stays within one step of it.
        patience = max(1.0, quantum_m / 0.2)
        priority = self._frozen.reached(unchanged_s / patience, 0.0)
        return self._frozen.change(
            priority,
            "identical_position",
            f"The receiver has given the identical position for {unchanged_s:.0f} s: a slow drag "
            "would not show.",
        )


_POOR_TEXTS: Final = {
    "position_jump": "Positions jump farther than speed and course allow; they are not believed.",
    "high_hdop": "The satellites stand badly (high HDOP); positions are uncertain.",
    "few_satellites": "Fewer than four satellites; positions are uncertain.",
    "coarse_position": "The receiver cuts positions too short to show a drag in time. Set it to "
    "send at least three decimals of a minute.",
}
