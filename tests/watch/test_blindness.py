"""When the watch cannot see: each kind of blindness with its own limits."""

from collections.abc import Callable
from typing import Any

import pytest
from attrs import evolve

from driftlead.alerts.alert import AlertState, Priority
from driftlead.alerts.condition import Condition
from driftlead.nmea.fix import Fix
from driftlead.testing.alerts import make_alert
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.blindness import Blindness
from driftlead.watch.settings import LimitSettings

LIMITS = LimitSettings()
CAUTION, WARNING, ALARM = Priority.CAUTION, Priority.WARNING, Priority.ALARM
Told = tuple[float, str, Priority | None, str]


class Eyes:
    """A blindness that is asked for what is due, as the core asks; keeps what it told and when."""

    def __init__(
        self,
        fix: Callable[..., Fix],
        point: Callable[..., TrackPoint],
        limits: LimitSettings = LIMITS,
        *,
        watching: bool = True,
    ) -> None:
        self._fix, self._point = fix, point
        self.now_s = 0.0
        self.blindness = Blindness(limits, mono_s=0.0)
        self.told: list[Told] = []
        if watching:
            self.blindness.begin(0.0)

    def wait(self, lasts_s: float) -> None:
        """Let time pass; what falls due is decided at its due time."""
        until_s = self.now_s + lasts_s
        while (due_s := self.blindness.due_s()) is not None and due_s <= until_s:
            self.now_s = max(self.now_s, due_s)
            conditions = self.blindness.advance(self.now_s)
            assert conditions, "due, and nothing to say: the core would ask for ever"
            self._keep(conditions)
        self.now_s = until_s

    def see(self, *, after_s: float = 1.0, quantum_m: float = 0.185, **what: Any) -> None:
        """A fix; ``what`` is of the track point, or hdop or satellites of the fix."""
        self.wait(after_s)
        of_fix = {key: what.pop(key) for key in ("hdop", "satellites") if key in what}
        fix = self._fix(mono_s=self.now_s, quantum_m=quantum_m, **of_fix)
        self._keep(self.blindness.hear_fix(self.now_s, fix, self._point(self.now_s, 0.0, **what)))

    def hear_no_fix(self, *, after_s: float = 1.0) -> None:
        """The receiver says that it has none."""
        self.wait(after_s)
        self._keep(self.blindness.hear_no_fix(self.now_s))

    def _keep(self, conditions: list[Condition]) -> None:
        for each in conditions:
            reason = each.reason if each.priority is not None else ""
            self.told.append((round(self.now_s, 6), each.name, each.priority, reason))


@pytest.fixture
def eyes(fix: Callable[..., Fix], point: Callable[..., TrackPoint]) -> Eyes:
    """Eyes on a watch that began at 0 s, with a good fix each second up to 10 s."""
    seeing = Eyes(fix, point)
    for _ in range(10):
        seeing.see()
    return seeing


@pytest.fixture
def open_eyes(fix: Callable[..., Fix], point: Callable[..., TrackPoint]) -> Callable[..., Eyes]:
    """Make eyes: ``open_eyes(limits, watching=...)``."""
    return lambda *args, **kwargs: Eyes(fix, point, *args, **kwargs)


class TestSilence:
    """No data at all."""

    def test_it_is_a_warning_then_an_alarm_to_the_second(self, eyes: Eyes) -> None:
        eyes.wait(1000.0)
        assert eyes.told == [
            (40.0, "data_stale", WARNING, "no_position_sentences"),
            (190.0, "data_stale", ALARM, "no_position_sentences"),
        ]
        assert eyes.blindness.due_s() is None

    def test_a_fix_clears_it_and_it_may_come_again(self, eyes: Eyes) -> None:
        eyes.wait(100.0)
        eyes.see()
        for _ in range(60):
            eyes.see()
        eyes.wait(60.0)
        assert [(at_s, priority) for at_s, _, priority, _ in eyes.told] == [
            (40.0, WARNING),
            (111.0, None),
            (201.0, WARNING),
        ]

    def test_a_receiver_without_a_fix_is_not_silent(self, eyes: Eyes) -> None:
        eyes.wait(100.0)
        eyes.hear_no_fix()
        assert eyes.told[-1][:3] == (111.0, "data_stale", None)

    def test_it_counts_from_the_beginning_of_the_watch(
        self, open_eyes: Callable[..., Eyes]
    ) -> None:
        """Whatever was silent before the watch began."""
        eyes = open_eyes(watching=False)
        eyes.wait(500.0)
        eyes.blindness.begin(500.0)
        eyes.wait(100.0)
        assert eyes.told == [(530.0, "data_stale", WARNING, "no_position_sentences")]

    def test_the_text_says_for_how_long(self, eyes: Eyes) -> None:
        assert "30 s" in eyes.blindness.advance(40.0)[0].text


