"""What the tests of the core share: a boat whose instruments talk NMEA 0183 to a core."""

import datetime as dt
import json
import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import pytest
from attrs import evolve

from driftlead.alerts.alert import Alert, Priority
from driftlead.alerts.call import Call
from driftlead.alerts.settings import AlertSettings, OutletSettings
from driftlead.alerts.watch_bill import CrewMember, WatchBill, WatchHours
from driftlead.core.core import Core
from driftlead.core.events_json import event_to_json
from driftlead.core.inputs import Command, Fault, LetGo, Slip, Weigh
from driftlead.core.inputs_json import (
    command_from_json,
    command_to_json,
    fault_from_json,
    fault_to_json,
)
from driftlead.core.reply import Event, Reply
from driftlead.core.settings import CoreSettings
from driftlead.core.settings_json import settings_from_json, settings_to_json
from driftlead.core.snapshot import Snapshot
from driftlead.core.state_event import StateEvent
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.simulate import nmea_writer
from driftlead.watch.settings import BoatSettings, TackleSettings, WatchSettings
from driftlead.watch.state_table import WatchState

ANCHORAGE = Position(46.5, -31.2)
START_UTC = dt.datetime(2026, 6, 1, 20, 0, tzinfo=dt.UTC)
SLOOP = CoreSettings(
    watch=WatchSettings(
        boat=BoatSettings(bow_height_m=1.2, antenna_aft_m=8.0, length_m=10.4),
        tackle=TackleSettings(rode_aboard_m=60.0),
    )
)
CREW = AlertSettings(
    outlets=(
        OutletSettings(name="log"),
        OutletSettings(name="aft", at_least=Priority.WARNING),
        OutletSettings(name="fore", at_least=Priority.WARNING),
        OutletSettings(name="saloon", at_least=Priority.ALARM),
    ),
    bill=WatchBill(
        crew=(
            CrewMember(
                name="skipper", notifiers=("aft",), watches=(WatchHours(72_000.0, 86_400.0),)
            ),
            CrewMember(name="mate", notifiers=("fore",), watches=(WatchHours(0.0, 14_400.0),)),
            CrewMember(name="hand", notifiers=("saloon",)),
        )
    ),
)
"""The skipper stands the first watch, from 20:00, and the mate the middle watch."""
LIES_M = math.sqrt(30.0**2 - 6.2**2) + 7.0
"""Where her antenna lies on 30 m of rode in 5 m of water: a metre short of her full reach."""
DOWN = LetGo(rode_m=30.0, depth_m=5.0, drop=ANCHORAGE)
Path = Callable[[float], tuple[float, float]]
CoreInput = StampedLine | tuple[float, Command | Fault]


def feed_all(core: Core, inputs: Iterable[CoreInput]) -> list[Event]:
    """Feed recorded inputs, commands and faults by way of their JSON; the events."""
    events: list[Event] = []
    for item in inputs:
        if isinstance(item, StampedLine):
            events += core.feed(item)
            continue
        mono_s, said = item
        if isinstance(said, Fault):
            read_fault = fault_from_json(json.loads(json.dumps(fault_to_json(said))))
            events += core.fault(mono_s, read_fault)
        else:
            read = command_from_json(json.loads(json.dumps(command_to_json(said))))
            events += core.command(mono_s, read).events
    return events


