"""The plan of a stay: scope and mechanics side by side."""

import datetime as dt
import math
from itertools import pairwise
from typing import Any

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.planning.plan import SHANK_LIMIT_DEG, Governs, Plan, make_plan, stepped_up_m
from driftlead.planning.plan_boat import plan_boat
from driftlead.planning.plan_settings import PlanSettings
from driftlead.planning.plan_stay import plan_stay
from driftlead.tackle.catenary import zero_lift_length_m
from driftlead.tackle.design_load import Duty
from driftlead.tide.table import TideTable, Turn
from driftlead.units import FOOT_M, KNOT_MPS

EVENING = dt.datetime(2026, 6, 14, 20, 0, tzinfo=dt.UTC)
CORVID = PlanSettings(
    name="Corvid",
    length_m=9.6,
    beam_m=3.1,
    draught_m=1.7,
    bow_height_m=1.1,
    chain_m=45.0,
    chain_size_m=0.008,
    rope_m=15.0,
    rope_size_m=0.014,
    snubber_m=6.0,
    snubber_size_m=0.012,
)


def hours(count: float) -> dt.datetime:
    """So long after the evening's beginning."""
    return EVENING + dt.timedelta(hours=count)


TIDE = TideTable(
    (
        Turn(when=hours(-1), height_m=4.4),
        Turn(when=hours(5), height_m=0.8),
        Turn(when=hours(11.5), height_m=4.6),
        Turn(when=hours(17), height_m=0.9),
    )
)


def planned(
    boat: PlanSettings = CORVID, *, knots: float = 20.0, step_m: float = 1.0, **stay: Any
) -> Plan:
    """A plan with the usual evening but for what is given."""
    usual: dict[str, Any] = {
        "begins": EVENING,
        "for_s": 12 * 3600.0,
        "depth_m": 6.0,
        "charted_m": None,
        "tide": None,
        "wind_mps": knots * KNOT_MPS,
    }
    return make_plan(plan_boat(boat), plan_stay(**{**usual, **stay}), rode_step_m=step_m)


class TestHowMuch:
    """The longer of two answers, in whole steps, as far as there is rode."""

    @pytest.mark.parametrize("tens", [1, 2, 3])
    def test_at_five_to_one_fifty_feet_for_each_ten(self, tens: int) -> None:
        """Common practice, which counts the bow's height with the depth; light rope, some wind."""
        boat = evolve(CORVID, bow_height_m=4 * FOOT_M, chain_m=5.0, rope_m=80.0)
        plan = planned(boat, depth_m=(10 * tens - 4) * FOOT_M, knots=1, step_m=FOOT_M)
        assert plan.rode_m == pytest.approx(50 * tens * FOOT_M)
        assert plan.governs is Governs.SCOPE

    def test_in_gusts_chain_that_pulls_level_governs(self) -> None:
        """Under 1 kN 32.27 m of 8 mm chain in 6 m (a worked table), more than 4 times 6 m."""
        boat = evolve(CORVID, bow_height_m=0.0, drag_area_m2=10.0, chain_kg_per_m=1.40)
        gust_mps = math.sqrt(1000.0 / (0.5 * 1.225 * 10.0))
        plan = planned(boat, knots=10, gust_mps=gust_mps)
        assert plan.gust_load_n == pytest.approx(1000.0)
        assert plan.by_scope_m == pytest.approx(24.0)
        assert plan.by_gusts_m == pytest.approx(32.27, abs=0.0051)
        assert plan.governs is Governs.GUSTS
        assert plan.rode_m == 33.0
        assert plan.shank_deg == 0.0
        assert plan.bow_load_n == pytest.approx(1071.6, abs=0.051)

    def test_the_rode_is_reckoned_for_high_water(self) -> None:
        """Sounded at half ebb, she has more water over her by morning."""
        plan = planned(tide=TIDE, depth_m=4.0, begins=hours(2))
        assert plan.most.when == hours(11.5)
        assert plan.most.turn == "HW"
        most_m = 4.0 - TIDE.height_m(hours(2)) + 4.6
        assert plan.most.depth_m == pytest.approx(most_m)
        assert plan.by_scope_m == pytest.approx(5.0 * (most_m + 1.1))
        assert plan.least.turn == "LW"
        assert plan.least.scope > plan.most.scope

    def test_rope_alone_is_measured_by_the_eight_degrees_an_anchor_bears(self) -> None:
        """Weightless rope at 8 degrees is drop / sin 8 deg, whatever blows."""
        boat = evolve(CORVID, chain_m=0.0, rope_m=100.0, rope_size_m=None)
        plan = planned(boat)
        assert plan.by_gusts_m == pytest.approx(7.1 / math.sin(math.radians(8.0)))
        assert plan.shank_deg <= SHANK_LIMIT_DEG

    def test_the_skippers_own_scope_takes_the_place_of_the_rule(self) -> None:
        assert planned(scope=6.0).by_scope_m == pytest.approx(6.0 * 7.1)

    @pytest.mark.parametrize(
        ("length_m", "step_m", "stepped_m"),
        [(30.0, 1.0, 30.0), (30.2, 1.0, 31.0), (30.0 + 1e-10, 1.0, 30.0), (15.24, FOOT_M, 15.24)],
    )
    def test_it_is_counted_up_in_whole_steps(
        self, length_m: float, step_m: float, stepped_m: float
    ) -> None:
        assert stepped_up_m(length_m, step_m) == pytest.approx(stepped_m)


