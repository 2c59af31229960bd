"""The plan held against the watch: what is told hours ahead, when, and when it ends."""

import datetime as dt
import functools
import math
import operator
from typing import Any, ClassVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.condition import Condition
from driftlead.core.core import Core
from driftlead.core.inputs import LetGo, Weigh
from driftlead.core.settings import CoreSettings
from driftlead.core.snapshot import snapshot_from_json, snapshot_to_json
from driftlead.lines import StampedLine
from driftlead.tide.table import Row, Turn, tide_table
from driftlead.watch.outlook import AHEAD_S, WIND_COVERED_S, Outlook
from driftlead.watch.settings import OutlookSettings, WatchSettings

STEP_S = 10.0
DAY = dt.datetime(2026, 6, 14, tzinfo=dt.UTC)


def at(clock: str, day: int = 0) -> float:
    """Unix seconds at a time of the first day, or ``day`` days on."""
    hours, minutes = clock.split(":")
    return (DAY + dt.timedelta(days=day, hours=int(hours), minutes=int(minutes))).timestamp()


# Invented, of the shape of the table in docs/planning.md: range 3 m.
TIDE = (
    (at("12:00"), 1.0),
    (at("18:00"), 4.0),
    (at("00:00", 1), 1.0),
    (at("06:00", 1), 4.0),
    (at("12:00", 1), 1.0),
)
SLOOP = OutlookSettings(tide=TIDE, draught_m=1.7, clearance_m=0.5, wind_mps=10.0)
STILL: dict[str, Any] = {
    "rode_m": None,
    "depth_m": None,
    "depth_utc_s": None,
    "sounded_m": None,
    "wind_mps": None,
}


class Night:
    """An outlook fed step by step; ``told`` is every condition with its UTC and track time."""

    def __init__(self, settings: OutlookSettings = SLOOP, *, bow_height_m: float = 1.0) -> None:
        self.outlook = Outlook(settings, bow_height_m=bow_height_m)
        self.time_s = 0.0
        self.told: list[tuple[float, Condition]] = []

    def lie(
        self,
        begins_s: float,
        ends_s: float,
        *,
        step_s: float = STEP_S,
        utc: bool = True,
        **known: Any,
    ) -> "Night":
        """Feed it from one UTC to another; ``known`` values may be functions of UTC."""
        now_s = begins_s
        while now_s < ends_s:
            values = {
                name: value(now_s) if callable(value) else value
                for name, value in (STILL | known).items()
            }
            self.told += [
                (now_s, condition)
                for condition in self.outlook.take(
                    self.time_s, utc_s=now_s if utc else None, **values
                )
            ]
            now_s += step_s
            self.time_s += step_s
        return self

    def only(self) -> tuple[float, Condition]:
        """The one condition that was told."""
        ((when_s, condition),) = self.told
        return when_s, condition


def tide_m(utc_s: float) -> float:
    """The height by the project's own tide table, which is checked elsewhere."""
    rows = [
        Row(where="", turn=Turn(when=dt.datetime.fromtimestamp(when_s, dt.UTC), height_m=height_m))
        for when_s, height_m in TIDE
    ]
    return tide_table(rows, name="").height_m(dt.datetime.fromtimestamp(utc_s, dt.UTC))