class TestLoss:
    """The receiver speaks, and has no fix."""

    def test_it_is_a_warning_then_an_alarm_counted_from_the_last_fix(self, eyes: Eyes) -> None:
        for _ in range(400):
            eyes.hear_no_fix()
        assert eyes.told == [
            (70.0, "fix_lost", WARNING, "receiver_has_no_fix"),
            (310.0, "fix_lost", ALARM, "receiver_has_no_fix"),
        ]

    def test_a_fix_clears_it(self, eyes: Eyes) -> None:
        for _ in range(100):
            eyes.hear_no_fix()
        eyes.see()
        assert eyes.told[-1] == (111.0, "fix_lost", None, "")

    def test_a_receiver_that_then_falls_silent_is_silent_and_grows_no_more_lost(
        self, eyes: Eyes
    ) -> None:
        """While nothing is heard, whether it would be a fix is no question (nor ever one)."""
        for _ in range(65):
            eyes.hear_no_fix()
        eyes.wait(2000.0)
        assert eyes.told == [
            (70.0, "fix_lost", WARNING, "receiver_has_no_fix"),
            (105.0, "data_stale", WARNING, "no_position_sentences"),
            (255.0, "data_stale", ALARM, "no_position_sentences"),
        ]

    def test_loss_that_outlasted_a_silence_is_told_when_it_is_over(self, eyes: Eyes) -> None:
        for _ in range(65):
            eyes.hear_no_fix()
        eyes.wait(2000.0)
        eyes.hear_no_fix()
        eyes.wait(0.0)
        assert eyes.told[-2:] == [
            (2076.0, "data_stale", None, ""),
            (2076.0, "fix_lost", ALARM, "receiver_has_no_fix"),
        ]

    def test_silence_alone_is_no_loss(self, eyes: Eyes) -> None:
        eyes.wait(10_000.0)
        assert {name for _, name, _, _ in eyes.told} == {"data_stale"}


POOR = [
    pytest.param({"hdop": 5.1}, "high_hdop", id="high hdop"),
    pytest.param({"satellites": 3}, "few_satellites", id="few satellites"),
    pytest.param({"quantum_m": 18.5}, "coarse_position", id="coarse position"),
    pytest.param({"fix_state": FixState.JUMPED}, "position_jump", id="position jump"),
]
GOOD_ENOUGH = [
    pytest.param({"hdop": 5.0}, id="hdop at the limit"),
    pytest.param({"hdop": None, "satellites": None}, id="not told"),
    pytest.param({"satellites": 4}, id="four satellites"),
    pytest.param({"quantum_m": 1.85}, id="three decimals"),
    pytest.param({"fix_state": FixState.REACQUIRED}, id="reacquired"),
]


