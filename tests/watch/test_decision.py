"""When to wake the crew: the dearer a false alarm, the later."""

import itertools
import math
from collections.abc import Sequence
from typing import Any

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from driftlead.watch.decision import OVERWHELMING, Decision
from driftlead.watch.evidence import Evidence, Knowledge
from driftlead.watch.judgement import Reason, Verdict
from driftlead.watch.settings import DetectorSettings

PLAIN = DetectorSettings(
    false_alarm_nights=50.0, dwell_s=30.0, floor_m=25.0, floor_dwell_s=20.0, sigmas=2.0
)
HOLDS, BETWEEN = -20.0, 1e-3
"""Log-odds below any threshold, and just more likely than not."""


def evidence(time_s: float, log_odds: float = HOLDS, **overrides: Any) -> Evidence:
    """One step of it: well inside the circle, believed, but for ``overrides``."""
    figures: dict[str, Any] = {
        "knowledge": Knowledge.MARKED_WITH_HEADING,
        "moved_m": 0.0,
        "moved_sigma_m": 1.0,
        "bearing_deg": 90.0,
        "rate_mps": 0.0,
        "distance_m": 30.0,
        "beyond_m": -20.0,
        "borne_out": True,
    }
    return Evidence(time_s=time_s, log_odds=log_odds, **(figures | overrides))


def decided(
    odds: Sequence[float], settings: DetectorSettings = PLAIN, **overrides: Any
) -> list[tuple[Verdict, Reason]]:
    """The verdicts on log-odds ten seconds apart."""
    decision = Decision(settings)
    return [
        decision.take(evidence(10.0 * step, log_odds, **overrides))
        for step, log_odds in enumerate(odds)
    ]


def threshold(settings: DetectorSettings, knowledge: Knowledge) -> float:
    """The least log-odds that wake the crew, found by halving."""
    settings = evolve(settings, dwell_s=0.0)
    low, high = -1e3, 1e3
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        ((verdict, _),) = decided([middle], settings, knowledge=knowledge)
        low, high = (low, middle) if verdict is Verdict.DRAGGING else (middle, high)
    return high


SURE = threshold(PLAIN, Knowledge.MARKED_WITH_HEADING) + 0.9 * OVERWHELMING
"""Beyond the threshold, yet not so far that it need not stand."""


class TestThreshold:
    """How sure is sure enough."""

    @pytest.mark.parametrize("knowledge", Knowledge)
    def test_the_fewer_false_alarms_the_skipper_accepts_the_surer(
        self, knowledge: Knowledge
    ) -> None:
        found = [
            threshold(evolve(PLAIN, false_alarm_nights=nights), knowledge)
            for nights in (1.0, 5.0, 20.0, 50.0, 200.0, 1000.0, 1e5)
        ]
        assert all(math.isfinite(each) for each in found)
        assert all(more > less for less, more in itertools.pairwise(found))

    @given(nights=st.tuples(st.floats(0.1, 1e9), st.floats(0.1, 1e9)))
    def test_more_nights_never_make_it_easier(self, nights: tuple[float, float]) -> None:
        few, many = sorted(nights)
        for knowledge in Knowledge:
            less = threshold(evolve(PLAIN, false_alarm_nights=few), knowledge)
            more = threshold(evolve(PLAIN, false_alarm_nights=many), knowledge)
            assert more >= less - 1e-5

    def test_without_end_it_stays_within_what_odds_can_reach(self) -> None:
        """Never a false alarm cannot be had, and the crew must still be woken."""
        for nights in (1e6, 1e12, math.inf):
            settings = evolve(PLAIN, false_alarm_nights=nights)
            assert all(threshold(settings, knowledge) < 60.0 for knowledge in Knowledge)

    def test_it_is_more_likely_than_not_at_the_default(self) -> None:
        for knowledge in Knowledge:
            assert threshold(DetectorSettings(), knowledge) > 0.0


