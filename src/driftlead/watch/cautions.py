"""What the crew may like to know but are not woken for: the swing, the wind, the instruments."""

import math
from collections.abc import Callable, Iterable
from typing import Final

from driftlead.alerts.alert import Alert, Priority
from driftlead.alerts.condition import Condition
from driftlead.geodesy.anchor_estimate import AnchorEstimate
from driftlead.geodesy.plane import wrap_bearing_deg
from driftlead.watch.judgement import Judgement, Reason
from driftlead.watch.reliance import Reliance

SWING_CHANGED_S: Final = 60.0
"""For so long it must be likelier than not that the anchor has moved, or not, to say so."""
MEAN_S: Final = 600.0
"""Over how long a wind's direction is taken: gusts and eddies come and go in minutes."""
SHIFTED_DEG: Final = 45.0
SHIFT_STANDS_S: Final = 1800.0
LIGHT_MPS: Final = 3.0
"""Lighter airs have no direction worth telling."""


class Cautions:
    """Takes each step of the detector; gives what begins and what ends."""

    def __init__(self) -> None:
        self._reliances = (Reliance("heading_lost"), Reliance("wind_lost"))
        self._shift = _Shift()
        self._swing_changed = False
        self._changing_since_s: float | None = None

    def take(
        self,
        time_s: float,
        judgement: Judgement,
        *,
        heading_heard: bool,
        wind: tuple[float, float] | None,
        anchor: Callable[[], AnchorEstimate | None],
    ) -> list[Condition]:
        """Take one step of the track's time; ``wind`` is where it is from (deg) and m/s.

        ``anchor`` is asked where the anchor is only if that is to be told.
        """
        heading, wind_heard = self._reliances
        return [
            *heading.take(time_s, heard=heading_heard),
            *wind_heard.take(time_s, heard=wind is not None),
            *self._shift.take(time_s, wind),
            *self._swing(time_s, judgement, anchor),
        ]

    def dragging(self) -> list[Condition]:
        """A drag alarm says more than the caution before it."""
        self._changing_since_s = None
        if not self._swing_changed:
            return []
        self._swing_changed = False
        return [Condition(name="swing_changed", priority=None)]

    def end(self) -> list[Condition]:
        """The watch is over."""
        told = [*self.dragging(), *self._shift.end()]
        for reliance in self._reliances:
            told += reliance.end()
        self._reliances = (Reliance("heading_lost"), Reliance("wind_lost"))
        self._shift = _Shift()
        return told

    def resume(self, alerts: Iterable[Alert]) -> None:
        """Stand where a restart found these alerts up."""
        names = {alert.name for alert in alerts}
        self._swing_changed = "swing_changed" in names
        for reliance in self._reliances:
            if reliance.name in names:
                reliance.resume()
        if "wind_shifted" in names:
            self._shift.resume()

    def _swing(
        self,
        time_s: float,
        judgement: Judgement,
        anchor: Callable[[], AnchorEstimate | None],
    ) -> list[Condition]:
        changed = judgement.reason is Reason.SWING_CHANGED
        if changed is self._swing_changed:
            self._changing_since_s = None
            return []
        if self._changing_since_s is None:
            self._changing_since_s = time_s
        if time_s - self._changing_since_s < SWING_CHANGED_S:
            return []
        self._swing_changed = changed
        self._changing_since_s = None
        return [
            Condition(
                name="swing_changed",
                priority=Priority.CAUTION if changed else None,
                reason=judgement.reason.value,
                text="She lies as if the anchor had moved, but not surely enough to wake anybody.",
                moved_m=judgement.moved_m,
                bearing_deg=judgement.moved_deg,
                confidence=judgement.confidence,
                anchor=anchor(),
            )
        ]


class _Shift:
    """The wind's direction against the one she has been riding to."""

    def __init__(self) -> None:
        self._mean: tuple[float, float] | None = None
        self._last_s = -math.inf
        self._riding_to_deg: float | None = None
        self._begun_s: float | None = None
        self._told_s: float | None = None

    def take(self, time_s: float, wind: tuple[float, float] | None) -> list[Condition]:
        """Take one step; a shift stands for half an hour, and the new wind is then the wind."""
        told: list[Condition] = []
        if self._told_s is not None and time_s - self._told_s >= SHIFT_STANDS_S:
            told = self.end()
        if wind is None or wind[1] < LIGHT_MPS:
            return told
        from_rad = math.radians(wind[0])
        now = math.sin(from_rad), math.cos(from_rad)
        if self._mean is None:
            self._mean, self._begun_s = now, time_s
        else:
            gain = min(1.0, max(0.0, time_s - self._last_s) / MEAN_S)
            east, north = self._mean
            self._mean = east + gain * (now[0] - east), north + gain * (now[1] - north)
        self._last_s = time_s
        mean_deg = wrap_bearing_deg(math.degrees(math.atan2(*self._mean)))
        if self._riding_to_deg is None:
            if self._begun_s is not None and time_s - self._begun_s >= MEAN_S:
                self._riding_to_deg = mean_deg
            return told
        turned_deg = (mean_deg - self._riding_to_deg + 180.0) % 360.0 - 180.0
        if abs(turned_deg) < SHIFTED_DEG:
            return told
        was_deg, self._riding_to_deg, self._told_s = self._riding_to_deg, mean_deg, time_s
        how = "veered" if turned_deg > 0.0 else "backed"
        condition = Condition(
            name="wind_shifted",
            priority=Priority.CAUTION,
            reason=how,
            text=f"The wind has {how} {abs(turned_deg):.0f} degrees, "
            f"from {round(was_deg) % 360:03d} to "
            f"{round(mean_deg) % 360:03d}: she lies elsewhere now. Look what is to leeward.",
            bearing_deg=mean_deg,
        )
        return [*told, condition]

    def end(self) -> list[Condition]:
        """It is no news any more."""
        if self._told_s is None:
            return []
        self._told_s = None
        return [Condition(name="wind_shifted", priority=None)]

    def resume(self) -> None:
        """Stand where a restart found the alert up."""
        self._told_s = -SHIFT_STANDS_S