class TestPoor:
    """A fix too poor to tell a drag in time."""

    @pytest.mark.parametrize(("how", "reason"), POOR)
    def test_it_is_a_caution_after_a_minute_and_a_warning_after_ten(
        self, eyes: Eyes, how: dict[str, Any], reason: str
    ) -> None:
        for _ in range(700):
            eyes.see(**how)
        assert eyes.told == [
            (71.0, "fix_poor", CAUTION, reason),
            (611.0, "fix_poor", WARNING, reason),
        ]

    @pytest.mark.parametrize("how", GOOD_ENOUGH)
    def test_what_is_no_worse_than_this_is_good(self, eyes: Eyes, how: dict[str, Any]) -> None:
        for _ in range(200):
            eyes.see(**how)
        assert eyes.told == []

    def test_it_is_over_after_half_a_minute_of_good_fixes(self, eyes: Eyes) -> None:
        for _ in range(70):
            eyes.see(hdop=9.0)
        for _ in range(29):
            eyes.see()
        assert eyes.told[-1][2] is CAUTION
        eyes.see()
        assert eyes.told[-1] == (110.0, "fix_poor", None, "")

    def test_a_good_fix_now_and_then_does_not_hide_it(self, eyes: Eyes) -> None:
        for count in range(120):
            eyes.see(hdop=9.0 if count % 20 == 0 else 1.0)
        assert eyes.told == [(71.0, "fix_poor", CAUTION, "high_hdop")]

    def test_a_spell_of_less_than_a_minute_is_not_told(self, eyes: Eyes) -> None:
        for _ in range(5):
            for _ in range(59):
                eyes.see(hdop=9.0)
            for _ in range(40):
                eyes.see()
        assert eyes.told == []

    def test_reasons_that_take_turns_are_not_news_each_time(self, eyes: Eyes) -> None:
        """A caution that changes its mind each second would fill the journal."""
        for count in range(300):
            if count % 2:
                eyes.see(hdop=9.0)
            else:
                eyes.see(fix_state=FixState.JUMPED)
        assert eyes.told == [(71.0, "fix_poor", CAUTION, "position_jump")]

    def test_another_reason_that_stays_is_told(self, eyes: Eyes) -> None:
        for _ in range(100):
            eyes.see(hdop=9.0)
        for _ in range(100):
            eyes.see(satellites=3)
        assert eyes.told == [
            (71.0, "fix_poor", CAUTION, "high_hdop"),
            (140.0, "fix_poor", CAUTION, "few_satellites"),
        ]

    def test_a_new_spell_has_its_own_reason(self, open_eyes: Callable[..., Eyes]) -> None:
        eyes = open_eyes(evolve(LIMITS, poor_caution_s=1.0))
        for _ in range(10):
            eyes.see(hdop=9.0)
        eyes.blindness.end()
        eyes.blindness.begin(eyes.now_s)
        for _ in range(3):
            eyes.see(satellites=3)
        assert [reason for _, _, _, reason in eyes.told] == ["high_hdop", "few_satellites"]

    def test_the_limit_of_the_dilution_is_the_skippers(
        self, open_eyes: Callable[..., Eyes]
    ) -> None:
        eyes = open_eyes(evolve(LIMITS, poor_hdop=2.0))
        for _ in range(70):
            eyes.see(hdop=2.5)
        assert [reason for _, _, _, reason in eyes.told] == ["high_hdop"]


class TestFrozen:
    """The identical position, for longer than a receiver at rest gives it."""

    def test_it_is_a_caution_after_three_minutes_and_a_warning_after_fifteen(
        self, eyes: Eyes
    ) -> None:
        for unchanged_s in range(1000):
            eyes.see(unchanged_s=float(unchanged_s))
        assert eyes.told == [
            (191.0, "fix_frozen", CAUTION, "identical_position"),
            (911.0, "fix_frozen", WARNING, "identical_position"),
        ]

    def test_another_position_clears_it(self, eyes: Eyes) -> None:
        for unchanged_s in range(200):
            eyes.see(unchanged_s=float(unchanged_s))
        eyes.see(unchanged_s=0.0)
        assert eyes.told[-1] == (211.0, "fix_frozen", None, "")

    def test_a_coarse_talker_may_stand_still_for_longer(self, eyes: Eyes) -> None:
        """Three decimals of a minute: 1.85 m, nine times as patient as with 0.2 m."""
        for unchanged_s in range(1700):
            eyes.see(unchanged_s=float(unchanged_s), quantum_m=1.85)
        assert [(at_s, priority) for at_s, _, priority, _ in eyes.told] == [(1676.0, CAUTION)]


