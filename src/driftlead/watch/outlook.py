"""What the plan knew, held against the watch: tide and scope hours ahead, and the wind of now."""

import datetime as dt
from collections import deque
from collections.abc import Iterable
from itertools import pairwise
from typing import Final

from driftlead.alerts.alert import Alert, Priority
from driftlead.alerts.condition import Condition
from driftlead.tide.turns import Level, Turns
from driftlead.units import format_length, format_speed
from driftlead.watch.settings import OutlookSettings

AHEAD_S: Final = 6 * 3600.0
"""About from one turn of the tide to the next: time to veer or to shift berth by daylight."""
SCOPE_EASED: Final = 0.1
WATER_EASED_M: Final = 0.2
"""By so much it must be better again before a caution ends, so that a ripple does not toggle it."""
SCOPE_WORSE: Final = 0.3
WATER_WORSE_M: Final = 0.2
WIND_WORSE_MPS: Final = 2.5
"""By so much it must be worse than what was told for its text to be renewed."""
SOUNDING_MEAN_S: Final = 300.0
SOUNDED_S: Final = 60.0
"""A sounder must have been heard for so long: one echo of a fish is not the depth."""
WIND_MEAN_S: Final = 300.0
WIND_COVERED_S: Final = 240.0
WIND_HOLD_S: Final = 60.0
"""A reading stands until the next, but no longer than this."""
WIND_EASED: Final = 0.9

_NAMES: Final = ("rode_short", "will_touch", "wind_over_plan")