BOATS = st.builds(
    lambda chain_m, rope_m, height_m, area_m2: evolve(
        CORVID, chain_m=chain_m, rope_m=rope_m, bow_height_m=height_m, drag_area_m2=area_m2
    ),
    st.just(0.0) | st.floats(2.0, 80.0),
    st.floats(60.0, 200.0),
    st.floats(0.3, 2.0),
    st.floats(1.0, 20.0),
)
KNOTS = st.floats(0.0, 70.0)
DEPTHS = st.floats(0.5, 20.0)


class TestProperties:
    """What must hold for any boat."""

    @given(BOATS, DEPTHS, KNOTS, KNOTS)
    def test_more_wind_never_shortens_the_rode(
        self, boat: PlanSettings, depth_m: float, one: float, other: float
    ) -> None:
        light, strong = (planned(boat, depth_m=depth_m, knots=n) for n in sorted((one, other)))
        assert light.rode_m <= strong.rode_m
        assert light.bow_load_n <= strong.bow_load_n + 1e-6

    @given(BOATS, DEPTHS, DEPTHS, KNOTS)
    def test_more_depth_never_shortens_the_rode(
        self, boat: PlanSettings, one_m: float, other_m: float, knots: float
    ) -> None:
        shoal, deep = (planned(boat, depth_m=m, knots=knots) for m in sorted((one_m, other_m)))
        assert shoal.rode_m <= deep.rode_m

    @given(BOATS, DEPTHS, KNOTS, st.floats(1.0, 2.0), st.floats(1.0, 2.0))
    def test_stronger_gusts_never_shorten_the_rode(
        self, boat: PlanSettings, depth_m: float, knots: float, one: float, other: float
    ) -> None:
        weak, strong = (
            planned(boat, depth_m=depth_m, knots=knots, gust_mps=knots * KNOT_MPS * factor)
            for factor in sorted((one, other))
        )
        assert weak.rode_m <= strong.rode_m

    @given(BOATS, DEPTHS, KNOTS)
    def test_what_there_is_is_enough_or_said_to_be_short(
        self, boat: PlanSettings, depth_m: float, knots: float
    ) -> None:
        plan = planned(boat, depth_m=depth_m, knots=knots)
        aboard_m = plan.boat.aboard_m
        assert plan.rode_m <= aboard_m
        if plan.short_of_scope_m == plan.short_of_gusts_m == 0.0:
            assert plan.rode_m >= max(plan.by_scope_m, plan.by_gusts_m) - 1e-6
            limit_deg = 0.0 if plan.boat.chain_m > 0 else SHANK_LIMIT_DEG
            assert plan.shank_deg <= limit_deg + 1e-4
        else:
            assert plan.rode_m == aboard_m
        assert plan.level_to_mps <= plan.bite_to_mps

    @given(BOATS, DEPTHS, st.floats(1.0, 40.0))
    def test_in_the_wind_it_is_good_for_the_shank_is_just_at_its_limit(
        self, boat: PlanSettings, depth_m: float, knots: float
    ) -> None:
        plan = planned(boat, depth_m=depth_m, knots=knots, scope=3.0)
        if math.isfinite(plan.bite_to_mps) and plan.bite_to_mps < 70.0:
            worse = planned(boat, depth_m=depth_m, knots=1, gust_mps=plan.bite_to_mps, scope=3.0)
            if worse.rode_m == plan.rode_m and plan.bite_to_mps > 0.5:
                assert worse.shank_deg == pytest.approx(SHANK_LIMIT_DEG, abs=0.01)


