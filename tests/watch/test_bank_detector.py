"""The detector as the watch knows it: points of a track in, judgements out.

The anchor lies at the origin of the plane unless it is said otherwise. Every figure the detector
takes for granted may change; what is tested is what it is for.
"""

import itertools
import math
from collections.abc import Callable
from typing import Any, Final, Protocol

import pytest
from attrs import evolve, frozen

from driftlead.nmea.observations import HeadingReport, North, WindReference, WindReport
from driftlead.tackle.drag_circle import DragCircle, drag_circle
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.bank import BankFigures
from driftlead.watch.bank_detector import BankDetector
from driftlead.watch.detector import AnchorInPlane, Arming, Detector, Memory
from driftlead.watch.evidence import Evidence, Knowledge
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement, Reason, Verdict
from driftlead.watch.settings import DetectorSettings

Point = Callable[..., TrackPoint]

AFT_M: Final = 8.0
MARKED: Final = AnchorInPlane(0.0, 0.0, 3.0)
BLIND: Final = BankFigures(start_rate=0.0)
"""A bank that never thinks of a drag: what it finds, the floor has found."""


def circle_of(rode_m: float = 40.0) -> DragCircle:
    """On 40 m of rode in 6 m of water, antenna 8 m aft: without the fixes' error."""
    return drag_circle(
        rode_m=rode_m,
        depth_m=6.0,
        bow_height_m=1.0,
        antenna_aft_m=AFT_M,
        rode_slack=0.08,
        sigma_m=0.0,
        sigmas=0.0,
    )


REACH_M: Final = circle_of().reach_m


@frozen
class Lie:
    """How she lies: from where her rode leads, to where, how far and how she heads off it."""

    bearing_deg: float = 90.0
    from_anchor_m: float = REACH_M - 0.5
    head_off_deg: float = 0.0
    anchor_m: float = 0.0
    """How far the anchor has come already, eastwards."""

    @property
    def heading_deg(self) -> float:
        """True head: toward the anchor, but for the sheer."""
        return (self.bearing_deg + 180.0 + self.head_off_deg) % 360.0

    @property
    def antenna_m(self) -> tuple[float, float]:
        """East and north of the drop point."""
        out, head = math.radians(self.bearing_deg), math.radians(self.heading_deg)
        east_m = self.from_anchor_m * math.sin(out) - AFT_M * math.sin(head)
        north_m = self.from_anchor_m * math.cos(out) - AFT_M * math.cos(head)
        return self.anchor_m + east_m, north_m


def sheering(t_s: float, *, leeward_deg: float = 90.0, from_anchor_m: float = REACH_M - 0.5) -> Lie:
    """In a breeze: 20 degrees to either side, head and all, in a minute and a half."""
    phase = math.tau * t_s / 93.0
    return Lie(leeward_deg + 20.0 * math.sin(phase), from_anchor_m, 25.0 * math.cos(phase))


class Sail(Protocol):
    """How she lies at a time."""

    def __call__(self, t_s: float, /) -> Lie: ...


class Night:
    """A detector, and points of a boat's track that it judges."""

    def __init__(
        self,
        point: Point,
        *,
        settings: DetectorSettings | None = None,
        figures: BankFigures | None = None,
        heading: bool = True,
        wind_mps: float | None = None,
        **arming: Any,
    ) -> None:
        self.detector: Detector = BankDetector(settings or DetectorSettings(), figures)
        self.point = point
        self.instruments = Instruments()
        self.heading, self.wind_mps = heading, wind_mps
        self.now_s = 0.0
        self.judged: list[Judgement] = []
        self.seen: list[Evidence] = []
        if arming:
            self.arm(**arming)

    def arm(self, **arming: Any) -> None:
        """Of a marked anchor at the origin on 40 m of rode, but for ``arming``."""
        told: dict[str, Any] = {"anchor": MARKED, "circle": circle_of()} | arming
        self.detector.arm(Arming(**told))

    def fix(self, lie: Lie, *, after_s: float = 10.0, **point: Any) -> Judgement:
        """One point of the track."""
        self.now_s += after_s
        wander = 0.4 * math.sin(self.now_s / 47.0), 0.4 * math.cos(self.now_s / 61.0)
        east_m, north_m = lie.antenna_m
        here = self.point(self.now_s, east_m + wander[0], north_m + wander[1], **point)
        if self.heading:
            report = HeadingReport("HC", lie.heading_deg, North.TRUE)
            self.instruments.hear_heading(here.mono_s, report)
        if self.wind_mps is not None:
            wind = WindReport("WI", self.wind_mps, 270.0, WindReference.TRUE_NORTH)
            self.instruments.hear_wind(here.mono_s, wind)
        judgement = self.detector.judge(here, self.instruments)
        self.judged.append(judgement)
        evidence = self.detector.evidence
        if evidence is not None and (not self.seen or evidence is not self.seen[-1]):
            self.seen.append(evidence)
        return judgement

    def sail(self, sail: Sail, lasts_s: float, *, every_s: float = 10.0, **point: Any) -> None:
        """Lie as ``sail`` says, in seconds from now."""
        began_s = self.now_s
        while self.now_s - began_s < lasts_s - 1e-6:
            self.fix(sail(self.now_s - began_s + every_s), after_s=every_s, **point)

    def drag(self, rate_mps: float, *, every_s: float = 10.0, **point: Any) -> float:
        """Drag to leeward, sheering, until that is found; how far the anchor had come, metres."""
        began_s, gone_m = self.now_s, 0.0
        while self.verdict is not Verdict.DRAGGING:
            gone_m = rate_mps * (self.now_s - began_s + every_s)
            assert gone_m < 150.0, "no drag found"
            self.fix(evolve(sheering(self.now_s), anchor_m=gone_m), after_s=every_s, **point)
        return gone_m

    @property
    def verdict(self) -> Verdict:
        """The latest."""
        return self.judged[-1].verdict if self.judged else Verdict.HOLDING

    @property
    def verdicts(self) -> set[Verdict]:
        """All there were."""
        return {each.verdict for each in self.judged}

    @property
    def odds(self) -> list[float]:
        """Log-odds of a drag at each step."""
        return [each.log_odds for each in self.seen]