class TestScope:
    """Let go at low water, 12:00, in 5 m: 8 m at high water, with a bow of 1 m a drop of 9 m."""

    LET_GO: ClassVar[dict[str, Any]] = {"depth_m": 5.0, "depth_utc_s": at("12:00")}

    def test_it_is_told_six_hours_before_the_tide_makes_it_short(self) -> None:
        """25 m: at 22:00 the tide of 04:00 is the highest ahead, high water is not till 06:00."""
        night = Night().lie(at("21:00"), at("03:00", 1), rode_m=25.0, **self.LET_GO)
        when_s, condition = night.only()
        assert (condition.name, condition.priority) == ("rode_short", Priority.CAUTION)
        assert 5.0 + tide_m(when_s + AHEAD_S) == pytest.approx(25.0 / 3.0, abs=0.01)
        assert at("06:00", 1) - when_s > AHEAD_S
        assert condition.text.startswith(
            "At high water, 06:00 UTC: the scope of 25 m of rode in 8.0"
        )

    def test_the_text_names_the_time_in_the_ships_zone_and_the_scope_there_will_be(self) -> None:
        settings = OutlookSettings(tide=TIDE, utc_offset_s=-7200.0)
        night = Night(settings).lie(at("12:30"), at("12:40"), rode_m=20.0, **self.LET_GO)
        _, condition = night.only()
        assert condition.text == (
            "At high water, 16:00 UTC-02:00: the scope of 20 m of rode in 8.0 m of water is 2.2:1, "
            "less than 3:1. Veer in time if there is room to swing."
        )

    def test_it_ends_when_more_rode_is_veered(self) -> None:
        night = Night().lie(at("12:10"), at("12:20"), rode_m=20.0, **self.LET_GO)
        night.lie(at("12:20"), at("12:30"), rode_m=30.0, **self.LET_GO)
        begun, ended = night.told
        assert (begun[0], begun[1].priority) == (at("12:10"), Priority.CAUTION)
        assert (ended[0], ended[1].name, ended[1].priority) == (at("12:20"), "rode_short", None)

    def test_it_ends_once_the_tide_has_fallen_and_comes_again_before_the_next_high_water(
        self,
    ) -> None:
        """25 m are 2.8:1 at high water, and 3.1:1 in a drop of 8.06 m."""
        night = Night().lie(at("12:10"), at("02:00", 1), rode_m=25.0, **self.LET_GO)
        begun, ended, again = night.told
        assert begun[1].priority is again[1].priority is Priority.CAUTION
        assert ended[1].priority is None
        assert at("18:00") < ended[0] < again[0] < at("00:30", 1)
        assert 5.0 + tide_m(ended[0]) == pytest.approx(25.0 / 3.1, abs=0.01)
        assert 5.0 + tide_m(again[0] + AHEAD_S) == pytest.approx(25.0 / 3.0, abs=0.01)

    @pytest.mark.parametrize(("rode_m", "count"), [(26.9, 1), (27.1, 0)])
    def test_three_to_one_of_depth_and_bow_height_is_just_enough(
        self, rode_m: float, count: int
    ) -> None:
        night = Night().lie(at("12:10"), at("12:20"), rode_m=rode_m, **self.LET_GO)
        assert len(night.told) == count

    def test_hardly_enough_is_not_yet_enough_to_end_it(self) -> None:
        """27.1 m would not begin it, and 27.9 m ends it: 3.1 times 9 m."""
        night = Night().lie(at("12:10"), at("12:20"), rode_m=26.9, **self.LET_GO)
        night.lie(at("12:20"), at("12:30"), rode_m=27.1, **self.LET_GO)
        assert len(night.told) == 1
        night.lie(at("12:30"), at("12:40"), rode_m=27.95, **self.LET_GO)
        assert [condition.priority for _, condition in night.told] == [Priority.CAUTION, None]

    def test_a_depth_taken_at_half_tide_counts_with_the_tide_of_then(self) -> None:
        """6.5 m at 15:00, half the rise, is the same berth."""
        night = Night().lie(
            at("15:00"), at("15:10"), rode_m=20.0, depth_m=6.5, depth_utc_s=at("15:00")
        )
        assert "in 8.0 m of water is 2.2:1" in night.only()[1].text

    def test_without_a_depth_at_let_go_the_sounder_serves(self) -> None:
        night = Night(OutlookSettings(tide=TIDE)).lie(
            at("15:00"), at("15:10"), rode_m=20.0, sounded_m=6.5
        )
        assert "2.2:1" in night.only()[1].text


