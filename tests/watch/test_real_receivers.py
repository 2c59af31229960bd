"""Receivers that truly stayed where they were, behind a boat that does not: no drag may be told.

Reference stations for a day (positions every 30 s from real satellites and multipath, neither
speed nor course), a small boat at her berth at 10 Hz, vessels on moorings heard by AIS. The
stations' error moves a boat that lies still, and is laid over simulated ones that swing; and where
an anchor does come home under the same error, it must be told.
"""

import csv
import datetime as dt
import gzip
import math
import statistics
import sys
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest
from attrs import evolve, frozen

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.proof.aboard import go_aboard
from tests.bench.proof.cases import CASES
from tests.bench.proof.night import first_alarm

from driftlead.alerts.alert import Priority
from driftlead.alerts.condition import Condition
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.nmea.fix import Fix
from driftlead.nmea.observations import HeadingReport, North
from driftlead.simulate.draw import draw_night
from driftlead.simulate.observe import observe
from driftlead.simulate.real_error import RealError, read_real_error
from driftlead.simulate.receiver import ReceiverFigures
from driftlead.watch.settings import BoatSettings, WatchSettings
from driftlead.watch.watch import Outcome, Watch

STATIONS = ("esbc-2020177", "nya1-2024124", "ajac-2024209")
HOUR_S = 3600.0
EVERY_S = 30.0
KNOT_MPS = 1852.0 / 3600.0
SEA = LocalPlane(Position(46.5, -31.2))
SLOOP = WatchSettings(boat=BoatSettings(bow_height_m=1.0, antenna_aft_m=8.0))
AT_THE_BOW = WatchSettings(boat=BoatSettings(bow_height_m=1.0, antenna_aft_m=0.0))
RODE_M, DEPTH_M = 30.0, 4.0
LET_GO_S, VEERED_S, LATE_S = 120.0, 420.0, 1800.0

pytestmark = pytest.mark.real
Way = Callable[[float], tuple[float, float]]


def told_of_drag(outcomes: Sequence[Outcome]) -> bool:
    """Whether a drag alarm is among them."""
    return any(
        isinstance(each, Condition) and each.name == "drag" and each.priority is Priority.ALARM
        for each in outcomes
    )


def make_fix(t_s: float, lat_deg: float, lon_deg: float) -> Fix:
    """A fix that says where and when, and no more."""
    return Fix("gps", t_s, None, lat_deg, lon_deg, 0.02, None, None, None, None)


def falls_back(t_s: float) -> tuple[float, float]:
    """Her antenna: 8 m aft of the bow as the anchor goes down at the origin, then astern of it.

    She falls back to within 1.5 m of her full reach, and there she lies.
    """
    part = min(1.0, max(0.0, (t_s - LET_GO_S) / 180.0))
    return 0.0, -8.0 - 28.0 * part


def swings_and_drags(begins_s: float, mps: float) -> Way:
    """She swings by 45 degrees to either side within the hour; then the anchor comes home south."""

    def way(t_s: float) -> tuple[float, float]:
        distance_m = -falls_back(t_s)[1]
        swung_s = max(0.0, t_s - VEERED_S)
        bearing_rad = math.pi + 0.25 * math.pi * math.sin(2.0 * math.pi * swung_s / HOUR_S)
        came_m = mps * max(0.0, t_s - begins_s)
        return distance_m * math.sin(bearing_rad), distance_m * math.cos(bearing_rad) - came_m

    return way