@pytest.fixture
def night(point: Point) -> Callable[..., Night]:
    """Make a night: ``night(rode..)``, armed with a marked anchor unless told otherwise."""

    def make(**how: Any) -> Night:
        return Night(point, **({"anchor": MARKED} | how))

    return make


Make = Callable[..., Night]


class TestHolding:
    """She rides to an anchor that holds."""

    @pytest.mark.parametrize("heading", [True, False])
    @pytest.mark.parametrize("wind_mps", [None, 2.0, 9.0])
    def test_hours_of_sheering_in_a_shifting_wind_are_no_drag(
        self, night: Make, heading: bool, wind_mps: float | None
    ) -> None:
        she = night(heading=heading, wind_mps=wind_mps)
        she.sail(lambda t_s: sheering(t_s, leeward_deg=90.0 + t_s / 40.0), 4800.0)
        assert she.verdicts == {Verdict.HOLDING}
        assert {each.reason for each in she.judged} == {Reason.AS_THE_RODE_ALLOWS}
        assert max(she.odds) < -3.0
        assert she.detector.place == MARKED

    def test_light_airs_in_which_she_lies_anyhow_over_her_rode_are_no_drag(
        self, night: Make
    ) -> None:
        she = night(wind_mps=1.0)
        she.sail(
            lambda t_s: Lie(t_s / 5.0, 8.0 + 15.0 * math.sin(t_s / 600.0) ** 2, t_s / 11.0), 4800.0
        )
        assert she.verdicts == {Verdict.HOLDING}

    def test_the_tide_turns_her_over_her_anchor_and_that_is_no_drag(self, night: Make) -> None:
        """From full reach in the east to full reach in the west, across the anchor."""
        she = night(heading=False)
        she.sail(sheering, 1800.0)
        she.sail(lambda t_s: Lie(95.0, (REACH_M - 0.5) * (1.0 - t_s / 450.0), 180.0), 900.0)
        she.sail(lambda t_s: sheering(t_s, leeward_deg=270.0), 1800.0)
        assert she.verdicts == {Verdict.HOLDING}

    def test_a_mark_that_is_some_metres_off_is_no_drag(self, night: Make) -> None:
        """The receiver's error at let go, or a slow hand: 4 m across and 3 m along."""
        she = night(anchor=AnchorInPlane(-3.0, 4.0, 3.0))
        she.sail(sheering, 3600.0)
        assert Verdict.DRAGGING not in she.verdicts

    def test_falling_back_from_the_anchor_is_no_drag(self, night: Make) -> None:
        """Let go over it, then ten minutes to lie back."""
        she = night(by_fix=True)
        she.sail(lambda t_s: Lie(90.0, min(REACH_M - 0.5, 0.1 * t_s)), 1200.0)
        assert she.verdicts == {Verdict.HOLDING}


