"""A simulated night as the watch hears it aboard."""

import math
from collections.abc import Iterator, Sequence
from typing import Final

from attrs import frozen
from tests.bench.proof.cases import Case

from driftlead.errors import RefusedError
from driftlead.geodesy.plane import LocalPlane
from driftlead.nmea.fix import Fix
from driftlead.nmea.observations import (
    DepthReport,
    HeadingReport,
    North,
    WindReference,
    WindReport,
)
from driftlead.simulate.observe import ObservedNight
from driftlead.simulate.scenario import Scenario
from driftlead.watch.settings import (
    BoatSettings,
    DetectorSettings,
    TackleSettings,
    WatchSettings,
)
from driftlead.watch.watch import Outcome, Watch

HEADING_EVERY_S: Final = 2.0
SLOW_EVERY_S: Final = 10.0
CHAIN_SLACK: Final = 0.08
ROPE_SLACK: Final = 0.2
MARK_WITHIN_S: Final = 10.0
"""So long the bow is still over the anchor; a mark refused until then is not made."""


@frozen(kw_only=True, eq=False)
class Aboard:
    """A night, its fixes as the receiver gave them (None: it says it has none), and the boat."""

    night: ObservedNight
    fixes: Sequence[Fix | None]
    boat: BoatSettings
    tackle: TackleSettings


def go_aboard(scenario: Scenario, night: ObservedNight) -> Aboard:
    """Put a night into the form the watch hears."""
    plane = LocalPlane(scenario.drop)
    rope = scenario.boat.stretch > 0.0
    return Aboard(
        night=night,
        fixes=tuple(_fix(night, plane, row) for row in range(len(night.t_s))),
        boat=BoatSettings(
            antenna_aft_m=night.antenna_aft_m,
            bow_height_m=night.bow_height_m,
            length_m=scenario.boat.length_m,
        ),
        tackle=TackleSettings(rode_slack=ROPE_SLACK if rope else CHAIN_SLACK),
    )


def _fix(night: ObservedNight, plane: LocalPlane, row: int) -> Fix | None:
    if not night.valid[row]:
        return None
    t_s = float(night.t_s[row])
    lat_deg, lon_deg = plane.to_lat_lon(float(night.east_m[row]), float(night.north_m[row]))
    return Fix(
        source="gps",
        mono_s=t_s,
        tod_s=None,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        quantum_m=night.quantum_m,
        sog_mps=_known(night.sog_mps[row]),
        cog_deg=_known(night.cog_deg[row]),
        hdop=float(night.hdop[row]),
        satellites=int(night.satellites[row]),
    )


def _known(figure: float) -> float | None:
    return None if math.isnan(figure) else float(figure)


def keep_watch(
    aboard: Aboard, case: Case, detector: DetectorSettings
) -> Iterator[tuple[int, Watch, Sequence[Outcome]]]:
    """Yield (row of the night, watch, what it said) for each moment the receiver spoke.

    Ends early where the mark is refused: the receiver has no fix while the bow is over the anchor.
    """
    night = aboard.night
    settings = WatchSettings(boat=aboard.boat, tackle=aboard.tackle, detector=detector)
    watch = Watch(settings, mono_s=0.0)
    instruments = watch.instruments
    skipper = _Skipper(night, late=case.late)
    heading_due_s = slow_due_s = -math.inf
    for row, (t_s, fix) in enumerate(zip(night.t_s.tolist(), aboard.fixes, strict=True)):
        said = skipper.command(watch, t_s)
        if said is None:
            return
        if t_s >= heading_due_s and case.heading:
            heading_due_s = t_s + HEADING_EVERY_S
            heading = HeadingReport("HE", float(night.heading_deg[row]), North.TRUE)
            instruments.hear_heading(t_s, heading)
        if t_s >= slow_due_s:
            slow_due_s = t_s + SLOW_EVERY_S
            instruments.hear_depth(t_s, DepthReport("SD", float(night.depth_m[row])))
            if case.wind:
                speed_mps, from_deg = float(night.wind_mps[row]), float(night.wind_from_deg[row])
                instruments.hear_wind(
                    t_s, WindReport("WI", speed_mps, from_deg, WindReference.TRUE_NORTH)
                )
        heard = watch.hear_no_fix(t_s) if fix is None else watch.hear_fix(t_s, t_s, fix)
        yield row, watch, (*said, *heard)


class _Skipper:
    """Gives the commands when they are due, and again where they are refused for want of a fix."""

    def __init__(self, night: ObservedNight, *, late: bool) -> None:
        self._night = night
        self._late = late
        late_s = night.late_s
        if late and late_s is None:
            message = "this night says nothing of a watch set late"
            raise ValueError(message)
        self._due_s = [late_s or 0.0] if late else [night.let_go_s, night.veered_s]

    def command(self, watch: Watch, t_s: float) -> Sequence[Outcome] | None:
        """Do what is due; None if it cannot be done any more."""
        night = self._night
        if not self._due_s or t_s < self._due_s[0]:
            return ()
        try:
            if self._late:
                said = watch.set_late(t_s, rode_m=night.rode_said_m, depth_m=night.depth_said_m)
            elif len(self._due_s) > 1:
                said = watch.let_go(t_s, rode_m=None, depth_m=night.depth_said_m, drop=None)
            else:
                said = watch.veer(t_s, rode_m=night.rode_said_m, depth_m=None)
        except RefusedError:
            marking = not self._late and len(self._due_s) > 1
            return None if marking and t_s > night.let_go_s + MARK_WITHIN_S else ()
        del self._due_s[0]
        return said