class TestKeel:
    """She draws 1.7 m and wants half a metre under the keel: 2.2 m."""

    def test_low_water_is_told_hours_ahead_and_ends_when_the_tide_has_made(self) -> None:
        """A berth of 1 m at datum: 2 m at low water, midnight."""
        night = Night().lie(
            at("17:00"), at("05:00", 1), sounded_m=lambda utc_s: 1.0 + tide_m(utc_s)
        )
        begun, ended = night.told
        name, priority = begun[1].name, begun[1].priority
        assert (name, priority) == ("will_touch", Priority.CAUTION)
        # The window's end reaches down to 2.2 m a little before low water itself is in it.
        assert at("17:00") < begun[0] <= at("18:00")
        assert 1.0 + tide_m(begun[0] + AHEAD_S) == pytest.approx(2.2, abs=0.02)
        assert ended[1].priority is None
        assert ended[0] > at("00:00", 1)
        assert 1.0 + tide_m(ended[0]) == pytest.approx(2.4, abs=0.02)

    @pytest.mark.parametrize(
        ("datum_m", "words"),
        [
            (1.0, "about 2.0 m of water where she lies, 0.3 m under the keel."),
            (0.2, "about 1.2 m of water where she lies, 0.5 m too little to float her."),
            (-2.0, "about 0.0 m of water where she lies, 2.7 m too little to float her."),
        ],
    )
    def test_the_text_says_when_and_how_much_water_there_will_be(
        self, datum_m: float, words: str
    ) -> None:
        night = Night().lie(
            at("18:30"), at("18:40"), sounded_m=lambda utc_s: datum_m + tide_m(utc_s)
        )
        assert night.only()[1].text == (
            f"At low water, 00:00 UTC: {words} Look for deeper water in time."
        )

    def test_enough_water_all_night_is_not_worth_a_word(self) -> None:
        night = Night().lie(at("12:10"), at("11:50", 1), sounded_m=lambda t: 1.3 + tide_m(t))
        assert night.told == []

    def test_one_wrong_echo_changes_nothing(self) -> None:
        """A fish at 0.4 m for one step, in a berth with 0.4 m to spare."""
        berth_m = 1.6
        night = Night().lie(at("13:00"), at("13:10"), sounded_m=lambda t: berth_m + tide_m(t))
        night.lie(at("13:10"), at("13:10") + STEP_S, sounded_m=0.4)
        night.lie(at("13:11"), at("13:20"), sounded_m=lambda t: berth_m + tide_m(t))
        assert night.told == []

    def test_a_sounder_that_falls_silent_leaves_what_it_said(self) -> None:
        """Depth is kept at chart datum, so the tide goes on without it."""
        night = Night().lie(at("12:30"), at("12:40"), sounded_m=lambda t: 1.0 + tide_m(t))
        night.lie(at("12:40"), at("19:00"))
        assert [condition.priority for _, condition in night.told] == [
            Priority.CAUTION,
            None,
            Priority.CAUTION,
        ]

    def test_without_a_sounder_the_depth_at_let_go_serves(self) -> None:
        night = Night().lie(at("18:30"), at("18:40"), depth_m=5.0, depth_utc_s=at("18:00"))
        assert "about 2.0 m" in night.only()[1].text


class TestWind:
    """The plan reckoned with 10 m/s."""

    def test_five_minutes_over_the_plan_are_a_warning_and_well_under_it_ends(self) -> None:
        night = Night().lie(at("13:00"), at("13:10"), wind_mps=9.0)
        night.lie(at("13:10"), at("13:20"), wind_mps=12.0)
        night.lie(at("13:20"), at("13:40"), wind_mps=6.0)
        begun, ended = night.told
        assert (begun[1].name, begun[1].priority) == ("wind_over_plan", Priority.WARNING)
        # A third of the window at 12 and the rest at 9 make 10.
        assert begun[0] - at("13:10") == pytest.approx(100.0, abs=2 * STEP_S)
        assert "the plan reckoned with 10.0 m/s (19.4 kn)" in begun[1].text
        assert ended[1].priority is None
        # Half at 12 and half at 6 make the 9 that is a tenth under the plan.
        assert ended[0] - at("13:20") == pytest.approx(150.0, abs=2 * STEP_S)

    def test_gusts_over_a_mean_within_the_plan_are_not_told(self) -> None:
        """Within any four or five minutes two gusts of a minute fit: 9.5 m/s at most."""
        night = Night().lie(
            at("13:00"), at("15:00"), wind_mps=lambda t: 13.0 if t % 180.0 < 60.0 else 6.0
        )
        assert night.told == []

    def test_nothing_is_told_before_most_of_five_minutes_was_heard(self) -> None:
        night = Night().lie(at("13:00"), at("13:10"), wind_mps=20.0)
        assert night.only()[0] - at("13:00") >= WIND_COVERED_S

    def test_it_needs_neither_utc_nor_a_tide(self) -> None:
        night = Night(OutlookSettings(wind_mps=10.0)).lie(
            at("13:00"), at("13:10"), utc=False, wind_mps=20.0
        )
        assert night.only()[1].name == "wind_over_plan"

    def test_a_wind_that_is_no_longer_heard_does_not_end_the_warning(self) -> None:
        """The masthead may have been blown off."""
        night = Night().lie(at("13:00"), at("13:10"), wind_mps=20.0)
        night.lie(at("13:10"), at("14:00"))
        assert len(night.told) == 1