class TestDragging:
    """The anchor comes home."""

    @pytest.mark.parametrize("heading", [True, False])
    @pytest.mark.parametrize("rate_mps", [0.03, 0.1, 0.4, 1.0])
    def test_it_is_found_and_told_with_its_figures(
        self, night: Make, rate_mps: float, heading: bool
    ) -> None:
        she = night(heading=heading, wind_mps=8.0)
        she.sail(sheering, 1800.0)
        gone_m = she.drag(rate_mps)
        told = she.judged[-1]
        assert gone_m < 15.0 + 45.0 * rate_mps
        assert told.reason in {Reason.ANCHOR_MOVED, Reason.FAR_OUTSIDE_DRAG_CIRCLE}
        assert told.confidence > 0.7
        assert told.moved_deg == pytest.approx(90.0, abs=30.0)
        assert told.moved_m == pytest.approx(gone_m, abs=5.0 + 0.3 * gone_m)
        assert told.rate_mps is not None
        assert told.rate_mps > 0.0
        place = she.detector.place
        off_m = math.hypot(place.east_m - gone_m, place.north_m)
        assert off_m < 3.0 * place.sigma_m

    def test_while_it_goes_on_the_place_goes_with_it(self, night: Make) -> None:
        she = night()
        she.sail(sheering, 1200.0)
        she.drag(0.2)
        gone_m = 0.2 * (she.now_s - 1200.0)
        for _ in range(30):
            gone_m += 2.0
            she.fix(evolve(sheering(she.now_s), anchor_m=gone_m))
        assert she.verdict is Verdict.DRAGGING
        assert she.detector.place.east_m == pytest.approx(gone_m, abs=8.0)
        assert she.judged[-1].moved_m == pytest.approx(gone_m, abs=8.0)
        assert she.judged[-1].rate_mps == pytest.approx(0.2, rel=0.3)
        # Distances are from where the anchor was: so it shows when she goes no farther.
        assert she.judged[-1].distance_m > gone_m + REACH_M - 5.0

    def test_no_rate_is_ever_backwards(self, night: Make) -> None:
        """She falls back to where the anchor was, and less and less is believed of a drag."""
        she = night()
        she.sail(sheering, 1200.0)
        she.drag(0.2)
        she.sail(sheering, 900.0)
        assert min(each.rate_mps for each in she.seen) == 0.0

    def test_a_fast_drag_is_told_to_be_fast(self, night: Make) -> None:
        """The minutes in which she still rode to it are no part of its rate."""
        she = night(wind_mps=8.0)
        she.sail(sheering, 1800.0)
        she.drag(1.0)
        assert she.judged[-1].rate_mps == pytest.approx(1.0, rel=0.6)

    @pytest.mark.parametrize("every_s", [1.0, 30.0, 360.0])
    def test_however_often_fixes_come_it_is_found(self, night: Make, every_s: float) -> None:
        she = night(heading=False)
        she.sail(sheering, 1800.0, every_s=every_s)
        assert she.verdicts == {Verdict.HOLDING}
        assert she.drag(0.1, every_s=every_s) < 120.0

    @pytest.mark.parametrize("nights", [(5.0, 50.0), (50.0, 1000.0)])
    def test_the_fewer_false_alarms_are_accepted_the_later_it_is_told(
        self, night: Make, nights: tuple[float, float]
    ) -> None:
        gone_m = []
        for each in nights:
            she = night(settings=DetectorSettings(false_alarm_nights=each))
            she.sail(sheering, 1200.0)
            gone_m.append(she.drag(0.02))
        assert gone_m[0] < gone_m[1]

    def test_the_odds_are_told_at_each_step_and_stand_between(self, night: Make) -> None:
        """A new object each step, so that whoever watches can see that it is one."""
        she = night()
        she.sail(sheering, 300.0, every_s=1.0)
        assert 15 <= len(she.seen) <= 30
        assert [each.time_s for each in she.seen] == sorted({each.time_s for each in she.seen})
        assert she.judged[-1].log_odds == she.seen[-1].log_odds
        assert she.seen[-1].knowledge is Knowledge.MARKED_WITH_HEADING

    def test_where_they_rise_fast_they_are_told_twice_as_often(self, night: Make) -> None:
        """A breakout makes metres in ten seconds; while she rides quietly that is often enough."""
        she = night()
        she.sail(sheering, 1200.0, every_s=1.0)
        quiet = [later.time_s - each.time_s for each, later in itertools.pairwise(she.seen)]
        assert min(quiet) >= 10.0
        assert max(quiet) == 20.0
        she.drag(0.8, every_s=1.0)
        apart = [later.time_s - each.time_s for each, later in itertools.pairwise(she.seen)]
        assert apart[-1] == 5.0

    def test_farther_off_than_lately_no_step_is_left_out(self, night: Make) -> None:
        """A quiet boat is asked after half as often, but not one that goes off."""
        she = night()
        she.sail(lambda _: Lie(from_anchor_m=REACH_M - 10.0), 600.0, every_s=1.0)
        she.seen.clear()
        she.sail(lambda t_s: Lie(from_anchor_m=REACH_M - 10.0 + 0.04 * t_s), 200.0, every_s=1.0)
        apart = [later.time_s - each.time_s for each, later in itertools.pairwise(she.seen)]
        assert set(apart) == {10.0}

    def test_the_same_track_twice_is_judged_the_same_to_the_last_bit(self, night: Make) -> None:
        def once() -> tuple[list[Judgement], list[Evidence], AnchorInPlane, Memory | None]:
            she = night(late=True, by_fix=True)
            she.sail(sheering, 900.0)
            she.drag(0.2)
            return she.judged, she.seen, she.detector.place, she.detector.memory

        assert once() == once()