def alarm_s(error: RealError, way: Way, *, late: bool, hours: float) -> float | None:
    """When a drag is told of a boat that goes this way under this error; None if never."""
    watch = Watch(SLOOP, mono_s=0.0)
    marked = veered = late_set = False
    for step in range(round(hours * HOUR_S / EVERY_S)):
        t_s = step * EVERY_S
        (east_m, north_m), (off_e_m, off_n_m) = way(t_s), error.at(t_s)
        place = SEA.to_lat_lon(east_m + off_e_m, north_m + off_n_m)
        outcomes = list(watch.hear_fix(t_s, t_s, make_fix(t_s, *place)))
        if late:
            if not late_set and t_s >= LATE_S:
                late_set = True
                outcomes += watch.set_late(t_s, rode_m=RODE_M, depth_m=DEPTH_M)
        elif not marked and t_s >= LET_GO_S:
            marked = True
            outcomes += watch.let_go(t_s, rode_m=None, depth_m=DEPTH_M, drop=None)
        elif not veered and t_s >= VEERED_S:
            veered = True
            outcomes += watch.veer(t_s, rode_m=RODE_M, depth_m=None)
        if told_of_drag(outcomes):
            return t_s
    assert watch.state.on_watch
    assert watch.evidence is not None, "a watch that never looked proves nothing"
    return None


def station(shared_real: Path, name: str) -> RealError:
    """The error of one station through a day."""
    return read_real_error(shared_real / f"still-24h-{name}.csv.gz")


@pytest.mark.parametrize("name", STATIONS)
@pytest.mark.parametrize("late", [False, True], ids=["marked", "late"])
def test_a_boat_that_lies_still_raises_no_drag_through_a_day_of_real_error(
    shared_real: Path, name: str, late: bool
) -> None:
    """Three nights of six hours, begun at three hours of the day, without a heading."""
    error = station(shared_real, name)
    for begins_s in (0.0, 8 * HOUR_S, 16 * HOUR_S):
        night = error.starting_at(begins_s)
        assert alarm_s(night, falls_back, late=late, hours=6.0) is None, begins_s / HOUR_S


@pytest.mark.parametrize("late", [False, True], ids=["marked", "late"])
def test_a_drag_is_told_of_under_the_same_error(shared_real: Path, late: bool) -> None:
    """The worst of the three receivers, at 2 m a minute.

    She has swung before, or nothing would tell on which side of her the anchor lies.
    """
    begins_s, mps = 2.5 * HOUR_S, 2.0 / 60.0
    way = swings_and_drags(begins_s, mps)
    told_s = alarm_s(station(shared_real, "ajac-2024209"), way, late=late, hours=4.0)
    assert told_s is not None
    assert 0.0 < mps * (told_s - begins_s) < (40.0 if late else 30.0)


@pytest.mark.parametrize(("name", "seed"), [*zip(STATIONS, (900101, 900102, 900103), strict=True)])
def test_simulated_boats_that_swing_under_real_error_raise_no_drag(
    shared_real: Path, name: str, seed: int
) -> None:
    """Drawn boats, winds and tides, in which the anchor holds; marked and set late, no heading.

    The stations have good antennas under a clear sky: their error is doubled.
    """
    scenario = evolve(
        draw_night(seed, drags=False, hours=3.0), receiver=ReceiverFigures(), troubles=()
    )
    error = evolve(station(shared_real, name), scale=2.0, start_s=5 * HOUR_S)
    aboard = go_aboard(scenario, observe(scenario, error=error))
    for case in CASES:
        if not case.heading and not case.wind:
            assert first_alarm(aboard, case) is None, case.title


def berthed(path: Path) -> Iterator[tuple[float, str, tuple[float, float]]]:
    """Seconds, kind and figures of each message of the boat at her berth."""
    with gzip.open(path, "rt") as file:
        for row in csv.DictReader(file):
            moment = dt.datetime.fromisoformat(row["utc"]).replace(tzinfo=dt.UTC)
            kind = row["kind"]
            if kind.startswith(("cogsog", "heading", "pos")):
                second = float(row["v2"]) if row["v2"] else 0.0
                yield moment.timestamp() % 86_400.0, kind, (float(row["v1"]), second)