class TestGrowsWorse:
    """What is up is told again when it has become materially worse, by the same alert."""

    @staticmethod
    def told(night: Night) -> list[tuple[str, bool]]:
        return [(condition.name, condition.renewed) for _, condition in night.told]

    def test_a_scope_shorter_by_three_tenths(self) -> None:
        """At high water the drop is 9 m: 20 m are 2.2:1, 18 m 2.0:1 and 17 m 1.9:1."""
        night = Night()
        for begins, rode_m in (("12:10", 20.0), ("12:20", 18.0), ("12:30", 17.0)):
            begins_s = at(begins)
            night.lie(begins_s, begins_s + 600.0, rode_m=rode_m, **TestScope.LET_GO)
        assert self.told(night) == [("rode_short", False), ("rode_short", True)]
        assert night.told[-1][0] == at("12:30")
        assert "1.9:1" in night.told[-1][1].text
        assert night.told[-1][1].priority is Priority.CAUTION

    def test_water_less_by_two_decimetres(self) -> None:
        """Berths of 1.0 m, 0.9 m and 0.8 m at datum, as she swings: the mean of five minutes."""
        night = Night()
        for begins, datum_m in (("18:30", 1.0), ("18:45", 0.9), ("19:15", 0.75)):
            begins_s = at(begins)
            night.lie(begins_s, begins_s + 900.0, sounded_m=lambda t, d=datum_m: d + tide_m(t))
        assert self.told(night) == [("will_touch", False), ("will_touch", True)]
        assert night.told[-1][0] > at("19:15")
        assert "about 1.8 m" in night.told[-1][1].text

    def test_wind_stronger_by_five_knots_and_again(self) -> None:
        """Told at 10 m/s and over: 12 m/s is within 2.5 of that, 13 and 16 are not."""
        night = Night()
        for begins, wind_mps in (("13:00", 10.1), ("13:20", 12.0), ("13:40", 13.0), ("14:00", 16)):
            begins_s = at(begins)
            night.lie(begins_s, begins_s + 1200.0, wind_mps=wind_mps)
        assert self.told(night) == [
            ("wind_over_plan", False),
            ("wind_over_plan", True),
            ("wind_over_plan", True),
        ]
        assert night.told[1][0] > at("13:40")
        assert night.told[2][0] > at("14:00")

    def test_what_eases_and_worsens_within_that_is_told_once(self) -> None:
        night = Night().lie(at("13:00"), at("16:00"), wind_mps=lambda t: 11.0 + math.sin(t / 500.0))
        assert self.told(night) == [("wind_over_plan", False)]

    def test_after_a_restart_what_is_worse_by_then_is_told_again(self) -> None:
        night = Night()
        night.outlook.resume([alert("rode_short")])
        night.lie(at("12:10"), at("12:20"), rode_m=20.0, **TestScope.LET_GO)
        night.lie(at("12:20"), at("12:30"), rode_m=17.0, **TestScope.LET_GO)
        assert self.told(night) == [("rode_short", True)]


SHORT: dict[str, Any] = {"rode_m": 20.0, "depth_m": 3.0, "depth_utc_s": at("12:00")}
EVERYTHING: dict[str, Any] = SHORT | {"sounded_m": 3.0, "wind_mps": 20.0}


