"""What the tests of the watch share: points of a track, and a boat whose fixes a watch hears."""

import math
from collections.abc import Callable
from typing import Any

import pytest

from driftlead.alerts.condition import Condition
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.nmea.fix import Fix
from driftlead.nmea.observations import HeadingReport, North
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.settings import BoatSettings, TackleSettings, WatchSettings
from driftlead.watch.state_change import StateChange
from driftlead.watch.state_table import WatchState
from driftlead.watch.watch import Outcome, Watch

ORIGIN = Position(46.5, -31.2)
SLOOP = WatchSettings(
    boat=BoatSettings(bow_height_m=1.2, antenna_aft_m=8.0, length_m=10.4),
    tackle=TackleSettings(rode_aboard_m=60.0),
)
Path = Callable[[float], tuple[float, float]]


def make_point(time_s: float, east_m: float, north_m: float = 0.0, **overrides: Any) -> TrackPoint:
    """A point of a track the filter has taken, but for ``overrides``."""
    fields: dict[str, Any] = {
        "mono_s": 1000.0 + time_s,
        "sigma_m": 2.5,
        "east_mps": 0.0,
        "north_mps": 0.0,
        "fix_state": FixState.TAKEN,
        "jumped_s": 0.0,
        "unchanged_s": 0.0,
    }
    return TrackPoint(time_s=time_s, east_m=east_m, north_m=north_m, **(fields | overrides))


def make_fix(**overrides: Any) -> Fix:
    """A good fix at the origin, but for ``overrides``."""
    fields: dict[str, Any] = {
        "source": "gps",
        "mono_s": 0.0,
        "tod_s": None,
        "lat_deg": ORIGIN.lat_deg,
        "lon_deg": ORIGIN.lon_deg,
        "quantum_m": 0.185,
        "sog_mps": 0.0,
        "cog_deg": None,
        "hdop": 0.9,
        "satellites": 9,
    }
    return Fix(**(fields | overrides))


class Aboard:
    """A boat that lies metres east and north of ``ORIGIN``, and the watch that hears her fixes."""

    def __init__(self, settings: WatchSettings = SLOOP, *, now_s: float = 0.0) -> None:
        self.now_s = now_s
        self.watch = Watch(settings, mono_s=now_s)
        self.outcomes: list[Outcome] = []
        self._plane = LocalPlane(ORIGIN)

    def fix(
        self, east_m: float, north_m: float = 0.0, *, after_s: float = 1.0, **overrides: Any
    ) -> list[Outcome]:
        """One fix; what the watch made of it."""
        self.now_s += after_s
        lat_deg, lon_deg = self._plane.to_lat_lon(east_m, north_m)
        fix = make_fix(mono_s=self.now_s, lat_deg=lat_deg, lon_deg=lon_deg, **overrides)
        return self.heard(self.watch.hear_fix(self.now_s, self.now_s, fix))

    def heard(self, outcomes: Any) -> list[Outcome]:
        """Keep what the watch said."""
        self.outcomes += outcomes
        return list(outcomes)

    def go(self, path: Path, lasts_s: float, *, every_s: float = 1.0, **overrides: Any) -> None:
        """Follow a path in seconds from now, with speed and course as they are."""
        began_s = self.now_s
        while self.now_s - began_s < lasts_s - 1e-6:
            t_s = self.now_s - began_s + every_s
            east_m, north_m = path(t_s)
            wander_m = 0.3 * math.sin(self.now_s / 23.0)
            before, behind = path(t_s - 0.05), path(t_s + 0.05)
            east_mps, north_mps = (behind[0] - before[0]) / 0.1, (behind[1] - before[1]) / 0.1
            self.fix(
                east_m + wander_m,
                north_m - wander_m,
                after_s=every_s,
                sog_mps=math.hypot(east_mps, north_mps),
                cog_deg=math.degrees(math.atan2(east_mps, north_mps)) % 360.0,
                **overrides,
            )

    def lie(self, lasts_s: float, east_m: float, north_m: float = 0.0, **overrides: Any) -> None:
        """Lie still."""
        self.go(lambda _: (east_m, north_m), lasts_s, **overrides)

    def head(self, heading_deg: float, north: North = North.TRUE) -> None:
        """A heading comes in."""
        self.watch.instruments.hear_heading(self.now_s, HeadingReport("HC", heading_deg, north))

    def state(self) -> WatchState:
        """The state of the watch now."""
        return self.watch.state

    def point_of(self, place: Position) -> tuple[float, float]:
        """A place in metres east and north of ``ORIGIN``."""
        return self._plane.to_plane(place.lat_deg, place.lon_deg)

    @property
    def anchor_en_m(self) -> tuple[float, float]:
        """Where the watch has the anchor, in metres east and north of ``ORIGIN``."""
        anchor = self.watch.anchor
        assert anchor is not None
        return self._plane.to_plane(anchor.lat_deg, anchor.lon_deg)

    @property
    def changes(self) -> list[str]:
        """The changes of state so far, as ``event>state``."""
        return [
            f"{each.event}>{each.state}" for each in self.outcomes if isinstance(each, StateChange)
        ]

    def conditions(self, name: str) -> list[Condition]:
        """What was told of one condition, without the clearing of what never was."""
        told: list[Condition] = []
        for each in self.outcomes:
            if not isinstance(each, Condition) or each.name != name:
                continue
            if each.priority is not None or (told and told[-1].priority is not None):
                told.append(each)
        return told


@pytest.fixture(scope="session")
def point() -> Callable[..., TrackPoint]:
    """Make a point of a track: ``point(time_s, east_m, north_m, ...)``."""
    return make_point


@pytest.fixture
def fix() -> Callable[..., Fix]:
    """Make a fix: ``fix(hdop=...)``."""
    return make_fix


@pytest.fixture
def embark() -> type[Aboard]:
    """Make a boat and her watch: ``embark(settings)``."""
    return Aboard


@pytest.fixture
def aboard() -> Aboard:
    """A sloop, antenna 8 m aft of the bow, that has lain at the origin for a minute."""
    boat = Aboard()
    boat.lie(60.0, 0.0)
    return boat