class TestSlowReceivers:
    """Limits stretch to three of the receiver's own intervals where that is longer."""

    def test_a_fix_every_twenty_seconds_is_not_silence(self, eyes: Eyes) -> None:
        for _ in range(60):
            eyes.see(after_s=20.0)
        assert eyes.told == []
        eyes.wait(59.0)
        assert eyes.told == []
        eyes.wait(2.0)
        assert [(name, priority) for _, name, priority, _ in eyes.told] == [("data_stale", WARNING)]

    def test_the_alarm_stretches_too(self, open_eyes: Callable[..., Eyes]) -> None:
        eyes = open_eyes(evolve(LIMITS, stale_warning_s=5.0, stale_alarm_s=6.0))
        for _ in range(100):
            eyes.see(after_s=4.0)
        since_s = eyes.now_s
        eyes.wait(100.0)
        assert [at_s - since_s for at_s, *_ in eyes.told] == pytest.approx([12.0, 24.0], abs=0.1)

    def test_a_fast_receiver_has_the_limits_as_they_stand(self, eyes: Eyes) -> None:
        for _ in range(100):
            eyes.see(after_s=0.1)
        since_s = eyes.now_s
        eyes.wait(200.0)
        assert [at_s - since_s for at_s, *_ in eyes.told] == pytest.approx([30.0, 180.0])

    def test_the_interval_is_learned_before_the_watch_begins(
        self, open_eyes: Callable[..., Eyes]
    ) -> None:
        eyes = open_eyes(watching=False)
        for _ in range(60):
            eyes.see(after_s=30.0)
        eyes.blindness.begin(eyes.now_s)
        for _ in range(10):
            eyes.see(after_s=60.0)
        assert eyes.told == []


class TestWithoutWatch:
    """While no anchor is down nothing of it matters."""

    def test_nothing_is_told_and_nothing_is_due(self, open_eyes: Callable[..., Eyes]) -> None:
        eyes = open_eyes(watching=False)
        for _ in range(700):
            eyes.see(hdop=20.0, unchanged_s=eyes.now_s)
        for _ in range(400):
            eyes.hear_no_fix()
        assert eyes.blindness.due_s() is None
        eyes.wait(10_000.0)
        assert eyes.told == []

    def test_the_end_of_the_watch_clears_all_of_it(self, eyes: Eyes) -> None:
        for unchanged_s in range(200):
            eyes.see(unchanged_s=float(unchanged_s), hdop=9.0)
        eyes.wait(60.0)
        names = [(each.name, each.priority) for each in eyes.blindness.end()]
        assert names == [("data_stale", None), ("fix_poor", None), ("fix_frozen", None)]
        assert eyes.blindness.due_s() is None
        assert eyes.blindness.end() == []

    def test_a_poor_spell_does_not_go_on_into_the_next_watch(self, eyes: Eyes) -> None:
        for _ in range(50):
            eyes.see(hdop=9.0)
        eyes.blindness.end()
        eyes.blindness.begin(eyes.now_s)
        for _ in range(50):
            eyes.see(hdop=9.0)
        assert eyes.told == []


class TestAfterRestart:
    """What was told before a restart is not told again, and clears."""

    @pytest.mark.parametrize("name", ["data_stale", "fix_lost", "fix_poor", "fix_frozen"])
    def test_an_alert_that_was_up_clears_with_a_good_fix(
        self, open_eyes: Callable[..., Eyes], name: str
    ) -> None:
        eyes = open_eyes()
        eyes.blindness.resume([make_alert(name=name, priority=WARNING, reason="x")])
        eyes.see()
        assert eyes.told == [(1.0, name, None, "")]

    def test_what_is_still_so_is_not_told_again_nor_less_urgent(
        self, open_eyes: Callable[..., Eyes]
    ) -> None:
        eyes = open_eyes()
        up = make_alert(name="data_stale", priority=ALARM, reason="no_position_sentences")
        eyes.blindness.resume([up])
        eyes.wait(1000.0)
        eyes.blindness.advance(eyes.now_s)
        assert eyes.told == []

    def test_what_grows_worse_is_told(self, open_eyes: Callable[..., Eyes]) -> None:
        eyes = open_eyes()
        eyes.blindness.resume([make_alert(name="data_stale", priority=WARNING, reason="x")])
        eyes.wait(1000.0)
        assert eyes.told == [(180.0, "data_stale", ALARM, "no_position_sentences")]

    def test_a_poor_fix_that_stays_poor_stays_a_warning(
        self, open_eyes: Callable[..., Eyes]
    ) -> None:
        eyes = open_eyes()
        eyes.blindness.resume([make_alert(name="fix_poor", priority=WARNING, reason="high_hdop")])
        for _ in range(700):
            eyes.see(hdop=9.0)
        assert eyes.told == []

    def test_an_alert_whose_condition_was_gone_is_not_taken_up(
        self, open_eyes: Callable[..., Eyes]
    ) -> None:
        eyes = open_eyes()
        state = AlertState.RECTIFIED_UNACKNOWLEDGED
        eyes.blindness.resume([make_alert(name="fix_lost", priority=WARNING, state=state)])
        eyes.see()
        assert eyes.told == []
