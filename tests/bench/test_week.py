"""A week at anchor: what the watch holds in memory does not grow with the days."""

import datetime as dt
import gc
import math
import resource
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

from driftlead.alerts.alert import Alert
from driftlead.core.reply import Event
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.replay.runner import Runner
from driftlead.replay.settings import ReplaySettings
from driftlead.simulate.nmea_writer import hdt, rmc

pytestmark = pytest.mark.bench
BEGINS: Final = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
DAYS: Final = 7
DAY_S: Final = 86400
PLACE: Final = LocalPlane(Position(-43.2, -58.7))
MOST_GROWTH: Final = 1.05
"""From the end of the second day, when every cache is full, to the end of the seventh."""


def lines_of(day: int) -> Iterator[StampedLine]:
    """She sheers about 28 m from her anchor, the wind going round once in two days; at 1 Hz."""
    for second in range(day * DAY_S, (day + 1) * DAY_S):
        bearing_rad = math.tau * second / (2 * DAY_S) + 0.4 * math.sin(second / 17.0)
        lies_m = min(28.0, 0.3 * max(0.0, second - 600.0)) + 0.7 * math.sin(second / 331.0)
        lat_deg, lon_deg = PLACE.to_lat_lon(
            lies_m * math.sin(bearing_rad), lies_m * math.cos(bearing_rad)
        )
        utc = BEGINS + dt.timedelta(seconds=second)
        sheer_mps = 28.0 * 0.4 / 17.0 * math.cos(second / 17.0)
        course_deg = math.degrees(bearing_rad) + (90.0 if sheer_mps > 0.0 else -90.0)
        for text in (
            rmc(
                utc=utc,
                lat_deg=lat_deg,
                lon_deg=lon_deg,
                sog_mps=abs(sheer_mps),
                cog_deg=course_deg % 360.0,
            ),
            hdt(heading_deg=(math.degrees(bearing_rad) + 180.0) % 360.0),
        ):
            yield StampedLine(float(second), "gps", text)


def resident_bytes() -> int:
    """What the process holds in memory now."""
    gc.collect()
    return (
        int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
        * resource.getpagesize()
    )


def test_a_week_at_anchor_takes_no_more_memory_than_two_days() -> None:
    events: list[Event] = []
    settings = ReplaySettings(
        rode_m=30.0,
        depth_m=5.0,
        bow_height_m=1.0,
        antenna_aft_m=0.0,
        drop_at=BEGINS + dt.timedelta(minutes=10),
    )
    runner = Runner(settings, on_event=events.append)
    held = []
    for day in range(DAYS):
        for line in lines_of(day):
            runner.take((line,))
        held.append(resident_bytes())
    growth = held[-1] / held[1]
    told = ", ".join(f"{each / 1e6:.1f}" for each in held)
    print(f"\nheld at the end of each day, MB: {told}; growth {growth:.3f}; {len(events)} events")
    assert not [each for each in events if isinstance(each, Alert) and each.name == "drag"]
    assert growth < MOST_GROWTH