class TestBreakout:
    """Far outside a few seconds are enough, whatever the hypotheses say."""

    def test_it_is_found_by_the_floor_alone(self, night: Make) -> None:
        she = night(figures=BLIND)
        she.sail(sheering, 600.0)
        she.sail(lambda _: Lie(anchor_m=80.0), 20.0, every_s=1.0)
        assert she.verdict is Verdict.DRAGGING
        assert she.judged[-1].reason is Reason.FAR_OUTSIDE_DRAG_CIRCLE

    def test_inside_the_floor_it_is_not(self, night: Make) -> None:
        she = night(figures=BLIND)
        she.sail(sheering, 600.0)
        she.sail(lambda _: Lie(anchor_m=20.0), 600.0)
        assert Reason.FAR_OUTSIDE_DRAG_CIRCLE not in {each.reason for each in she.judged}

    def test_fixes_that_were_refused_prove_nothing(self, night: Make) -> None:
        """Dead reckoning alone, with a wrong speed, has carried the track out there."""
        she = night()
        she.sail(sheering, 600.0)
        she.sail(
            lambda t_s: Lie(anchor_m=0.5 * t_s), 300.0, fix_state=FixState.JUMPED, jumped_s=9.0
        )
        assert she.verdicts == {Verdict.HOLDING}
        assert she.odds[-1] < -5.0

    def test_a_first_fix_far_off_that_the_next_contradicts_wakes_nobody(self, night: Make) -> None:
        she = night()
        she.sail(sheering, 600.0)
        she.fix(Lie(anchor_m=200.0), fix_state=FixState.REACQUIRED)
        she.sail(lambda _: Lie(anchor_m=200.0), 50.0, fix_state=FixState.JUMPED)
        she.sail(sheering, 600.0)
        assert Verdict.DRAGGING not in she.verdicts

    def test_it_is_told_with_at_least_what_no_rode_explains(self, night: Make) -> None:
        """80 m of it, found within seconds: an alarm that says two metres would be a poor one."""
        she = night(wind_mps=8.0)
        she.sail(sheering, 600.0)
        she.sail(lambda _: Lie(anchor_m=80.0), 30.0, every_s=1.0)
        told = next(each for each in she.judged if each.verdict is Verdict.DRAGGING)
        assert told.moved_m > 50.0
        assert told.moved_deg == pytest.approx(90.0, abs=20.0)
        assert told.confidence > 0.7

    def test_the_anchor_is_put_where_no_rode_leaves_it(self, night: Make) -> None:
        """What the alarm shows on the chart goes with the metres it tells."""
        she = night(wind_mps=8.0)
        she.sail(sheering, 600.0)
        she.sail(lambda _: Lie(anchor_m=80.0), 30.0, every_s=1.0)
        assert she.verdict is Verdict.DRAGGING
        place = she.detector.place
        assert math.hypot(place.east_m - 80.0, place.north_m) < 3.0 * place.sigma_m


