"""Which receiver is followed, and what date it tells."""

import datetime as dt
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.core.core import Core
from driftlead.core.inputs import LetGo
from driftlead.core.settings import CoreSettings
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.watch.settings import TackleSettings, WatchSettings

if TYPE_CHECKING:
    from tests.core.conftest import Sea

ANCHORAGE = Position(46.5, -31.2)
DOWN = LetGo(rode_m=30.0, depth_m=5.0, drop=ANCHORAGE)


class TestTwoReceivers:
    """The more trusted one is followed; the other takes over when it fails."""

    SETTINGS = CoreSettings(
        watch=WatchSettings(tackle=TackleSettings(rode_aboard_m=60.0)), source_order=("gps", "ais")
    )

    def both(self, boat: "Sea", lasts_s: int, east_m: float = 0.0) -> None:
        """The second antenna is 5 m north of the first."""
        for _ in range(lasts_s):
            boat.fix(east_m, 0.0)
            boat.fix(east_m, 5.0, after_s=0.0, source="ais")

    def test_the_first_is_followed(self, put_to_sea: "type[Sea]") -> None:
        boat = put_to_sea(self.SETTINGS)
        self.both(boat, 60)
        assert boat.core.status(boat.now_s).receiver == "gps/satellite"
        point = boat.core.watch.point
        assert point is not None
        assert abs(point.north_m) < 0.1

    def test_the_second_takes_over_and_no_alarm_comes_of_it(self, put_to_sea: "type[Sea]") -> None:
        boat = put_to_sea(self.SETTINGS)
        self.both(boat, 60)
        boat.command(DOWN)
        self.both(boat, 60, 10.0)
        boat.lie(300.0, 10.0, 5.0, source="ais")
        assert boat.core.status(boat.now_s).receiver == "ais/satellite"
        assert [alert for alert in boat.events if isinstance(alert, Alert)] == []
        position = boat.core.status(boat.now_s).position
        assert position is not None
        assert boat.en_m(position.lat_deg, position.lon_deg) == pytest.approx((10.0, 5.0), abs=0.4)

    def test_the_track_of_the_second_is_its_own(self, put_to_sea: "type[Sea]") -> None:
        """On a large vessel the antennas lie far apart: that is no step to be refused."""
        boat = put_to_sea(self.SETTINGS)
        self.both(boat, 60)
        boat.lie(15.0, 40.0, 0.0, source="ais")
        point = boat.core.watch.point
        assert point is not None
        assert point.east_m == pytest.approx(40.0, abs=0.4)

    def test_what_one_that_is_not_followed_lacks_is_no_loss(self, put_to_sea: "type[Sea]") -> None:
        """The followed one falls silent, and the other says only that it has no fix: silence."""
        boat = put_to_sea(self.SETTINGS)
        self.both(boat, 60)
        boat.command(DOWN)
        boat.fix(0.0)
        for _ in range(100):
            boat.no_fix(source="ais")
        names = {alert.name for alert in boat.events if isinstance(alert, Alert)}
        assert names == {"data_stale"}

    def test_one_that_has_no_fix_is_left_for_one_that_has(self, put_to_sea: "type[Sea]") -> None:
        boat = put_to_sea(self.SETTINGS)
        self.both(boat, 60)
        boat.command(DOWN)
        for _ in range(100):
            boat.no_fix()
            boat.fix(0.0, 5.0, after_s=0.0, source="ais")
        assert boat.core.status(boat.now_s).receiver == "ais/satellite"
        assert boat.alerts("fix_lost") == []

    def test_the_first_is_followed_again_when_it_has_been_steady(
        self, put_to_sea: "type[Sea]"
    ) -> None:
        boat = put_to_sea(self.SETTINGS)
        self.both(boat, 60)
        for _ in range(60):
            boat.fix(0.0, 5.0, source="ais")
        self.both(boat, 20)
        assert boat.core.status(boat.now_s).receiver == "ais/satellite"
        self.both(boat, 20)
        assert boat.core.status(boat.now_s).receiver == "gps/satellite"

    def test_when_both_are_silent_it_is_told(self, put_to_sea: "type[Sea]") -> None:
        boat = put_to_sea(self.SETTINGS)
        self.both(boat, 60)
        boat.command(DOWN)
        self.both(boat, 10)
        boat.wait(31.0)
        assert [alert.name for alert in boat.events if isinstance(alert, Alert)] == ["data_stale"]