class Sea:
    """A core, and a boat that lies metres east and north of ``ANCHORAGE`` and tells it so.

    Everything said is kept in ``inputs``, and everything the core answered in ``events``.
    """

    def __init__(
        self,
        settings: CoreSettings = SLOOP,
        *,
        now_s: float = 1000.0,
        utc: dt.datetime = START_UTC,
        snapshot: Snapshot | None = None,
    ) -> None:
        self.settings = settings
        self.began_s = self.now_s = now_s
        self.began_utc = utc
        self.core = Core(settings, mono_s=now_s, snapshot=snapshot)
        self.events: list[Event] = []
        self.inputs: list[CoreInput] = []
        self.plane = LocalPlane(ANCHORAGE)

    # -- what is said --------------------------------------------------------------------------

    @property
    def utc(self) -> dt.datetime:
        """UTC now."""
        return self.began_utc + dt.timedelta(seconds=self.now_s - self.began_s)

    def say(self, *texts: str, source: str = "gps") -> list[Event]:
        """Lines that arrive now."""
        events: list[Event] = []
        for text in texts:
            line = StampedLine(self.now_s, source, text)
            self.inputs.append(line)
            events += self.core.feed(line)
        self.events += events
        return events

    def fix(
        self,
        east_m: float,
        north_m: float = 0.0,
        *,
        after_s: float = 1.0,
        sog_mps: float = 0.0,
        cog_deg: float | None = None,
        hdop: float = 0.9,
        satellites: int = 9,
        decimals: int = 5,
        source: str = "gps",
        talker: str = "GP",
    ) -> list[Event]:
        """A position: RMC and GGA."""
        self.now_s = round(self.now_s + after_s, 6)
        lat_deg, lon_deg = self.plane.to_lat_lon(east_m, north_m)
        rmc = nmea_writer.rmc(
            utc=self.utc,
            lat_deg=lat_deg,
            lon_deg=lon_deg,
            sog_mps=sog_mps,
            cog_deg=cog_deg,
            decimals=decimals,
            talker=talker,
        )
        gga = nmea_writer.gga(
            utc=self.utc,
            lat_deg=lat_deg,
            lon_deg=lon_deg,
            satellites=satellites,
            hdop=hdop,
            decimals=decimals,
            talker=talker,
        )
        return self.say(rmc, gga, source=source)

    def no_fix(self, *, after_s: float = 1.0, source: str = "gps") -> list[Event]:
        """The receiver says that it has none."""
        self.now_s = round(self.now_s + after_s, 6)
        nowhere: dict[str, Any] = {"utc": self.utc, "lat_deg": 0.0, "lon_deg": 0.0, "valid": False}
        return self.say(
            nmea_writer.rmc(**nowhere, sog_mps=0.0, cog_deg=None),
            nmea_writer.gga(**nowhere, satellites=0, hdop=99.9),
            source=source,
        )

    def go(self, path: Path, lasts_s: float, *, every_s: float = 1.0, **how: Any) -> None:
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
                **how,
            )

    def lie(self, lasts_s: float, east_m: float, north_m: float = 0.0, **how: Any) -> None:
        """Lie still."""
        self.go(lambda _: (east_m, north_m), lasts_s, **how)

    def head(self, heading_deg: float) -> None:
        """A true heading."""
        self.say(nmea_writer.hdt(heading_deg=heading_deg), source="instruments")

    def command(self, command: Command) -> Reply:
        """The skipper says something."""
        self.inputs.append((self.now_s, command))
        reply = self.core.command(self.now_s, command)
        self.events += reply.events
        return reply

    def fault(self, name: str, text: str | None, instance: str = "") -> list[Event]:
        """Something of ours fails, or works again."""
        fault = Fault(name=name, instance=instance, text=text)
        self.inputs.append((self.now_s, fault))
        events = list(self.core.fault(self.now_s, fault))
        self.events += events
        return events

    def wait(self, lasts_s: float) -> list[Event]:
        """Nothing is said for so long."""
        self.now_s = round(self.now_s + lasts_s, 6)
        events = list(self.core.advance(self.now_s))
        self.events += events
        return events

    # -- manoeuvres ----------------------------------------------------------------------------

    def ride(self) -> "Sea":
        """Let go at the origin and ride to it, ``LIES_M`` east."""
        self.command(DOWN)
        self.go(lambda t_s: (min(LIES_M, 0.5 * t_s), 0.0), 100.0)
        self.lie(700.0, LIES_M)
        return self

    def drag(self, rate_mps: float = 0.3, distance_m: float = 60.0) -> "Sea":
        """Drag eastwards from where she rides."""
        self.go(lambda t_s: (LIES_M + rate_mps * t_s, 0.0), distance_m / rate_mps)
        return self

    def bring_to(self, state: WatchState) -> None:
        """Bring a boat that lies at the origin into a state of the watch."""
        if state is WatchState.RIDING:
            self.ride()
        elif state is WatchState.DRAGGING:
            self.ride().drag()
        elif state is not WatchState.STOWED:
            self.command(DOWN)
            if state is WatchState.LAYING_BACK:
                self.go(lambda t_s: (0.5 * t_s, 0.0), 40.0)
            elif state is WatchState.BROUGHT_UP:
                self.go(lambda t_s: (min(LIES_M, 0.5 * t_s), 0.0), 200.0)
            elif state is WatchState.AWEIGH:
                self.command(Weigh())
            elif state is WatchState.SLIPPED:
                self.command(Slip())

    # -- what came of it -----------------------------------------------------------------------

    lies_m = LIES_M
    down = DOWN

    @property
    def states(self) -> list[str]:
        """The changes of state so far, as ``event>state``."""
        return [f"{e.name}>{e.state}" for e in self.events if isinstance(e, StateEvent)]

    def alerts(self, name: str) -> list[Alert]:
        """Every change of the alerts of this name."""
        return [e for e in self.events if isinstance(e, Alert) and e.name == name]

    @property
    def calls(self) -> list[str]:
        """Every call so far in short: when (since the first), why, who, and how loudly."""
        calls = [e for e in self.events if isinstance(e, Call)]
        return [
            f"{call.mono_s - calls[0].mono_s:g} {call.alert.name} {call.reason.value} "
            f"{'+'.join(call.outlets)} {call.loudness}"
            for call in calls
        ]

    def state(self) -> str:
        """The state of the watch now."""
        return self.core.watch.state.value

    def place(self, east_m: float, north_m: float = 0.0) -> Position:
        """A place in degrees."""
        return self.plane.to_position(east_m, north_m)

    def en_m(self, lat_deg: float, lon_deg: float) -> tuple[float, float]:
        """A place in metres east and north of ``ANCHORAGE``."""
        return self.plane.to_plane(lat_deg, lon_deg)

    def rebuilt(self) -> tuple[Core, list[Event]]:
        """Another core that has heard the same, by way of JSON; and its events."""
        data = json.loads(json.dumps(settings_to_json(self.settings)))
        core = Core(settings_from_json(data), mono_s=self.began_s)
        events = feed_all(core, self.inputs)
        return core, [*events, *core.advance(self.now_s)]


def as_lines(events: Sequence[Event]) -> list[str]:
    """Events as the contract writes them."""
    return [event_to_json(event) for event in events]


@pytest.fixture
def sea() -> Sea:
    """A sloop that has lain at the origin for a minute, antenna 8 m aft of the bow."""
    boat = Sea()
    boat.lie(60.0, 0.0)
    return boat


@pytest.fixture(scope="session")
def crewed() -> CoreSettings:
    """The sloop with a watch bill."""
    return evolve(SLOOP, alerts=CREW)


@pytest.fixture(scope="session")
def put_to_sea() -> type[Sea]:
    """Make a boat and her core: ``put_to_sea(settings)``."""
    return Sea


@pytest.fixture(scope="session")
def json_lines() -> Callable[[Sequence[Event]], list[str]]:
    """Write events as the contract does."""
    return as_lines