class TestReceiver:
    """What the receiver does."""

    def test_one_that_holds_its_position_for_hours_is_no_drag(self, night: Make) -> None:
        """Some ten metres from where she is, as receivers that hold may be."""
        she = night(heading=False)
        she.sail(sheering, 600.0)
        held_s = 0.0
        for _ in range(360):
            held_s += 10.0
            she.fix(Lie(80.0, REACH_M + 3.0), unchanged_s=held_s)
        assert Verdict.DRAGGING not in she.verdicts

    def test_a_position_that_is_held_tells_less_than_one_that_is_not(self, night: Make) -> None:
        odds = []
        for unchanged_s in (0.0, 600.0):
            she = night(heading=False)
            she.sail(sheering, 600.0)
            she.sail(lambda _: Lie(anchor_m=12.0), 120.0, unchanged_s=unchanged_s)
            odds.append(she.odds[-1])
        assert odds[1] < odds[0]

    def test_a_drag_shows_behind_a_receiver_that_lets_go_now_and_then(self, night: Make) -> None:
        """Held for a minute, let go of, held again, each time 6 m farther."""
        she = night(heading=False)
        she.sail(sheering, 600.0)
        for count in range(20):
            for step in range(6):
                she.fix(Lie(anchor_m=6.0 * count), unchanged_s=10.0 * step)
            if she.verdict is Verdict.DRAGGING:
                break
        assert she.verdict is Verdict.DRAGGING
        assert count < 8

    def test_a_receiver_that_loses_the_sky_and_steps_aside_is_no_drag(self, night: Make) -> None:
        """Half of all reflections show in the dilution: twice the error, 14 m aside."""
        odds = []
        for sigma_m in (2.5, 5.0):
            she = night()
            she.sail(sheering, 1800.0)
            for _ in range(12):
                lie = sheering(she.now_s)
                aside = evolve(lie, from_anchor_m=lie.from_anchor_m + 14.0)
                she.fix(aside, sigma_m=sigma_m)
            odds.append(max(she.odds))
        assert odds[0] > 2.0
        assert odds[1] < -5.0

    def test_it_is_found_all_the_same_where_the_sky_stays_lost(self, night: Make) -> None:
        she = night()
        she.sail(sheering, 1800.0)
        assert she.drag(0.1, sigma_m=5.0) < 60.0

    def test_worse_fixes_tell_less(self, night: Make) -> None:
        gone_m = []
        for sigma_m in (2.5, 15.0):
            she = night()
            she.sail(sheering, 600.0, sigma_m=sigma_m)
            gone_m.append(she.drag(0.05, sigma_m=sigma_m))
        assert gone_m[0] < gone_m[1]

    @pytest.mark.parametrize("gap_s", [600.0, 86_400.0, 864_000.0])
    def test_a_silence_however_long_leaves_it_able_to_judge(
        self, night: Make, gap_s: float
    ) -> None:
        she = night()
        she.sail(sheering, 600.0)
        she.now_s += gap_s
        she.sail(sheering, 600.0)
        assert all(math.isfinite(each) for each in she.odds)
        assert Verdict.DRAGGING not in she.verdicts
        assert she.drag(0.2) < 30.0

    def test_a_drag_in_a_silence_is_found_after_it(self, night: Make) -> None:
        """An hour without fixes, and she lies 20 m farther to leeward: too little for the floor."""
        she = night()
        she.sail(sheering, 1200.0)
        she.now_s += 3600.0
        she.sail(lambda t_s: evolve(sheering(t_s), anchor_m=20.0), 300.0)
        assert she.verdict is Verdict.DRAGGING
        assert she.judged[-1].reason is Reason.ANCHOR_MOVED
        assert she.judged[-1].moved_m == pytest.approx(20.0, abs=15.0)

    @pytest.mark.parametrize("far_m", [1e4, 1e6])
    def test_a_wild_position_leaves_it_able_to_judge(self, night: Make, far_m: float) -> None:
        she = night()
        she.sail(sheering, 600.0)
        she.fix(Lie(anchor_m=far_m))
        she.sail(sheering, 600.0)
        assert all(math.isfinite(each) for each in she.odds)
        assert Verdict.DRAGGING not in she.verdicts
        assert she.drag(0.2) < 30.0


class TestHead:
    """The boat's head."""

    def test_lost_midway_it_is_no_drag_and_a_drag_is_found_all_the_same(self, night: Make) -> None:
        she = night()
        she.sail(sheering, 1200.0)
        she.heading = False
        she.sail(sheering, 1200.0)
        assert [each.knowledge for each in she.seen[::120]] == [
            Knowledge.MARKED_WITH_HEADING,
            Knowledge.MARKED,
        ]
        assert she.verdicts == {Verdict.HOLDING}
        assert she.drag(0.1) < 25.0

    def test_coming_and_going_it_is_no_drag(self, night: Make) -> None:
        she = night()
        for count in range(12):
            she.heading = count % 2 == 0
            she.sail(sheering, 300.0)
        assert she.verdicts == {Verdict.HOLDING}

    def test_a_magnetic_one_without_variation_is_not_laid_off_by(self, night: Make) -> None:
        """It may be 20 degrees from true: no better than none."""
        she = night(heading=False)
        for _ in range(30):
            mono_s = 1000.0 + she.now_s + 10.0
            she.instruments.hear_heading(mono_s, HeadingReport("HC", 270.0, North.MAGNETIC))
            she.fix(sheering(she.now_s))
        assert {each.knowledge for each in she.seen} == {Knowledge.MARKED}


