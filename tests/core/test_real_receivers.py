"""Real receivers that stayed where they were: the watch must stay quiet behind them.

Reference stations for 24 h (code-only positions every 30 s, real satellites and multipath), a
small boat lying still at 10 Hz, and vessels on Solent moorings heard by AIS. None of them was an
NMEA 0183 log; they are written out as the sentences a receiver would have sent.
"""

import csv
import datetime as dt
import gzip
import statistics
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest
from attrs import evolve

from driftlead.alerts.alert import Alert
from driftlead.core.core import Core
from driftlead.core.inputs import LetGo
from driftlead.core.reply import Event
from driftlead.core.settings import CoreSettings
from driftlead.core.state_event import StateEvent
from driftlead.geodesy.geodesic import inverse
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.simulate.nmea_writer import gga, hdt, rmc
from driftlead.watch.settings import BoatSettings, WatchSettings

STATIONS = ("esbc-2020177", "nya1-2024124", "ajac-2024209")
DEPTH_M = 4.0
# The tightest circle a boat could have: with so little rode out only the receiver's own error
# and the allowances are left between the antenna and an alarm.
RODE_M = 5.5

pytestmark = pytest.mark.real


def core_without_boat() -> Core:
    """Antenna at the bow, bow at the water: nothing that widens the circle."""
    boat = BoatSettings(bow_height_m=1.0, antenna_aft_m=0.0)
    return Core(CoreSettings(watch=evolve(WatchSettings(), boat=boat)), mono_s=0.0)


def station_lines(path: Path) -> Iterator[StampedLine]:
    """RMC (with neither speed nor course) and GGA, every 30 s."""
    with gzip.open(path, "rt") as file:
        for index, row in enumerate(csv.DictReader(file)):
            utc = dt.datetime.fromisoformat(row["gpst"]).replace(tzinfo=dt.UTC)
            if index == 0:
                begins = utc
            mono_s = (utc - begins).total_seconds()
            lat_deg, lon_deg = float(row["lat_deg"]), float(row["lon_deg"])
            satellites = min(int(row["nsat"]), 12)
            position = rmc(
                utc=utc, lat_deg=lat_deg, lon_deg=lon_deg, sog_mps=0.0, cog_deg=None, decimals=5
            )
            yield StampedLine(mono_s, "gps", position)
            quality = gga(
                utc=utc,
                lat_deg=lat_deg,
                lon_deg=lon_deg,
                satellites=satellites,
                hdop=1.0,
                decimals=5,
            )
            yield StampedLine(mono_s, "gps", quality)


def watched(core: Core, lines: Iterable[StampedLine], command: LetGo, at_s: float) -> list[Event]:
    """Every event of a watch that is set with the first fix from ``at_s`` on."""
    events: list[Event] = []
    pending = True
    for line in lines:
        events += core.feed(line)
        if pending and line.mono_s >= at_s and core.status(line.mono_s).fix_age_s == 0.0:
            pending = False
            reply = core.command(line.mono_s, command)
            assert reply.accepted, reply
            events += reply.events
    assert not pending
    return events


def drags(events: Iterable[Event]) -> list[Event]:
    """Everything that says drag."""
    return [
        event
        for event in events
        if (isinstance(event, Alert) and event.name == "drag")
        or (isinstance(event, StateEvent) and event.state == "dragging")
    ]


@pytest.mark.parametrize("station", STATIONS)
@pytest.mark.parametrize("hour", [0, 7, 14])
def test_a_day_of_a_still_receiver_raises_no_drag_behind_a_marked_anchor(
    shared_real: Path, station: str, hour: int
) -> None:
    """Marked at three different hours, since the mark carries that hour's error all day."""
    core = core_without_boat()
    command = LetGo(rode_m=RODE_M, depth_m=DEPTH_M)
    lines = station_lines(shared_real / f"still-24h-{station}.csv.gz")
    events = watched(core, lines, command, hour * 3600.0 + 60.0)
    assert drags(events) == []
    assert core.on_watch
    status = core.status(86_400.0)
    assert status.distance_m is not None
    assert 0.0 < status.distance_m < 10.0