class Outlook:
    """Takes each step of the detector; gives what begins, what grows worse and what ends.

    What cannot be judged for the moment (no UTC, no wind) stays as it was told; what no setting
    speaks of any more, or the tide table has run out for, ends.
    """

    def __init__(self, settings: OutlookSettings, *, bow_height_m: float) -> None:
        """Nothing is up; ``bow_height_m`` counts as depth in the scope."""
        self._settings = settings
        self._bow_height_m = bow_height_m
        self._tide = Turns(settings.tide)
        self._zone = dt.timezone(dt.timedelta(seconds=settings.utc_offset_s))
        # What is up, and how bad it was told to be, None after a restart; less is worse.
        self._up: dict[str, float | None] = {}
        self._winds: deque[tuple[float, float]] = deque()
        self._sounded = _Sounded()

    def take(
        self,
        time_s: float,
        *,
        utc_s: float | None,
        rode_m: float | None,
        depth_m: float | None,
        depth_utc_s: float | None,
        sounded_m: float | None,
        wind_mps: float | None,
    ) -> list[Condition]:
        """Take one step of the track's time.

        ``utc_s`` is the receiver's UTC now (Unix seconds), ``depth_m`` the depth where the anchor
        lies as it was at ``depth_utc_s``, ``sounded_m`` the depth under the boat now. None: not
        known.
        """
        told = self._look_at_wind(time_s, wind_mps)
        if not self._tide:
            return [*told, *self._end("rode_short"), *self._end("will_touch")]
        if utc_s is None:
            return told
        height_m = self._tide.height_m(utc_s)
        if height_m is None:
            self._sounded.forget()
            return [*told, *self._end("rode_short"), *self._end("will_touch")]
        # From here on depths are at chart datum, so that a sounding keeps while the tide runs.
        here_m = self._sounded.take(time_s, None if sounded_m is None else sounded_m - height_m)
        let_go_m = None
        if depth_m is not None and depth_utc_s is not None:
            then_m = self._tide.height_m(depth_utc_s)
            let_go_m = None if then_m is None else depth_m - then_m
        return [
            *told,
            *self._look_at_scope(utc_s, rode_m, here_m if let_go_m is None else let_go_m),
            *self._look_at_keel(utc_s, let_go_m if here_m is None else here_m),
        ]

    def end(self) -> list[Condition]:
        """The watch is over."""
        told = [condition for name in _NAMES for condition in self._end(name)]
        self._winds.clear()
        self._sounded.forget()
        return told

    def resume(self, alerts: Iterable[Alert]) -> None:
        """Stand where a restart found these alerts up."""
        self._up = {alert.name: None for alert in alerts if alert.name in _NAMES}

    # -- inside --------------------------------------------------------------------------------

    def _look_at_scope(
        self, utc_s: float, rode_m: float | None, datum_m: float | None
    ) -> list[Condition]:
        if rode_m is None or datum_m is None:
            return []
        most = max(self._tide.ahead(utc_s, AHEAD_S), key=lambda level: level.height_m)
        depth_m = datum_m + most.height_m
        drop_m = depth_m + self._bow_height_m
        least = self._settings.least_scope
        # Where it dries, any rode is long enough.
        ends = drop_m <= 0.0 or rode_m >= (least + SCOPE_EASED) * drop_m
        begins = drop_m > 0.0 and rode_m < least * drop_m
        if not begins:
            return self._end("rode_short") if ends else []
        # It is told with the turn the tide then makes for, which is the worst of it.
        most = self._tide.turn_after(most, utc_s)
        depth_m = datum_m + most.height_m
        drop_m = depth_m + self._bow_height_m
        return self._tell(
            "rode_short",
            Priority.CAUTION,
            "tide",
            f"{self._when(most, utc_s, 'high water')}: the scope of {format_length(rode_m)} of "
            f"rode in {format_length(depth_m)} of water is {rode_m / drop_m:.1f}:1, less than "
            f"{least:g}:1. Veer in time if there is room to swing.",
            figure=rode_m / drop_m,
            worse=SCOPE_WORSE,
        )

    def _look_at_keel(self, utc_s: float, datum_m: float | None) -> list[Condition]:
        draught_m = self._settings.draught_m
        if draught_m is None:
            return self._end("will_touch")
        if datum_m is None:
            return []
        least = min(self._tide.ahead(utc_s, AHEAD_S), key=lambda level: level.height_m)
        depth_m = datum_m + least.height_m
        needed_m = draught_m + self._settings.clearance_m
        if depth_m >= needed_m:
            return self._end("will_touch") if depth_m >= needed_m + WATER_EASED_M else []
        least = self._tide.turn_after(least, utc_s)
        depth_m = datum_m + least.height_m
        under_m = depth_m - draught_m
        keel = (
            f"{format_length(under_m)} under the keel"
            if under_m > 0.0
            else f"{format_length(-under_m)} too little to float her"
        )
        return self._tell(
            "will_touch",
            Priority.CAUTION,
            "tide",
            f"{self._when(least, utc_s, 'low water')}: about {format_length(max(0.0, depth_m))} "
            f"of water where she lies, {keel}. Look for deeper water in time.",
            figure=depth_m,
            worse=WATER_WORSE_M,
        )

    def _look_at_wind(self, time_s: float, wind_mps: float | None) -> list[Condition]:
        planned_mps = self._settings.wind_mps
        if planned_mps is None:
            return self._end("wind_over_plan")
        winds = self._winds
        if wind_mps is not None:
            winds.append((time_s, wind_mps))
        while winds and winds[0][0] < time_s - WIND_MEAN_S:
            winds.popleft()
        covered_s = run_m = 0.0
        for (since_s, mps), (until_s, _) in pairwise(winds):
            held_s = min(until_s - since_s, WIND_HOLD_S)
            covered_s += held_s
            run_m += held_s * mps
        if covered_s < WIND_COVERED_S:
            return []
        mean_mps = run_m / covered_s
        if mean_mps <= planned_mps:
            eased = mean_mps < WIND_EASED * planned_mps
            return self._end("wind_over_plan") if eased else []
        return self._tell(
            "wind_over_plan",
            Priority.WARNING,
            "wind",
            f"The wind of the last {WIND_MEAN_S / 60:.0f} minutes is {format_speed(mean_mps)}; "
            f"the plan reckoned with {format_speed(planned_mps)}. Look at rode, snubber and "
            "transits.",
            figure=-mean_mps,
            worse=WIND_WORSE_MPS,
        )

    def _when(self, level: Level, utc_s: float, turn: str) -> str:
        if level.utc_s == utc_s:
            return "Now"
        at = dt.datetime.fromtimestamp(level.utc_s, self._zone)
        return f"At {turn}, {at:%H:%M %Z}"

    def _tell(
        self, name: str, priority: Priority, reason: str, text: str, *, figure: float, worse: float
    ) -> list[Condition]:
        """Tell of what is so, and again once ``figure`` is less by ``worse`` than when told."""
        renewed = name in self._up
        if renewed:
            told = self._up[name]
            if told is None:
                self._up[name] = figure
                return []
            if figure > told - worse:
                return []
        self._up[name] = figure
        return [Condition(name=name, priority=priority, reason=reason, text=text, renewed=renewed)]

    def _end(self, name: str) -> list[Condition]:
        if name not in self._up:
            return []
        del self._up[name]
        return [Condition(name=name, priority=None)]


class _Sounded:
    """The depth where she lies, at chart datum: the mean of the last minutes' soundings."""

    def __init__(self) -> None:
        self._mean_m: float | None = None
        self._first_s = self._last_s = 0.0

    def take(self, time_s: float, datum_m: float | None) -> float | None:
        """Take a sounding if there is one; give the mean once there are enough."""
        if datum_m is not None:
            if self._mean_m is None:
                self._mean_m, self._first_s = datum_m, time_s
            else:
                gain = min(1.0, max(0.0, time_s - self._last_s) / SOUNDING_MEAN_S)
                self._mean_m += gain * (datum_m - self._mean_m)
            self._last_s = time_s
        return self._mean_m if self._last_s - self._first_s >= SOUNDED_S else None

    def forget(self) -> None:
        """What was sounded no longer counts."""
        self._mean_m = None
        self._first_s = self._last_s = 0.0
