"""Real vessels that left their moorings, heard by AIS in the Solent: the watch must tell.

Of the five that the notes of the recording name (they swing, shift or set off), two truly leave
within it: 212890000 shifts by some 40 m and goes off an hour later; 235069875 lies still to 2 m
for over an hour and is then taken 80 m away. 311758000, 236112059 and 249050000 lie to long rodes
of which nothing is known, and are left out.
"""

import csv
import datetime as dt
import gzip
import statistics
from pathlib import Path

import pytest

from driftlead.core.core import Core
from driftlead.core.inputs import LetGo
from driftlead.core.reply import Event
from driftlead.core.settings import CoreSettings
from driftlead.core.state_event import StateEvent
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.simulate.nmea_writer import rmc

KNOT_MPS = 1852.0 / 3600.0
AT_REST_S = 1200.0
"""Where a vessel lay in the first twenty minutes is where her mooring is."""

pytestmark = pytest.mark.real


@pytest.mark.parametrize(
    ("mmsi", "not_before_s", "not_after_s", "gone_m"),
    [("212890000", 1600.0, 2000.0, 34.0), ("235069875", 4240.0, 4620.0, 85.0)],
)
def test_a_vessel_that_leaves_her_mooring_is_told_when_she_does_and_not_before(
    shared_real: Path, mmsi: str, not_before_s: float, not_after_s: float, gone_m: float
) -> None:
    """The times and metres are read from the recording itself."""
    fixes = []
    with gzip.open(shared_real / "solent-ais-2016-01-12.csv.gz", "rt") as file:
        for row in csv.DictReader(file):
            if row["MMSI"] != mmsi:
                continue
            utc = dt.datetime.fromisoformat(row["Time"]).replace(tzinfo=dt.UTC)
            place = Position(float(row["Latitude_degrees"]), float(row["Longitude_degrees"]))
            fixes.append((utc, place, float(row["SOG_knots"]), float(row["COG_degrees"])))
    begins = fixes[0][0]
    early = [place for utc, place, *_ in fixes if (utc - begins).total_seconds() < AT_REST_S]
    mooring = Position(
        statistics.median(place.lat_deg for place in early),
        statistics.median(place.lon_deg for place in early),
    )
    core = Core(CoreSettings(), mono_s=0.0)
    events: list[Event] = []
    for utc, place, sog_kn, cog_deg in fixes:
        mono_s = (utc - begins).total_seconds()
        text = rmc(
            utc=utc,
            lat_deg=place.lat_deg,
            lon_deg=place.lon_deg,
            sog_mps=sog_kn * KNOT_MPS,
            cog_deg=cog_deg % 360.0,
        )
        events += core.feed(StampedLine(mono_s, "gps", text))
        if not core.on_watch and core.watch.point is not None:
            assert core.command(mono_s, LetGo(rode_m=10.0, depth_m=4.0, drop=mooring)).accepted
    found = [e for e in events if isinstance(e, StateEvent) and e.state == "dragging"]
    assert found
    assert not_before_s < found[0].mono_s < not_after_s
    moved_m = found[0].moved_m
    assert moved_m is not None
    assert 5.0 < moved_m < gone_m + 10.0