class TestDwell:
    """For how long."""

    def test_it_must_stand_for_the_dwell(self) -> None:
        told = decided([HOLDS, SURE, SURE, SURE, SURE, SURE])
        assert [verdict for verdict, _ in told] == [
            Verdict.HOLDING,
            *[Verdict.UNSURE] * 3,
            *[Verdict.DRAGGING] * 2,
        ]
        assert told[0][1] is Reason.AS_THE_RODE_ALLOWS
        assert {reason for _, reason in told[1:4]} == {Reason.NOT_YET_LONG}
        assert {reason for _, reason in told[4:]} == {Reason.ANCHOR_MOVED}

    def test_falling_below_begins_it_anew(self) -> None:
        told = decided([SURE, SURE, SURE, HOLDS, SURE, SURE, SURE])
        assert Verdict.DRAGGING not in [verdict for verdict, _ in told]

    def test_without_a_dwell_one_step_is_enough(self) -> None:
        assert decided([SURE], evolve(PLAIN, dwell_s=0.0))[0][0] is Verdict.DRAGGING

    @pytest.mark.parametrize("knowledge", Knowledge)
    def test_what_is_overwhelming_need_not_stand(self, knowledge: Knowledge) -> None:
        """A breakout is known for one by its first steps, and each of them is metres."""
        limit = threshold(PLAIN, knowledge)
        for dwell_s in (30.0, 600.0):
            settings = evolve(PLAIN, dwell_s=dwell_s)
            odds = (limit + OVERWHELMING - 1e-3, limit + OVERWHELMING + 1e-3)
            told = [decided([each], settings, knowledge=knowledge)[0] for each in odds]
            assert told[0] == (Verdict.UNSURE, Reason.NOT_YET_LONG)
            assert told[1] == (Verdict.DRAGGING, Reason.ANCHOR_MOVED)

    def test_with_a_dwell_without_end_the_floor_alone_decides(self) -> None:
        told = decided([1e6] * 50, evolve(PLAIN, dwell_s=math.inf))
        assert Verdict.DRAGGING not in [verdict for verdict, _ in told]

    def test_steps_far_apart_need_two_of_them(self) -> None:
        decision = Decision(PLAIN)
        assert decision.take(evidence(0.0, SURE))[0] is Verdict.UNSURE
        assert decision.take(evidence(360.0, SURE))[0] is Verdict.DRAGGING

    def test_more_likely_than_not_is_said_but_wakes_nobody(self) -> None:
        assert set(decided([BETWEEN] * 100)) == {(Verdict.UNSURE, Reason.SWING_CHANGED)}

    def test_another_watch_begins_anew(self) -> None:
        decision = Decision(PLAIN)
        for step in range(3):
            decision.take(evidence(10.0 * step, SURE, beyond_m=30.0))
        decision.begin()
        assert decision.take(evidence(30.0, SURE, beyond_m=30.0))[0] is Verdict.UNSURE

    @given(odds=st.lists(st.sampled_from([SURE, HOLDS, BETWEEN]), min_size=1, max_size=30))
    def test_dragging_is_said_just_where_the_odds_have_stood_for_the_dwell(
        self, odds: list[float]
    ) -> None:
        for step, (verdict, _) in enumerate(decided(odds)):
            stood = step >= 3 and set(odds[step - 3 : step + 1]) == {SURE}
            assert (verdict is Verdict.DRAGGING) == stood


class TestFloor:
    """Far outside there is nothing left to weigh."""

    def test_beyond_it_a_short_dwell_is_enough_whatever_the_odds(self) -> None:
        told = decided([HOLDS] * 4, beyond_m=25.1)
        # Until then nobody is told that she holds.
        assert told[:2] == [(Verdict.UNSURE, Reason.NOT_YET_LONG)] * 2
        assert told[2:] == [(Verdict.DRAGGING, Reason.FAR_OUTSIDE_DRAG_CIRCLE)] * 2

    def test_up_to_it_the_odds_decide(self) -> None:
        told = decided([HOLDS] * 20, beyond_m=25.0)
        assert {verdict for verdict, _ in told} == {Verdict.HOLDING}

    def test_coming_nearer_begins_it_anew(self) -> None:
        decision = Decision(PLAIN)
        for step, beyond_m in enumerate([30.0, 30.0, 24.0, 30.0, 30.0]):
            taken = decision.take(evidence(10.0 * step, HOLDS, beyond_m=beyond_m))
            assert taken[0] is (Verdict.UNSURE if beyond_m > 25.0 else Verdict.HOLDING)

    def test_what_no_fix_bears_out_never_trips_it(self) -> None:
        told = decided([HOLDS] * 100, beyond_m=500.0, borne_out=False)
        assert {verdict for verdict, _ in told} == {Verdict.HOLDING}

    def test_what_no_fix_bears_out_begins_it_anew(self) -> None:
        decision = Decision(PLAIN)
        for step, borne_out in enumerate([True, True, False, True, True]):
            taken = decision.take(evidence(10.0 * step, HOLDS, beyond_m=50.0, borne_out=borne_out))
            assert taken[0] is (Verdict.UNSURE if borne_out else Verdict.HOLDING)

    def test_odds_that_are_sure_need_no_fix_to_bear_out_the_distance(self) -> None:
        """The odds have heard no refused fix: they stand for themselves."""
        told = decided([SURE] * 5, beyond_m=500.0, borne_out=False)
        assert told[-1] == (Verdict.DRAGGING, Reason.ANCHOR_MOVED)