class TestWhatIsNotKnown:
    """Nothing is told without the data, and nothing is taken back for want of it."""

    def test_without_utc_nothing_is_told_of_the_tide(self) -> None:
        night = Night().lie(
            at("12:10"), at("12:40"), utc=False, **(EVERYTHING | {"wind_mps": None})
        )
        assert night.told == []

    def test_by_default_nothing_is_known_and_nothing_told(self) -> None:
        assert Night(OutlookSettings()).lie(at("12:10"), at("12:40"), **EVERYTHING).told == []

    @pytest.mark.parametrize("begins_s", [at("11:00"), at("12:10", 1)])
    def test_outside_the_table_nothing_is_told(self, begins_s: float) -> None:
        night = Night(OutlookSettings(tide=TIDE, draught_m=9.0))
        assert night.lie(begins_s, begins_s + 1800.0, **EVERYTHING).told == []

    def test_an_anchor_let_go_before_the_table_begins_has_no_depth_of_its_own(self) -> None:
        night = Night().lie(at("12:10"), at("12:20"), **(SHORT | {"depth_utc_s": at("11:00")}))
        assert night.told == []

    def test_when_the_table_runs_out_what_it_told_of_ends(self) -> None:
        night = Night(OutlookSettings(tide=TIDE, draught_m=9.0))
        night.lie(at("11:50", 1), at("12:10", 1), sounded_m=3.0)
        assert [condition.priority for _, condition in night.told] == [Priority.CAUTION, None]
        assert night.told[-1][0] == at("12:00", 1) + STEP_S

    def test_utc_that_is_lost_for_a_while_takes_nothing_back(self) -> None:
        night = Night().lie(at("12:10"), at("12:20"), **(SHORT | {"rode_m": 10.0}))
        assert night.only()[1].name == "rode_short"
        night.lie(at("12:20"), at("12:30"), utc=False, **(SHORT | {"rode_m": 50.0}))
        assert len(night.told) == 1


class TestEndAndRestart:
    def test_the_end_of_the_watch_ends_all_of_it_once(self) -> None:
        night = Night(OutlookSettings(tide=TIDE, draught_m=9.0, least_scope=9.0, wind_mps=10.0))
        night.lie(at("12:10"), at("12:40"), **EVERYTHING)
        up = {condition.name for _, condition in night.told}
        assert up == {"rode_short", "will_touch", "wind_over_plan"}
        ended = night.outlook.end()
        assert {(each.name, each.priority) for each in ended} == {(name, None) for name in up}
        assert night.outlook.end() == []

    def test_what_was_up_at_a_restart_is_not_told_again_and_still_ends(self) -> None:
        night = Night()
        night.outlook.resume([alert("rode_short"), alert("fix_lost")])
        night.lie(at("12:10"), at("12:20"), rode_m=20.0, depth_m=5.0, depth_utc_s=at("12:00"))
        assert night.told == []
        night.lie(at("12:20"), at("12:30"), rode_m=40.0, depth_m=5.0, depth_utc_s=at("12:00"))
        assert [(each.name, each.priority) for _, each in night.told] == [("rode_short", None)]

    def test_what_a_changed_configuration_no_longer_speaks_of_ends(self) -> None:
        night = Night(OutlookSettings())
        night.outlook.resume(
            [alert(name) for name in ("rode_short", "will_touch", "wind_over_plan")]
        )
        night.lie(at("12:10"), at("12:20"), **EVERYTHING)
        assert all(condition.priority is None for _, condition in night.told)
        assert len(night.told) == 3


def alert(name: str) -> Alert:
    """An alert that was up when the program stopped."""
    return Alert(
        name=name,
        number=1,
        priority=Priority.CAUTION,
        state=AlertState.ACTIVE_ACKNOWLEDGED,
        reason="tide",
        text="",
        mono_s=0.0,
    )


NUMBER = st.none() | st.floats(0.0, 60.0)