@pytest.mark.parametrize("late", [False, True], ids=["marked", "late"])
def test_a_small_boat_at_her_berth_at_10_hz_raises_no_drag(shared_real: Path, late: bool) -> None:
    """Her own position, course, speed and heading."""
    watch = Watch(AT_THE_BOW, mono_s=0.0)
    begins_s: float | None = None
    course: tuple[float | None, float | None] = (None, None)
    fixes = 0
    for t_s, kind, (first, second) in berthed(shared_real / "boat-bc-still-10hz.csv.gz"):
        begins_s = t_s if begins_s is None else begins_s
        if kind.startswith("cogsog"):
            course = (first, second)
        elif kind.startswith("heading"):
            report = HeadingReport("HC", first % 360.0, North.TRUE)
            watch.instruments.hear_heading(t_s, report)
        else:
            fixes += 1
            cog_deg, sog_mps = course
            fix = evolve(make_fix(t_s, first, second), sog_mps=sog_mps, cog_deg=cog_deg)
            assert not told_of_drag(watch.hear_fix(t_s, t_s, fix))
            if not watch.state.on_watch and t_s - begins_s > 5.0:
                if late:
                    watch.set_late(t_s, rode_m=15.0, depth_m=DEPTH_M)
                else:
                    watch.let_go(t_s, rode_m=5.5, depth_m=DEPTH_M, drop=None)
    assert fixes > 7000
    assert watch.evidence is not None


@frozen
class Heard:
    """One message of a vessel by AIS."""

    utc: dt.datetime
    lat_deg: float
    lon_deg: float
    sog_mps: float
    cog_deg: float


SET_OFF = ("212890000", "235069875", "311758000", "236112059", "249050000")
"""They swing, shift or set off, by the notes that came with the recording."""


def moored(shared_real: Path) -> Iterator[tuple[str, Sequence[Heard]]]:
    """Vessels that lie to a mooring: 95 % of their fixes within 6 m of the middle one."""
    vessels: dict[str, list[Heard]] = defaultdict(list)
    with gzip.open(shared_real / "solent-ais-2016-01-12.csv.gz", "rt") as file:
        for row in csv.DictReader(file):
            vessels[row["MMSI"]].append(
                Heard(
                    dt.datetime.fromisoformat(row["Time"]).replace(tzinfo=dt.UTC),
                    float(row["Latitude_degrees"]),
                    float(row["Longitude_degrees"]),
                    float(row["SOG_knots"]) * KNOT_MPS,
                    float(row["COG_degrees"]) % 360.0,
                )
            )
    for mmsi, messages in vessels.items():
        if len(messages) < 15 or mmsi in SET_OFF:
            continue
        middle = LocalPlane(
            Position(
                statistics.median(each.lat_deg for each in messages),
                statistics.median(each.lon_deg for each in messages),
            )
        )
        places = (middle.to_plane(each.lat_deg, each.lon_deg) for each in messages)
        off_m = sorted(abs(complex(*place)) for place in places)
        if off_m[int(0.95 * len(off_m))] <= 6.0:
            yield mmsi, messages


def test_vessels_on_moorings_raise_no_drag_when_the_watch_is_set_late(shared_real: Path) -> None:
    """With a rode that covers their swing; speed and course are as they sent them."""
    count = 0
    for mmsi, messages in moored(shared_real):
        count += 1
        watch = Watch(AT_THE_BOW, mono_s=0.0)
        begins = messages[0].utc
        for message in messages:
            t_s = (message.utc - begins).total_seconds()
            fix = evolve(
                make_fix(t_s, message.lat_deg, message.lon_deg),
                sog_mps=message.sog_mps,
                cog_deg=message.cog_deg,
            )
            assert not told_of_drag(watch.hear_fix(t_s, t_s, fix)), mmsi
            if not watch.state.on_watch and t_s > 30.0:
                watch.set_late(t_s, rode_m=15.0, depth_m=DEPTH_M)
        assert watch.evidence is not None
    assert count >= 15
