"""A drag that goes on: what it leads to is kept up to date, in the status and in the one alert."""

import json
from typing import TYPE_CHECKING

import pytest
from attrs import evolve

from driftlead.alerts.alert import AlertState
from driftlead.alerts.call import Call
from driftlead.core.inputs import Acknowledge
from driftlead.core.settings import CoreSettings

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.core.conftest import Sea

PIER = {"kind": "pier", "name": "east pier", "bearing_deg": 90.0, "distance": "180m"}


@pytest.fixture
def towards_a_pier(put_to_sea: "type[Sea]", crewed: CoreSettings) -> "Callable[[], Sea]":
    """The sloop riding, with a pier 180 m to the east of her anchor."""

    def make() -> "Sea":
        around = json.dumps({"danger": [PIER]})
        sea = put_to_sea(evolve(crewed, watch=evolve(crewed.watch, around=around)))
        sea.lie(60.0, 0.0)
        return sea.ride()

    return make


def reasons(sea: "Sea", *, since: int = 0) -> list[str]:
    """Why anybody was told of the drag."""
    calls = [e for e in sea.events[since:] if isinstance(e, Call) and e.alert.name == "drag"]
    return [call.reason.value for call in calls]


def test_the_status_names_what_she_drags_towards_and_by_how_much_it_is_nearer(
    towards_a_pier: "Callable[[], Sea]",
) -> None:
    """Of 180 m there are left what she is from it, less 10.4 m of hull."""
    sea = towards_a_pier()
    assert sea.core.status(sea.now_s).danger is None
    assert sea.core.status(sea.now_s).moved_deg is None
    sea.drag(distance_m=60.0)
    first = sea.core.status(sea.now_s)
    assert first.danger is not None
    assert first.danger.name == "east pier"
    left_m = 180.0 - 10.4 - sea.lies_m - 60.0
    assert first.danger.distance_m == pytest.approx(left_m, abs=4.0)
    assert first.danger.bearing_deg == pytest.approx(90.0, abs=15.0)
    assert first.danger.minutes is not None
    assert first.moved_deg == pytest.approx(90.0, abs=15.0)
    lies_m = sea.lies_m + 60.0
    sea.go(lambda t_s: (lies_m + 0.3 * t_s, 0.0), 100.0)
    then = sea.core.status(sea.now_s)
    assert then.danger is not None
    assert then.danger.distance_m == pytest.approx(left_m - 30.0, abs=4.0)


@pytest.mark.parametrize("answered", [True, False])
def test_the_one_alert_tells_the_new_time_and_wakes_nobody_anew(
    towards_a_pier: "Callable[[], Sea]", answered: bool
) -> None:
    sea = towards_a_pier()
    sea.drag(distance_m=40.0)
    assert reasons(sea)[0] == "first"
    if answered:
        sea.command(Acknowledge())
    since, count = len(sea.events), len(sea.alerts("drag"))
    lies_m = sea.lies_m + 40.0
    sea.go(lambda t_s: (lies_m + 0.25 * t_s, 0.0), 70.0 / 0.25)
    renewed = sea.alerts("drag")[count:]
    assert renewed
    raised = sea.alerts("drag")[0]
    texts = [raised.text, *(alert.text for alert in renewed)]
    assert len(set(texts)) == len(texts)
    assert all("east pier" in text for text in texts)
    wanted = AlertState.ACTIVE_ACKNOWLEDGED if answered else AlertState.ACTIVE_UNACKNOWLEDGED
    for alert in renewed:
        assert (alert.number, alert.state, alert.reason) == (raised.number, wanted, raised.reason)
    told = reasons(sea, since=since)
    assert told.count("changed") >= len(renewed)
    assert "first" not in told
    assert "more_urgent" not in told
    if answered:
        assert set(told) == {"changed"}
    _core, events = sea.rebuilt()
    assert events == sea.events


def test_when_she_holds_again_nothing_is_ahead(towards_a_pier: "Callable[[], Sea]") -> None:
    sea = towards_a_pier()
    sea.drag(distance_m=40.0)
    sea.lie(1500.0, sea.lies_m + 40.0)
    assert sea.state() == "riding"
    assert sea.core.status(sea.now_s).danger is None


def test_after_a_restart_in_the_middle_of_it_the_danger_is_known_again(
    towards_a_pier: "Callable[[], Sea]", put_to_sea: "type[Sea]"
) -> None:
    sea = towards_a_pier()
    sea.drag(distance_m=60.0)
    again = put_to_sea(sea.settings, snapshot=sea.core.snapshot())
    again.core.resumed()
    assert again.core.status(again.now_s).moved_deg == pytest.approx(90.0, abs=15.0)
    # The anchor is shown where the drag has put it, not where it was let go, from the start.
    assert again.core.watch.anchor == sea.core.watch.anchor
    assert again.core.snapshot().dragged_to == sea.core.snapshot().dragged_to is not None
    lies_m = sea.lies_m + 60.0
    again.go(lambda t_s: (lies_m + 0.3 * t_s, 0.0), 120.0)
    danger = again.core.status(again.now_s).danger
    assert danger is not None
    assert danger.name == "east pier"