class TestRode:
    """How much of it is out."""

    def test_none_known_nothing_can_be_told(self, night: Make) -> None:
        she = night(circle=None)
        she.sail(lambda t_s: Lie(anchor_m=t_s), 600.0)
        assert {(each.verdict, each.reason) for each in she.judged} == {
            (Verdict.UNSURE, Reason.RODE_UNKNOWN)
        }
        last = she.judged[-1]
        assert (last.radius_m, last.rate_mps, last.moved_m) == (None, None, 0.0)
        assert last.distance_m > 600.0
        assert last.confidence < 0.01
        assert she.seen == []
        assert she.detector.place == MARKED

    def test_said_at_last_the_watch_begins(self, night: Make) -> None:
        she = night(circle=None)
        she.sail(sheering, 60.0)
        she.detector.refit(circle_of(), whole_rode=False)
        she.sail(sheering, 600.0)
        assert she.verdict is Verdict.HOLDING
        assert she.drag(0.2) < 30.0

    def test_veered_she_may_fall_back_as_far(self, night: Make) -> None:
        she = night()
        she.sail(sheering, 1200.0)
        she.detector.refit(circle_of(60.0), whole_rode=False)
        she.sail(
            lambda t_s: sheering(
                t_s, from_anchor_m=min(circle_of(60.0).reach_m - 0.5, REACH_M + 0.2 * t_s)
            ),
            1800.0,
        )
        assert Verdict.DRAGGING not in she.verdicts
        assert she.detector.place == MARKED

    def test_between_veering_and_the_next_step_the_circle_is_the_new_one(self, night: Make) -> None:
        she = night()
        she.sail(sheering, 600.0)
        before_m = she.judged[-1].radius_m
        she.detector.refit(circle_of(60.0), whole_rode=False)
        told = she.fix(sheering(she.now_s), after_s=1.0)
        assert told.radius_m is not None
        assert before_m is not None
        longer_m = circle_of(60.0).radius_m - circle_of().radius_m
        assert told.radius_m == pytest.approx(before_m + longer_m, abs=0.1)

    def test_not_veered_the_same_is_a_drag(self, night: Make) -> None:
        she = night()
        she.sail(sheering, 1200.0)
        she.sail(lambda t_s: sheering(t_s, from_anchor_m=min(59.0, REACH_M + 0.2 * t_s)), 600.0)
        assert Verdict.DRAGGING in she.verdicts

    def test_shortened_by_more_than_she_lies_at_she_drags_or_the_figure_is_wrong(
        self, night: Make
    ) -> None:
        she = night()
        she.sail(sheering, 1200.0)
        she.detector.refit(circle_of(20.0), whole_rode=False)
        she.sail(sheering, 300.0)
        assert she.verdict is Verdict.DRAGGING

    def test_what_is_known_of_a_late_sets_anchor_stands_when_she_veers(self, night: Make) -> None:
        she = night(anchor=AnchorInPlane(*Lie().antenna_m, 45.0), late=True, by_fix=True)
        she.sail(lambda t_s: sheering(t_s, leeward_deg=90.0 + t_s / 30.0), 3600.0)
        before = she.detector.place
        she.detector.refit(circle_of(50.0), whole_rode=False)
        assert she.detector.place == before
        she.sail(lambda t_s: sheering(t_s, leeward_deg=210.0), 60.0)
        assert she.detector.place.sigma_m < 2.0 * before.sigma_m

    def test_between_the_word_and_the_next_step_the_rode_is_not_unknown(self, night: Make) -> None:
        """The skipper has just said it."""
        she = night()
        she.sail(sheering, 305.0, every_s=5.0)
        she.detector.refit(circle_of(60.0), whole_rode=False)
        she.sail(sheering, 30.0, every_s=1.0)
        assert {each.reason for each in she.judged} == {Reason.AS_THE_RODE_ALLOWS}

    def test_all_the_rode_aboard_allows_anything_inside_it(self, night: Make) -> None:
        """How much of it is out was never said, so lying short of it is no sign of anything."""
        she = night(circle=circle_of(80.0), whole_rode=True)
        she.sail(lambda t_s: sheering(t_s, from_anchor_m=20.0), 1800.0)
        she.sail(lambda t_s: sheering(t_s, from_anchor_m=min(78.0, 20.0 + 0.1 * t_s)), 1800.0)
        assert she.verdicts == {Verdict.HOLDING}

    def test_beyond_all_the_rode_aboard_is_told_as_such(self, night: Make) -> None:
        she = night(circle=circle_of(80.0), whole_rode=True)
        she.sail(lambda t_s: sheering(t_s, from_anchor_m=70.0), 600.0)
        she.sail(lambda t_s: sheering(t_s, from_anchor_m=70.0 + 0.3 * t_s), 600.0)
        assert she.verdict is Verdict.DRAGGING
        assert {each.reason for each in she.judged if each.verdict is Verdict.DRAGGING} == {
            Reason.OUTSIDE_WHOLE_RODE
        }


def set_late(night: Make, **how: Any) -> Night:
    """She lies back already, and where the anchor is has to be found."""
    return night(anchor=AnchorInPlane(*Lie().antenna_m, 48.0), late=True, by_fix=True, **how)