@given(
    steps=st.lists(
        st.tuples(
            st.none() | st.floats(at("11:00"), at("13:00", 1)),
            NUMBER,
            NUMBER,
            st.none() | st.floats(at("11:00"), at("13:00", 1)),
            NUMBER,
            NUMBER,
        ),
        max_size=60,
    )
)
def test_each_thing_begins_and_ends_in_turn_whatever_is_heard(steps: list[Any]) -> None:
    """Up again only as renewed, never renewed or ended without having begun."""
    outlook = Outlook(SLOOP, bow_height_m=1.0)
    up: set[str] = set()
    for number, (utc_s, rode_m, depth_m, depth_utc_s, sounded_m, wind_mps) in enumerate(steps):
        for condition in outlook.take(
            number * STEP_S,
            utc_s=utc_s,
            rode_m=rode_m,
            depth_m=depth_m,
            depth_utc_s=depth_utc_s,
            sounded_m=sounded_m,
            wind_mps=wind_mps,
        ):
            ends = condition.priority is None
            assert (condition.name in up) is (ends or condition.renewed)
            up = up - {condition.name} if ends else up | {condition.name}
    assert {condition.name for condition in outlook.end()} == up


@pytest.mark.parametrize(
    "tide",
    [
        ((2.0, 1.0), (1.0, 2.0)),
        ((1.0, 1.0), (1.0, 2.0)),
        ((1.0, 1.0), (float("nan"), 2.0)),
        ((1.0, float("inf")),),
        ((1e30, 1.0),),
    ],
)
def test_a_tide_that_cannot_be_is_refused(tide: tuple[tuple[float, float], ...]) -> None:
    """A recording may have been written by anybody."""
    with pytest.raises(ValueError, match="tide"):
        OutlookSettings(tide=tide)


def test_heights_agree_with_the_tide_table_that_plans_go_by() -> None:
    """The same cosine: a centimetre of draught more or less decides, at every half hour."""
    for half_hours in range(48):
        now_s = TIDE[0][0] + 1800.0 * half_hours + 1.0
        looked_at = [now_s, min(now_s + AHEAD_S, TIDE[-1][0])]
        looked_at += [when_s for when_s, _ in TIDE if now_s <= when_s <= now_s + AHEAD_S]
        least_m = 10.0 + min(tide_m(when_s) for when_s in looked_at)
        known = STILL | {"depth_m": 10.0 + tide_m(now_s), "depth_utc_s": now_s}
        for draught_m, count in ((least_m + 0.01, 1), (least_m - 0.01, 0)):
            settings = OutlookSettings(tide=TIDE, draught_m=draught_m, clearance_m=0.0)
            told = Outlook(settings, bow_height_m=1.0).take(0.0, utc_s=now_s, **known)
            assert len(told) == count


def test_the_watch_and_the_core_feed_it_from_sentences_alone() -> None:
    """From RMC and a command to the alert; let go at low water of 5 m on 20 m of rode."""
    begins_s = at("12:10")
    settings = CoreSettings(watch=WatchSettings(outlook=OutlookSettings(tide=TIDE)))
    core = Core(settings, mono_s=0.0)
    events: list[Any] = []
    for second in range(120):
        if second == 20:
            reply = core.command(20.0, LetGo(rode_m=20.0, depth_m=5.0))
            assert reply.accepted
        when = dt.datetime.fromtimestamp(begins_s + second, dt.UTC)
        text = f"GPRMC,{when:%H%M%S}.00,A,4630.0000,N,03112.0000,W,0.1,,{when:%d%m%y},,"
        checksum = functools.reduce(operator.xor, text.encode())
        events += core.feed(StampedLine(float(second), "gps", f"${text}*{checksum:02X}"))
    (told,) = [each for each in events if getattr(each, "name", "") == "rode_short"]
    assert told.priority is Priority.CAUTION
    assert "At high water, 18:00 UTC" in told.text
    anchored = core.snapshot().anchored
    assert anchored is not None
    assert anchored.depth_utc_s == pytest.approx(begins_s + 20.0, abs=1.5)
    assert snapshot_from_json(snapshot_to_json(core.snapshot())).anchored == anchored
    weighed = core.command(130.0, Weigh()).events
    assert ("rode_short", AlertState.NORMAL) in [
        (each.name, each.state) for each in weighed if isinstance(each, Alert)
    ]
