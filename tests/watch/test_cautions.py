"""What the crew may like to know but are not woken for."""

import pytest

from driftlead.alerts.alert import Priority
from driftlead.alerts.condition import Condition
from driftlead.watch.cautions import SHIFT_STANDS_S, SWING_CHANGED_S, Cautions
from driftlead.watch.judgement import Judgement, Reason, Verdict

STEP_S = 10.0


def judgement(reason: Reason = Reason.AS_THE_RODE_ALLOWS) -> Judgement:
    verdict = Verdict.UNSURE if reason is Reason.SWING_CHANGED else Verdict.HOLDING
    return Judgement(verdict, reason, 30.0, 90.0, 45.0, 6.0, 80.0, 0.01, 1.0)


def steps(
    cautions: Cautions,
    begins_s: float,
    ends_s: float,
    *,
    reason: Reason = Reason.AS_THE_RODE_ALLOWS,
    wind: tuple[float, float] | None = None,
) -> list[tuple[float, Condition]]:
    """Every condition of the steps from ``begins_s`` until before ``ends_s``."""
    told = []
    time_s = begins_s
    while time_s < ends_s:
        told += [
            (time_s, condition)
            for condition in cautions.take(
                time_s, judgement(reason), heading_heard=False, wind=wind, anchor=lambda: None
            )
        ]
        time_s += STEP_S
    return told


class TestSwing:
    def test_a_changed_swing_is_told_once_it_has_lasted(self) -> None:
        cautions = Cautions()
        told = steps(cautions, 0.0, 300.0, reason=Reason.SWING_CHANGED)
        ((time_s, condition),) = told
        assert time_s == SWING_CHANGED_S
        assert (condition.name, condition.priority) == ("swing_changed", Priority.CAUTION)
        assert condition.moved_m == 6.0

    def test_it_ends_once_she_has_lain_as_before_for_as_long(self) -> None:
        cautions = Cautions()
        steps(cautions, 0.0, 100.0, reason=Reason.SWING_CHANGED)
        ((time_s, condition),) = steps(cautions, 100.0, 300.0)
        assert time_s == 100.0 + SWING_CHANGED_S
        assert condition.priority is None

    def test_one_that_comes_and_goes_is_not_told(self) -> None:
        cautions = Cautions()
        for begins_s in range(0, 1000, 100):
            assert not steps(cautions, begins_s, begins_s + 50.0, reason=Reason.SWING_CHANGED)
            assert not steps(cautions, begins_s + 50.0, begins_s + 100.0)

    def test_a_drag_alarm_takes_its_place(self) -> None:
        cautions = Cautions()
        steps(cautions, 0.0, 100.0, reason=Reason.SWING_CHANGED)
        (over,) = cautions.dragging()
        assert (over.name, over.priority) == ("swing_changed", None)
        assert cautions.dragging() == []


class TestWind:
    @pytest.mark.parametrize(
        ("to_deg", "how"), [(290.0, "veered"), (130.0, "backed")], ids=["veers", "backs"]
    )
    def test_a_shift_of_wind_is_told_with_its_way(self, to_deg: float, how: str) -> None:
        cautions = Cautions()
        assert not steps(cautions, 0.0, 2000.0, wind=(210.0, 8.0))
        told = steps(cautions, 2000.0, 3500.0, wind=(to_deg, 8.0))
        shifted = [condition for _, condition in told if condition.priority is not None]
        assert [condition.name for condition in shifted] == ["wind_shifted"]
        assert shifted[0].priority is Priority.CAUTION
        assert how in shifted[0].text
        assert "from 210" in shifted[0].text

    def test_it_stands_for_half_an_hour(self) -> None:
        cautions = Cautions()
        steps(cautions, 0.0, 2000.0, wind=(210.0, 8.0))
        told = steps(cautions, 2000.0, 7000.0, wind=(300.0, 8.0))
        begun, over = (time_s for time_s, _ in told)
        assert over - begun == pytest.approx(SHIFT_STANDS_S, abs=STEP_S)

    def test_gusts_that_swing_about_are_no_shift(self) -> None:
        cautions = Cautions()
        for begins_s in range(0, 6000, 60):
            wind = (210.0 + (30.0 if begins_s % 120 else -30.0), 9.0)
            assert not steps(cautions, begins_s, begins_s + 60.0, wind=wind)

    def test_light_airs_have_no_direction_worth_telling(self) -> None:
        cautions = Cautions()
        for begins_s in range(0, 6000, 600):
            assert not steps(cautions, begins_s, begins_s + 600.0, wind=(begins_s % 360, 1.5))

    def test_north_is_no_wall(self) -> None:
        """From 350 to 10 degrees the wind has veered by 20."""
        cautions = Cautions()
        steps(cautions, 0.0, 2000.0, wind=(350.0, 8.0))
        assert not steps(cautions, 2000.0, 6000.0, wind=(10.0, 8.0))


def test_the_end_of_the_watch_ends_everything() -> None:
    cautions = Cautions()
    steps(cautions, 0.0, 2000.0, wind=(210.0, 8.0))
    steps(cautions, 2000.0, 3000.0, wind=(300.0, 8.0), reason=Reason.SWING_CHANGED)
    assert {condition.name for condition in cautions.end()} == {"swing_changed", "wind_shifted"}
    assert all(condition.priority is None for condition in cautions.end())