class TestLateSet:
    """The anchor has been down for a while."""

    @pytest.mark.parametrize("heading", [True, False])
    def test_it_is_found_as_she_swings_and_honestly(self, night: Make, heading: bool) -> None:
        """An hour in which the wind goes through half the compass."""
        she = set_late(night, heading=heading)
        began_s = she.now_s
        while she.now_s - began_s < 3600.0:
            she.fix(sheering(she.now_s, leeward_deg=90.0 + she.now_s / 20.0))
            place = she.detector.place
            assert math.hypot(place.east_m, place.north_m) < 3.0 * place.sigma_m
        assert she.verdicts == {Verdict.HOLDING}
        assert place.sigma_m < 0.15 * REACH_M
        assert {each.knowledge for each in she.seen} == {
            Knowledge.LATE_WITH_HEADING if heading else Knowledge.LATE
        }

    def test_with_a_head_it_is_looked_for_ahead_at_once(self, night: Make) -> None:
        she = set_late(night)
        she.fix(Lie())
        place = she.detector.place
        assert math.hypot(place.east_m, place.north_m) < 0.65 * REACH_M
        assert place.sigma_m < 0.7 * REACH_M

    def test_where_there_is_no_head_the_wind_tells_where_to_look(self, night: Make) -> None:
        """From the west; and she lies east of her anchor."""
        she = set_late(night, heading=False, wind_mps=9.0)
        she.sail(sheering, 300.0)
        place = she.detector.place
        assert math.hypot(place.east_m, place.north_m) < 0.5 * REACH_M

    def test_without_either_a_boat_that_lies_still_tells_nothing(self, night: Make) -> None:
        """It may be on any side of her: the mean is her own place, and far from sure."""
        she = set_late(night, heading=False)
        she.sail(lambda _: Lie(), 1800.0)
        place = she.detector.place
        here = Lie().antenna_m
        assert math.hypot(place.east_m - here[0], place.north_m - here[1]) < 0.25 * REACH_M
        assert place.sigma_m > 0.5 * REACH_M
        assert she.verdicts == {Verdict.HOLDING}

    @pytest.mark.parametrize("heading", [True, False])
    @pytest.mark.parametrize("after_s", [600.0, 2400.0])
    def test_a_drag_is_found_and_the_place_does_not_go_along_with_her(
        self, night: Make, after_s: float, heading: bool
    ) -> None:
        """Where it was found stays, from when she may be dragging."""
        she = set_late(night, heading=heading)
        she.sail(lambda t_s: sheering(t_s, leeward_deg=90.0 - 50.0 * math.cos(t_s / 400.0)), 2400.0)
        she.sail(sheering, after_s)
        assert she.verdicts == {Verdict.HOLDING}
        assert she.drag(0.15) < 60.0
        assert she.judged[-1].distance_m > REACH_M + 8.0
        assert she.detector.place.east_m > 5.0

    @pytest.mark.parametrize("rate_mps", [0.15, 0.5])
    def test_seen_to_sheer_she_lies_at_the_end_of_her_rode_and_a_drag_is_found_sooner(
        self, night: Make, rate_mps: float
    ) -> None:
        """To leeward the anchor might be as well; to lie slack over it she would have to be still.

        The same places, once without what the receiver says of her speed.
        """
        found_m = []
        for lively in (False, True):
            she = set_late(night, heading=False)
            began_s, gone_m = she.now_s + 2400.0, 0.0
            while she.verdict is not Verdict.DRAGGING:
                now_s = she.now_s + 10.0
                gone_m = rate_mps * max(0.0, now_s - began_s)
                assert gone_m < 150.0
                lie = evolve(sheering(now_s), anchor_m=gone_m)
                then = evolve(sheering(now_s - 1.0), anchor_m=gone_m).antenna_m
                east_mps, north_mps = (
                    here - there for here, there in zip(lie.antenna_m, then, strict=True)
                )
                speed = {"east_mps": east_mps, "north_mps": north_mps} if lively else {}
                she.fix(lie, **speed)
            assert gone_m > 0.0
            found_m.append(gone_m)
        assert found_m[1] < found_m[0] - 3.0

    def test_begun_among_fixes_that_turn_out_to_be_a_jump_it_begins_anew(self, night: Make) -> None:
        """Ten minutes of a reflection 90 m off, on which no anchor could be found."""
        she = set_late(night, heading=False)
        she.sail(lambda t_s: evolve(sheering(t_s), anchor_m=90.0), 600.0)
        she.fix(sheering(she.now_s), fix_state=FixState.REACQUIRED)
        she.sail(lambda t_s: sheering(t_s, leeward_deg=90.0 + t_s / 20.0), 3600.0)
        assert she.verdicts == {Verdict.HOLDING}
        place = she.detector.place
        assert math.hypot(place.east_m, place.north_m) < 3.0 * place.sigma_m < 0.5 * REACH_M


class TestPoorMark:
    """The receiver had no good fix when the anchor went down."""

    @pytest.mark.parametrize("heading", [True, False])
    @pytest.mark.parametrize("off_m", [(25.0, 0.0), (0.0, 25.0), (-15.0, -15.0)])
    def test_the_anchor_is_looked_for_and_found_on_the_right_side(
        self, night: Make, off_m: tuple[float, float], heading: bool
    ) -> None:
        """25 m off and good to 18 m, which says so; then two hours of a slowly backing wind."""
        she = night(heading=heading, anchor=AnchorInPlane(*off_m, 18.0), by_fix=True)
        she.sail(lambda t_s: sheering(t_s, leeward_deg=90.0 + t_s / 40.0), 7200.0)
        assert Verdict.DRAGGING not in she.verdicts
        place = she.detector.place
        assert math.hypot(place.east_m, place.north_m) < 3.0 * place.sigma_m < 0.4 * REACH_M

    def test_a_good_mark_stays_where_it_was_made(self, night: Make) -> None:
        she = night(anchor=AnchorInPlane(4.0, 0.0, 4.0), by_fix=True)
        she.sail(lambda t_s: sheering(t_s, leeward_deg=90.0 + t_s / 40.0), 1800.0)
        assert she.detector.place == AnchorInPlane(4.0, 0.0, 4.0)


