"""A night whose tide rises: the circle told to the crew shrinks with it, and nobody is woken."""

import datetime as dt
import math
from typing import TYPE_CHECKING

import pytest
from attrs import evolve

from driftlead.core.settings import CoreSettings
from driftlead.watch.settings import OutlookSettings

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.core.conftest import Sea

LOW = dt.datetime(2026, 6, 1, 20, 0, tzinfo=dt.UTC)
HALF_TIDE_S = 6.0 * 3600.0
RISE_M = 6.0


def reach_m(after_s: float) -> float:
    """Of 30 m of rode, bow 1.2 m, in 5 m at low water and cosine-wise 6 m more at high."""
    rise_m = RISE_M * 0.5 * (1.0 - math.cos(math.pi * after_s / HALF_TIDE_S))
    return math.sqrt(30.0**2 - (6.2 + rise_m) ** 2)


@pytest.fixture
def tidal(put_to_sea: "type[Sea]") -> "Callable[[], Sea]":
    """The sloop with the table of the night, let go at low water, riding at full reach."""

    def make() -> "Sea":
        sloop: CoreSettings = put_to_sea().settings
        tide = (
            (LOW.timestamp() - 60.0, 1.0),
            (LOW.timestamp() + HALF_TIDE_S, 1.0 + RISE_M),
            (LOW.timestamp() + 2 * HALF_TIDE_S, 1.0),
        )
        outlook = OutlookSettings(tide=tide, least_scope=1.0)
        sea = put_to_sea(evolve(sloop, watch=evolve(sloop.watch, outlook=outlook)), utc=LOW)
        sea.lie(60.0, 0.0, every_s=5.0)
        sea.ride()
        return sea

    return make


def ride_on(sea: "Sea", lasts_s: float) -> None:
    """Ride at the reach of the hour, the antenna 8 m aft of the bow, sheering slowly."""
    began_s = sea.now_s - sea.began_s

    def path(t_s: float) -> tuple[float, float]:
        lies_m = reach_m(began_s + t_s) + 7.5
        swing_rad = 0.4 * math.sin(t_s / 400.0)
        return lies_m * math.cos(swing_rad), lies_m * math.sin(swing_rad)

    sea.go(path, lasts_s, every_s=10.0)


def test_the_radius_told_is_that_of_the_hour_and_nobody_is_woken(
    tidal: "Callable[[], Sea]",
) -> None:
    """From 5 m to 11 m of water: with slack 32.4 m, it shrinks by 31.8 - 30.0 = 1.8 m and more."""
    sea = tidal()
    before = sea.core.status(sea.now_s)
    ride_on(sea, HALF_TIDE_S - (sea.now_s - sea.began_s))
    after = sea.core.status(sea.now_s)
    assert before.radius_m is not None
    assert after.radius_m is not None
    shrunk_m = math.sqrt(32.4**2 - 6.2**2) - math.sqrt(32.4**2 - 12.2**2)
    assert before.radius_m - after.radius_m == pytest.approx(shrunk_m, abs=0.12)
    assert after.anchor_depth_m == pytest.approx(11.0, abs=0.02)
    assert after.rise_m is None or after.rise_m < 0.01
    assert not sea.alerts("drag")
    assert not sea.alerts("swing_changed")
    assert sea.state() == "riding"
    ride_on(sea, HALF_TIDE_S / 2)
    falling = sea.core.status(sea.now_s)
    assert falling.radius_m is not None
    assert falling.radius_m > after.radius_m
    assert not sea.alerts("drag")
    core, events = sea.rebuilt()
    assert events == sea.events
    assert core.snapshot() == sea.core.snapshot()


def test_after_a_restart_it_goes_on_from_the_depth_of_then(
    tidal: "Callable[[], Sea]", put_to_sea: "type[Sea]"
) -> None:
    sea = tidal()
    ride_on(sea, HALF_TIDE_S - (sea.now_s - sea.began_s))
    snapshot = sea.core.snapshot()
    assert snapshot.drawn_depth_m == pytest.approx(11.0, abs=0.3)
    before = sea.core.status(sea.now_s)
    began = LOW + dt.timedelta(seconds=HALF_TIDE_S + 60.0)
    again = put_to_sea(sea.settings, now_s=5.0, utc=began, snapshot=snapshot)
    again.core.resumed()
    lies_m = reach_m(HALF_TIDE_S) + 7.5
    again.lie(1200.0, lies_m, every_s=10.0)
    after = again.core.status(again.now_s)
    assert before.radius_m is not None
    # Twenty minutes after high water it has hardly fallen.
    assert after.radius_m == pytest.approx(before.radius_m, abs=0.15)
    assert not again.alerts("drag")