class TestDates:
    """UTC is the receiver's; an old receiver's date is put right, and said to be wrong."""

    @staticmethod
    def rolled_over(put_to_sea: "type[Sea]", settings: CoreSettings) -> "Sea":
        """A receiver that is 1024 weeks behind."""
        utc = dt.datetime(2026, 6, 1, 20, 0, tzinfo=dt.UTC) - dt.timedelta(weeks=1024)
        boat = put_to_sea(settings, utc=utc)
        boat.lie(30.0, 0.0)
        return boat

    def test_a_week_rollover_is_corrected_and_told_once(self, put_to_sea: "type[Sea]") -> None:
        """GPS counts weeks modulo 1024 (IS-GPS-200)."""
        boat = self.rolled_over(put_to_sea, CoreSettings(earliest_date=dt.date(2026, 1, 1)))
        (caution,) = boat.alerts("receiver_date")
        assert (caution.priority, caution.state) == (
            Priority.CAUTION,
            AlertState.ACTIVE_ACKNOWLEDGED,
        )
        assert "1024 weeks" in caution.text
        truth = boat.utc + dt.timedelta(weeks=1024)
        assert boat.core.utc_s(boat.now_s) == pytest.approx(truth.timestamp())

    def test_without_an_earliest_date_dates_stand_as_they_are(
        self, put_to_sea: "type[Sea]"
    ) -> None:
        boat = self.rolled_over(put_to_sea, CoreSettings())
        assert boat.alerts("receiver_date") == []
        assert boat.core.utc_s(boat.now_s) == pytest.approx(boat.utc.timestamp())

    @pytest.mark.parametrize("still_wrong", [True, False])
    def test_after_a_restart_it_goes_on_or_clears(
        self, put_to_sea: "type[Sea]", still_wrong: bool
    ) -> None:
        settings = CoreSettings(earliest_date=dt.date(2026, 1, 1))
        boat = self.rolled_over(put_to_sea, settings)
        utc = boat.utc if still_wrong else boat.utc + dt.timedelta(weeks=1024)
        again = put_to_sea(settings, utc=utc, snapshot=boat.core.snapshot())
        again.lie(10.0, 0.0)
        states = [alert.state for alert in again.alerts("receiver_date")]
        assert states == ([] if still_wrong else [AlertState.NORMAL])

    def test_before_the_receiver_has_told_the_time_events_have_none(self) -> None:
        core = Core(CoreSettings(), mono_s=0.0)
        (event, *_rest) = core.command(1.0, DOWN).events
        assert event.utc_s is None


class TestLines:
    """Whatever a wire brings."""

    @given(
        texts=st.lists(
            st.text(st.characters(max_codepoint=255), max_size=90)
            | st.sampled_from(["$GPRMC,,V,,,,,,,,,,N*53", "$GPGGA,,,,,,0,,,,,,,,*66", "!AIVDM,*"]),
            max_size=30,
        )
    )
    @settings(deadline=None, max_examples=50)
    def test_no_line_raises(self, texts: list[str]) -> None:
        core = Core(CoreSettings(require_checksum=False), mono_s=0.0)
        core.command(0.0, LetGo(rode_m=30.0, drop=ANCHORAGE))
        for count, text in enumerate(texts):
            core.feed(StampedLine(float(count), "gps", text))
            core.status(float(count))

    def test_a_bad_checksum_is_counted_and_moves_nothing(self, sea: "Sea") -> None:
        before = sea.core.watch.point
        sea.say("$GPGLL,4631.0000,N,03112.0000,W,200101.00,A,A*00")
        assert sea.core.watch.point == before
        (source,) = sea.core.status(sea.now_s).sources
        assert sum(source.rejected.values()) == 1

    def test_epochs_are_decided_on_as_soon_as_they_are_complete(self, sea: "Sea") -> None:
        """RMC then GGA: with the GGA, and not only when the next second begins."""
        sea.fix(1.0)
        assert sea.core.watch.point is not None
        assert sea.core.watch.point.mono_s == sea.now_s