class TestThroughTheNight:
    """How she lies hour by hour."""

    def test_there_is_a_row_for_begin_end_each_hour_and_each_turn(self) -> None:
        plan = planned(tide=TIDE, begins=hours(0.25))
        assert [m.when for m in plan.moments] == [
            hours(n) for n in (0.25, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 11.5, 12, 12.25)
        ]
        assert [m.turn for m in plan.moments if m.turn] == ["LW", "HW"]

    def test_times_are_in_the_ships_zone_whatever_the_tide_table_keeps(self) -> None:
        zone = dt.timezone(dt.timedelta(hours=-2))
        plan = planned(tide=TIDE, charted_m=0.0, depth_m=None, begins=EVENING.astimezone(zone))
        times = [plan.most.when, plan.least.when, *(m.when for m in plan.moments)]
        times += [when for spell in plan.touches for when in spell]
        assert {when.tzinfo for when in times} == {zone}
        assert plan.most.when == hours(11.5)

    def test_a_stay_of_days_is_shown_by_its_turns(self) -> None:
        plan = planned(
            tide=TideTable(
                tuple(Turn(when=hours(6 * n), height_m=float(n % 2)) for n in range(12))
            ),
            for_s=48 * 3600.0,
        )
        assert [m.when for m in plan.moments] == [hours(6 * n) for n in range(9)]

    def test_without_a_tide_there_is_nothing_to_show(self) -> None:
        plan = planned()
        assert plan.moments == ()
        assert plan.most == plan.least

    def test_scope_shank_and_reach_follow_the_water(self) -> None:
        """More water: less scope, a steeper pull, a shorter reach."""
        boat = evolve(CORVID, chain_m=20.0, rope_m=0.0)
        plan = planned(boat, tide=TIDE, knots=30)
        by_depth = sorted(plan.moments, key=lambda moment: moment.depth_m)
        for shoal, deep in pairwise(by_depth):
            assert shoal.lie is not None
            assert deep.lie is not None
            assert shoal.scope >= deep.scope
            assert shoal.lie.anchor_angle_deg <= deep.lie.anchor_angle_deg + 1e-9
            assert shoal.lie.reach_m >= deep.lie.reach_m - 1e-9
        assert plan.most.lie is not None
        assert plan.most.lie.anchor_angle_deg == pytest.approx(plan.shank_deg)

    def test_scope_is_rode_over_depth_and_bow_height(self) -> None:
        plan = planned(scope=7.0)
        assert plan.rode_m == 50.0
        assert plan.most.scope == pytest.approx(50.0 / 7.1)

    def test_where_it_dries_she_lies_nowhere(self) -> None:
        plan = planned(tide=TIDE, charted_m=-1.5, depth_m=None)
        assert plan.least.depth_m == pytest.approx(-0.7)
        assert plan.least.lie is None
        assert math.isinf(plan.least.scope)


class TestUnderTheKeel:
    """Whether she touches, and when."""

    def test_she_touches_from_when_to_when_there_is_less_than_her_draught(self) -> None:
        plan = planned(tide=TIDE, charted_m=0.0, depth_m=None)
        ((start, end),) = plan.touches
        for when in (start, end):
            assert TIDE.height_m(when) == pytest.approx(1.7, abs=1e-3)
        assert start < hours(5) < end
        assert plan.least.under_keel_m == pytest.approx(0.8 - 1.7)

    def test_with_water_enough_she_does_not(self) -> None:
        assert planned(tide=TIDE, charted_m=2.0, depth_m=None).touches == ()

    def test_without_a_draught_nothing_is_said(self) -> None:
        plan = planned(evolve(CORVID, draught_m=None), tide=TIDE, charted_m=0.0, depth_m=None)
        assert plan.touches == ()
        assert plan.least.under_keel_m is None


class TestLoads:
    """What the gusts put on the gear, beside what gear is sized for."""

    def test_gusts_push_as_the_square_of_their_factor(self) -> None:
        plan = planned(knots=20)
        assert plan.gust_load_n == pytest.approx(1.4**2 * plan.mean_load_n)
        assert plan.bow_load_n > plan.gust_load_n

    def test_the_design_load_is_that_of_the_duty_of_the_wind(self) -> None:
        """A sloop of 31.5 by 10.2 ft falls into the row of 40 ft by her beam: 1200 lb."""
        design = planned(knots=25).design
        assert design is not None
        assert design.duty is Duty.WORKING
        assert design.load_n == pytest.approx(5338, abs=1.0)
        assert planned(evolve(CORVID, length_m=None, drag_area_m2=6.0)).design is None

    def test_the_steady_push_is_a_quarter_of_the_design_load_by_length(self) -> None:
        """So the drag area is derived; by her beam she is larger, so it is less than a quarter."""
        plan = planned(knots=30)
        assert plan.design is not None
        assert 0.15 < plan.mean_load_n / plan.design.load_n <= 0.25

    def test_the_snubber_bears_what_the_bow_does(self) -> None:
        plan = planned(knots=30)
        assert plan.snubber is not None
        assert plan.snubber.load_n == plan.bow_load_n
        assert planned(evolve(CORVID, snubber_m=None)).snubber is None


class TestRefusals:
    """What cannot be is refused with a remedy."""

    @pytest.mark.parametrize(
        ("boat", "stay", "says"),
        [
            (CORVID, {"depth_m": 70.0}, "60 m of rode aboard do not reach the bottom, 71.1 m"),
            (CORVID, {"charted_m": -9.0, "depth_m": None, "tide": TIDE}, "There is no water at"),
            (CORVID, {"for_s": 30 * 3600.0, "tide": TIDE}, "The tide table runs from"),
        ],
    )
    def test_what_cannot_be_is_refused(
        self, boat: PlanSettings, stay: dict[str, Any], says: str
    ) -> None:
        with pytest.raises(UserInputError) as caught:
            planned(boat, **stay)
        assert says in caught.value.message
        assert caught.value.remedy


def test_the_plain_catenary_gives_the_same_for_an_all_chain_rode() -> None:
    """The closed form for an even rode is the oracle."""
    plan = planned(evolve(CORVID, rope_m=0.0, chain_m=90.0), knots=25)
    weight = plan.boat.rode[0].weight_n_per_m
    assert plan.by_gusts_m == pytest.approx(zero_lift_length_m(7.1, plan.gust_load_n, weight))
