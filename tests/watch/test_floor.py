"""The absolute limit: how far outside, and whether what says so can be believed."""

import math
from collections.abc import Callable

import pytest

from driftlead.tackle.drag_circle import DragCircle
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.floor import Floor

Point = Callable[..., TrackPoint]

CIRCLE = DragCircle(reach_m=40.0, antenna_aft_m=8.0, rode_slack_m=3.0, allowance_m=0.0)
T, J, R = FixState.TAKEN, FixState.JUMPED, FixState.REACQUIRED
IN_M, OUT_M = -1.0, 30.0


def armed(sigmas: float = 2.0) -> Floor:
    floor = Floor(sigmas)
    floor.arm(CIRCLE)
    return floor


def test_the_circle_is_the_handbook_form_with_the_rodes_slack(point: Point) -> None:
    """NAVEDTRA 14221: rode out plus hawse to the point that is fixed, about the anchor."""
    radius_m = armed(0.0).radius_m(AnchorInPlane(0.0, 0.0, 4.0), point(0.0, 10.0))
    assert radius_m == pytest.approx(51.0)


@pytest.mark.parametrize("sigmas", [1.0, 2.0, 3.0])
def test_it_is_widened_by_the_errors_of_fix_and_anchor_together(
    point: Point, sigmas: float
) -> None:
    anchor = AnchorInPlane(0.0, 0.0, 4.0)
    radius_m = armed(sigmas).radius_m(anchor, point(0.0, 10.0, sigma_m=3.0))
    assert radius_m == pytest.approx(51.0 + sigmas * 5.0)


def test_another_rode_draws_another_circle(point: Point) -> None:
    floor = armed(0.0)
    floor.arm(DragCircle(reach_m=60.0, antenna_aft_m=8.0, rode_slack_m=0.0, allowance_m=0.0))
    assert floor.radius_m(AnchorInPlane(0.0, 0.0, 4.0), point(0.0, 0.0)) == pytest.approx(68.0)


@pytest.mark.parametrize(
    ("steps", "believed"),
    [
        pytest.param([(T, IN_M)] * 3, [True] * 3, id="inside, nothing is amiss"),
        pytest.param([(T, IN_M), (T, OUT_M), (T, OUT_M)], [True] * 3, id="fixes taken go out"),
        pytest.param(
            [(T, IN_M), (J, OUT_M), (J, OUT_M)],
            [True, False, False],
            id="dead reckoning alone goes out",
        ),
        pytest.param(
            [(T, IN_M), (J, OUT_M), (T, OUT_M), (T, OUT_M)],
            [True, False, True, True],
            id="a fix bears out what dead reckoning said",
        ),
        pytest.param(
            [(T, OUT_M), (J, OUT_M), (J, OUT_M)],
            [True, True, True],
            id="borne out before, fixes refused after do not disprove",
        ),
        pytest.param(
            [(R, OUT_M), (J, OUT_M), (J, OUT_M)],
            [True, False, False],
            id="a wild first fix is contradicted by the next ones",
        ),
        pytest.param(
            [(R, OUT_M), (T, OUT_M), (J, OUT_M)],
            [True, True, True],
            id="a first fix is borne out by the next one",
        ),
        pytest.param(
            [(R, OUT_M), (R, OUT_M), (R, OUT_M)],
            [True, True, True],
            id="fixes so sparse that each begins anew",
        ),
        pytest.param(
            [(T, OUT_M), (T, IN_M), (R, OUT_M), (J, OUT_M)],
            [True, True, True, False],
            id="back inside, what was borne out before counts no more",
        ),
        pytest.param(
            [(T, OUT_M), (J, IN_M), (J, OUT_M)],
            [True, True, True],
            id="a refused fix inside does not end what was borne out",
        ),
        pytest.param(
            [(T, OUT_M), (T, 0.0), (J, OUT_M)],
            [True, True, False],
            id="on the circle is inside",
        ),
    ],
)
def test_that_she_is_outside_is_believed_where_a_fix_bears_it_out(
    point: Point, steps: list[tuple[FixState, float]], believed: list[bool]
) -> None:
    floor = armed()
    told = [
        floor.believe(point(10.0 * count, 0.0, fix_state=state), beyond_m)
        for count, (state, beyond_m) in enumerate(steps)
    ]
    assert told == believed


def test_another_anchor_begins_anew(point: Point) -> None:
    """What was borne out about the last one says nothing about this one."""
    floor = armed()
    assert floor.believe(point(0.0, 0.0, fix_state=T), OUT_M)
    floor.arm(CIRCLE)
    assert not floor.believe(point(10.0, 0.0, fix_state=J), OUT_M)


def test_how_far_outside_makes_no_difference(point: Point) -> None:
    for beyond_m in (0.1, 10.0, 1e6):
        assert not armed().believe(point(0.0, 0.0, fix_state=J), beyond_m)
        assert armed().believe(point(0.0, 0.0, fix_state=T), beyond_m)
    assert math.isfinite(armed().radius_m(AnchorInPlane(0.0, 0.0, 1e6), point(0.0, 1e6)))
