"""Coming up to the drop point, laying back, and weighing."""

import math

import pytest

from driftlead.simulate.manoeuvre import Manoeuvre
from driftlead.simulate.scenario import Anchoring

PLAN = Anchoring(let_go_s=240.0, rode_m=38.0, veer_mps=0.35, weigh_s=7200.0)
MANOEUVRE = Manoeuvre(PLAN, drop_m=7.7, into_wind_deg=60.0)


def test_she_comes_up_into_the_wind_at_a_knot_or_two_and_stops_over_the_spot() -> None:
    """Way off and the bow at the drop point when the anchor goes."""
    bow, velocity, heading_deg = MANOEUVRE.approach(0.0)
    assert heading_deg == 60.0
    assert 0.5 < math.hypot(*velocity) < 1.03
    assert math.degrees(math.atan2(*velocity)) == pytest.approx(60.0)
    assert math.hypot(*bow) > 80.0
    bow, velocity, _ = MANOEUVRE.approach(PLAN.let_go_s)
    assert bow == pytest.approx((0.0, 0.0))
    assert velocity == pytest.approx((0.0, 0.0))


def test_her_speed_coming_up_is_the_change_of_her_place() -> None:
    """No jump anywhere on the way."""
    for tenth in range(2390):
        t_s = tenth / 10.0
        bow, velocity, _ = MANOEUVRE.approach(t_s)
        later, _, _ = MANOEUVRE.approach(t_s + 0.1)
        moved = ((later[0] - bow[0]) / 0.1, (later[1] - bow[1]) / 0.1)
        assert moved == pytest.approx(velocity, abs=0.01)


def test_the_rode_is_veered_to_its_length_and_heaved_in_again() -> None:
    """Little more than up and down at let go and at weigh, all of it between."""
    assert MANOEUVRE.rode_m(240.0) == pytest.approx(9.2)
    assert MANOEUVRE.veered_s == pytest.approx(245.0 + (38.0 - 9.2) / 0.35)
    assert MANOEUVRE.rode_m(MANOEUVRE.veered_s) == pytest.approx(38.0)
    assert MANOEUVRE.rode_m(5000.0) == 38.0
    assert MANOEUVRE.rode_m(7200.0) == pytest.approx(9.2)


def test_the_engine_digs_the_anchor_in_and_is_then_still_until_she_leaves() -> None:
    """Astern after the rode is out, nothing all night, ahead once the anchor is aweigh."""
    assert MANOEUVRE.thrust_n(MANOEUVRE.veered_s + 80.0) < -1000.0
    assert MANOEUVRE.thrust_n(MANOEUVRE.veered_s + 111.0) == 0.0
    assert MANOEUVRE.thrust_n(7000.0) == 0.0
    assert MANOEUVRE.thrust_n(7300.0) > 0.0
