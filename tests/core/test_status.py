"""The state of the watch, as people and scripts are shown it."""

import math
from typing import TYPE_CHECKING

import pytest
from attrs import asdict

from driftlead.core.core import Core
from driftlead.core.inputs import Weigh
from driftlead.core.settings import CoreSettings
from driftlead.simulate import nmea_writer

if TYPE_CHECKING:
    from tests.core.conftest import Sea


class TestStatus:
    """The state of the watch for people."""

    def test_before_anything_is_known_nothing_is_claimed(self) -> None:
        status = Core(CoreSettings(), mono_s=0.0).status(5.0)
        known = asdict(status, recurse=False)
        assert {known.pop(name) for name in ("alerts", "sources")} == {()}
        assert known.pop("state") == "stowed"
        assert set(known.values()) == {None}

    def test_riding_it_tells_where_she_is_and_where_the_anchor(self, sea: "Sea") -> None:
        sea.ride()
        sea.head(268.0)
        sea.say(nmea_writer.mwv(off_bow_deg=10.0, speed_mps=6.0), source="instruments")
        sea.say(
            nmea_writer.dpt(below_transducer_m=4.5, transducer_below_water_m=0.5), source="depth"
        )
        status = sea.core.status(sea.now_s + 2.0)
        assert (status.state, status.verdict, status.reason) == (
            "riding",
            "holding",
            "as_the_rode_allows",
        )
        assert status.distance_m == pytest.approx(sea.lies_m, abs=0.7)
        assert status.bearing_deg == pytest.approx(90.0, abs=1.5)
        circle_m = math.sqrt(32.4**2 - 6.2**2) + 8.0
        assert status.radius_m == pytest.approx(circle_m + 2.0 * math.hypot(5.0, 2.5), abs=0.2)
        assert status.confidence is not None
        assert status.confidence < 0.5
        assert status.moved_m == 0.0
        assert status.rate_mps == 0.0
        assert status.position is not None
        assert status.anchor is not None
        assert (status.anchor.lat_deg, status.anchor.lon_deg) == (46.5, -31.2)
        assert (status.rode_m, status.depth_m) == (30.0, 5.0)
        assert status.heading_deg == 268.0
        assert status.wind_from_deg == pytest.approx(278.0)
        assert status.wind_mps == pytest.approx(6.0, abs=0.03)
        assert status.fix_age_s == pytest.approx(2.0)
        assert status.receiver == "gps/satellite"
        assert status.utc_s == pytest.approx(sea.utc.timestamp() + 2.0)
        assert status.alerts == ()

    def test_dragging_it_tells_how_far_and_how_fast(self, sea: "Sea") -> None:
        sea.ride().drag(0.3, 90.0)
        status = sea.core.status(sea.now_s)
        assert (status.state, status.verdict) == ("dragging", "dragging")
        assert status.moved_m == pytest.approx(89.0, abs=4.0)
        assert status.rate_mps == pytest.approx(0.3, rel=0.1)
        assert status.confidence == pytest.approx(1.0)
        assert [alert.name for alert in status.alerts] == ["drag"]

    def test_each_source_tells_what_it_gave_and_when(self, sea: "Sea") -> None:
        sea.say("$GPRMC,torn", "$GPXYZ,1*5F", source="log")
        sources = {each.name: each for each in sea.core.status(sea.now_s + 3.0).sources}
        assert sources["gps"].accepted == {"GGA": 60, "RMC": 60}
        assert sources["gps"].line_age_s == pytest.approx(3.0)
        assert sum(sources["log"].rejected.values()) >= 1
        assert sources["log"].accepted == {}

    def test_after_weighing_the_anchor_is_nowhere(self, sea: "Sea") -> None:
        sea.ride().command(Weigh())
        status = sea.core.status(sea.now_s)
        assert (status.anchor, status.verdict, status.moved_m, status.rode_m) == (None,) * 4
        assert status.position is not None