@pytest.fixture(scope="module")
def learned(point: Point) -> tuple[Memory, AnchorInPlane]:
    """A late set, most of an hour after: what it has learned, and where it has the anchor."""
    she = set_late(lambda **how: Night(point, **how))
    she.sail(lambda t_s: sheering(t_s, leeward_deg=90.0 - 50.0 * math.cos(t_s / 400.0)), 3000.0)
    assert she.detector.memory is not None
    return she.detector.memory, she.detector.place


class TestMemory:
    """Taken up again after a restart."""

    @pytest.fixture
    def she(self, night: Make, learned: tuple[Memory, AnchorInPlane]) -> Night:
        """The late set, taken up again."""
        return night(anchor=learned[1], late=True, memory=learned[0])

    def test_what_was_learned_is_not_forgotten(
        self, she: Night, learned: tuple[Memory, AnchorInPlane]
    ) -> None:
        """From one fix, without a head: the place is nearly as sure as it was."""
        she.heading = False
        she.fix(sheering(0.0))
        place = she.detector.place
        assert place.sigma_m < 2.0 * learned[1].sigma_m + 1.0
        assert math.hypot(place.east_m, place.north_m) < 3.0 * place.sigma_m

    def test_she_rides_on_and_it_holds(self, she: Night) -> None:
        she.sail(sheering, 1800.0)
        assert she.verdicts == {Verdict.HOLDING}

    @pytest.mark.parametrize("gone_m", [30.0, 100.0])
    def test_a_drag_that_went_on_meanwhile_is_found(self, she: Night, gone_m: float) -> None:
        """Around where she lies now the anchor would be found there, and the drag never."""
        she.sail(lambda t_s: evolve(sheering(t_s), anchor_m=gone_m), 600.0)
        assert she.verdict is Verdict.DRAGGING

    def test_a_drag_is_not_remembered_as_the_truth(self, night: Make) -> None:
        """While she may be dragging nothing is written down."""
        she = night()
        she.sail(sheering, 1550.0)
        before = she.detector.memory
        assert before is not None
        she.drag(0.1)
        for step in range(200):
            she.fix(evolve(sheering(she.now_s), anchor_m=20.0 + step))
        assert she.detector.memory == before

    @pytest.mark.parametrize("rows", [(), ((1.0, 2.0),), ((math.nan,) * 36,), ((1e300,) * 36,)])
    def test_one_that_was_damaged_is_as_good_as_none(
        self, night: Make, rows: tuple[tuple[float, ...], ...]
    ) -> None:
        """On the disk, or by another make of the program: the watch must go on."""
        she = night(memory=Memory(rows))
        she.sail(sheering, 600.0)
        assert she.verdicts == {Verdict.HOLDING}
        assert she.drag(0.2) < 30.0


class TestFigures:
    """What a judgement says besides the verdict."""

    @pytest.mark.parametrize("bearing_deg", [0.0, 45.0, 180.0, 271.0, 359.9])
    def test_distance_and_bearing_are_from_the_anchor_to_the_antenna(
        self, point: Point, bearing_deg: float
    ) -> None:
        detector = BankDetector(DetectorSettings())
        detector.arm(Arming(anchor=AnchorInPlane(300.0, -200.0, 3.0), circle=circle_of()))
        bearing = math.radians(bearing_deg)
        where = point(0.0, 300.0 + 30.0 * math.sin(bearing), -200.0 + 30.0 * math.cos(bearing))
        judged = detector.judge(where, Instruments())
        assert judged.distance_m == pytest.approx(30.0)
        assert judged.bearing_deg == pytest.approx(bearing_deg)

    def test_the_radius_is_the_drag_circles_and_the_errors(self, point: Point) -> None:
        """NAVEDTRA 14221, with the rode's slack and two standard errors of anchor and fix."""
        detector = BankDetector(DetectorSettings(sigmas=2.0))
        detector.arm(Arming(anchor=AnchorInPlane(0.0, 0.0, 4.0), circle=circle_of()))
        judged = detector.judge(point(0.0, 30.0, sigma_m=3.0), Instruments())
        assert judged.radius_m == pytest.approx(
            math.sqrt((40.0 * 1.08) ** 2 - 7.0**2) + AFT_M + 2.0 * 5.0
        )

    def test_before_it_is_armed_it_claims_nothing(self, point: Point) -> None:
        judged = BankDetector(DetectorSettings()).judge(point(0.0, 30.0), Instruments())
        assert judged.verdict is Verdict.UNSURE