@pytest.mark.parametrize("station", STATIONS)
def test_a_day_of_a_still_receiver_raises_no_drag_when_set_late(
    shared_real: Path, station: str
) -> None:
    core = core_without_boat()
    command = LetGo(rode_m=25.0, depth_m=DEPTH_M, late=True)
    lines = station_lines(shared_real / f"still-24h-{station}.csv.gz")
    assert drags(watched(core, lines, command, 60.0)) == []
    anchor = core.status(86_400.0).anchor
    assert anchor is not None
    # A boat that lies still and has no heading tells nothing of where her anchor is.
    assert anchor.sigma_m > 5.0


def test_a_small_boat_lying_still_at_10_hz_raises_no_drag(shared_real: Path) -> None:
    """Her own speed, course and heading (NMEA 2000, written out as RMC, GGA and HDT)."""
    core = core_without_boat()
    lines: list[StampedLine] = []
    with gzip.open(shared_real / "boat-bc-still-10hz.csv.gz", "rt") as file:
        course: tuple[float, float | None] = (0.0, None)
        for row in csv.DictReader(file):
            utc = dt.datetime.fromisoformat(row["utc"]).replace(tzinfo=dt.UTC)
            first, second = row["v1"], row["v2"]
            mono_s = round(utc.timestamp() % 86_400.0, 6)
            if row["kind"].startswith("cogsog"):
                course = (float(second), float(first))
            elif row["kind"].startswith("heading"):
                lines.append(StampedLine(mono_s, "gps", hdt(heading_deg=float(first))))
            elif row["kind"].startswith("pos"):
                lat_deg, lon_deg = float(first), float(second)
                text = rmc(
                    utc=utc,
                    lat_deg=lat_deg,
                    lon_deg=lon_deg,
                    sog_mps=course[0],
                    cog_deg=course[1],
                    decimals=5,
                )
                lines.append(StampedLine(mono_s, "gps", text))
    assert len(lines) > 10_000
    command = LetGo(rode_m=RODE_M, depth_m=DEPTH_M)
    assert drags(watched(core, lines, command, lines[0].mono_s + 5.0)) == []
    assert core.watch.point is not None


def solent(shared_real: Path) -> dict[str, list[tuple[dt.datetime, float, float, float, float]]]:
    """Fixes by vessel: time, latitude, longitude, speed in knots, course."""
    vessels = defaultdict(list)
    with gzip.open(shared_real / "solent-ais-2016-01-12.csv.gz", "rt") as file:
        for row in csv.DictReader(file):
            vessels[row["MMSI"]].append(
                (
                    dt.datetime.fromisoformat(row["Time"]).replace(tzinfo=dt.UTC),
                    float(row["Latitude_degrees"]),
                    float(row["Longitude_degrees"]),
                    float(row["SOG_knots"]),
                    float(row["COG_degrees"]),
                )
            )
    return vessels


SET_OFF = ("212890000", "235069875", "311758000", "236112059", "249050000")
"""They swing, shift or set off, by the notes that came with the recording."""


def test_moored_vessels_raise_no_drag(shared_real: Path) -> None:
    moored = 0
    for mmsi, fixes in solent(shared_real).items():
        if len(fixes) < 15 or mmsi in SET_OFF:
            continue
        median = Position(
            statistics.median(fix[1] for fix in fixes), statistics.median(fix[2] for fix in fixes)
        )
        off_m = sorted(inverse(median, Position(fix[1], fix[2])).distance_m for fix in fixes)
        if off_m[int(0.95 * len(off_m))] > 6.0:
            continue
        moored += 1
        core = core_without_boat()
        begins = fixes[0][0]
        lines = [
            StampedLine(
                round((utc - begins).total_seconds(), 6),
                "gps",
                rmc(
                    utc=utc,
                    lat_deg=lat_deg,
                    lon_deg=lon_deg,
                    sog_mps=sog_kn * 1852.0 / 3600.0,
                    cog_deg=cog_deg % 360.0,
                ),
            )
            for utc, lat_deg, lon_deg, sog_kn, cog_deg in fixes
        ]
        command = LetGo(rode_m=10.0, depth_m=DEPTH_M, drop=median)
        assert drags(watched(core, lines, command, 30.0)) == [], mmsi
    assert moored >= 15
