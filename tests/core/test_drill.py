"""The drill: it goes every alert's way, gives way to everything real, and is over when answered."""

from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.call import Call
from driftlead.core.drill import BY_ITSELF, is_real
from driftlead.core.inputs import Acknowledge, Drill, Silence
from driftlead.core.settings import CoreSettings
from driftlead.core.snapshot import snapshot_from_json, snapshot_to_json

if TYPE_CHECKING:
    from tests.core.conftest import Sea

UP, NORMAL = AlertState.ACTIVE_UNACKNOWLEDGED, AlertState.NORMAL


def states(sea: "Sea", name: str = "drill") -> list[AlertState]:
    """The changes of one alert, in order."""
    return [alert.state for alert in sea.alerts(name)]


@pytest.fixture
def crewed_sea(put_to_sea: "type[Sea]", crewed: CoreSettings) -> "Sea":
    """The sloop with a watch bill, lying at the origin, no anchor down."""
    boat = put_to_sea(crewed)
    boat.lie(60.0, 0.0)
    return boat


def test_a_drill_is_an_alarm_that_says_that_it_is_none(sea: "Sea") -> None:
    """Whatever carries it, whoever reads it reads that first."""
    assert sea.command(Drill()).accepted
    (alert,) = sea.alerts("drill")
    assert (alert.priority, alert.state) == (Priority.ALARM, UP)
    assert alert.text.startswith("DRILL")


def test_everybody_is_called_in_their_turn_as_for_a_real_alarm(crewed_sea: "Sea") -> None:
    """IMO MSC.128(75) 4.1.2: at once, after 15 s, after 90 s; and all hear that it is over."""
    crewed_sea.command(Drill())
    crewed_sea.wait(95.0)
    crewed_sea.command(Drill(over=True))
    calls = [event for event in crewed_sea.events if isinstance(event, Call)]
    assert [f"{c.mono_s - calls[0].mono_s:g} {'+'.join(c.outlets)}" for c in calls] == [
        "0 log+aft",
        "15 fore",
        "15 log+aft",
        "90 saloon",
        "90 log+aft+fore",
        "95 log+aft+fore+saloon",
        "95 log+aft+fore+saloon",
    ]
    assert calls[-1].alert.state is NORMAL


def test_the_drill_is_over_when_somebody_acknowledges_it(sea: "Sea") -> None:
    """And the answer says who that was."""
    sea.command(Drill())
    sea.command(Acknowledge(by="mate", where="cockpit"))
    assert states(sea) == [UP, AlertState.ACTIVE_ACKNOWLEDGED, NORMAL]
    assert (sea.alerts("drill")[1].by, sea.alerts("drill")[1].where) == ("mate", "cockpit")
    assert sea.command(Drill()).accepted, "and there may be another one"


def test_the_drill_can_end_itself_and_ending_none_does_nothing(sea: "Sea") -> None:
    """Answered by nobody; also when it was silenced meanwhile."""
    sea.command(Drill())
    sea.command(Silence())
    assert sea.command(Drill(over=True)).accepted
    assert states(sea)[-2:] == [AlertState.ACTIVE_ACKNOWLEDGED, NORMAL]
    assert sea.alerts("drill")[-2].by == BY_ITSELF
    again = sea.command(Drill(over=True))
    assert (again.accepted, again.events) == (True, ())


def test_a_real_drag_ends_the_drill_and_sounds_as_usual(sea: "Sea") -> None:
    """The drag is unanswered, whatever became of the drill."""
    sea.ride()
    sea.command(Drill())
    sea.drag()
    (drag, *_) = sea.alerts("drag")
    assert (drag.priority, drag.state) == (Priority.ALARM, UP)
    assert states(sea)[-1] is NORMAL
    assert sea.alerts("drill")[-1].mono_s == drag.mono_s
    order = [event.name for event in sea.events if isinstance(event, Alert)]
    assert order.index("drag") < len(order) - 1 - order[::-1].index("drill")
    assert [alert.name for alert in sea.core.snapshot().alerts if alert.state.sounds] == ["drag"]


def test_a_warning_ends_the_drill_too_also_one_that_time_brings(sea: "Sea") -> None:
    """The drill's sound would drown it."""
    sea.ride()
    sea.command(Drill())
    sea.wait(60.0)
    assert states(sea, "data_stale") == [UP]
    assert states(sea)[-1] is NORMAL


def test_a_notifier_that_fails_by_the_drill_does_not_end_it(sea: "Sea") -> None:
    """To find that out is what it is for."""
    sea.command(Drill())
    sea.fault("notifier_failed", "mute", "horn")
    assert states(sea) == [UP]


@pytest.mark.parametrize("answered", [False, True])
def test_while_an_alarm_is_up_a_drill_is_refused_without_effect(sea: "Sea", answered: bool) -> None:
    """Answered or not: nobody drills while she drags."""
    sea.ride().drag()
    if answered:
        sea.command(Acknowledge())
    before = sea.core.snapshot()
    reply = sea.command(Drill())
    assert not reply.accepted
    assert "alarm drag is up" in reply.text
    assert reply.remedy
    assert sea.core.snapshot() == before


def test_a_second_drill_is_refused(sea: "Sea") -> None:
    """There is one at a time."""
    sea.command(Drill())
    reply = sea.command(Drill())
    assert not reply.accepted
    assert "acknowledge drill" in reply.remedy


def test_a_drill_does_not_outlive_the_program(sea: "Sea", put_to_sea: "type[Sea]") -> None:
    """After a restart nobody would end it."""
    sea.ride()
    sea.command(Drill())
    read = snapshot_from_json(snapshot_to_json(sea.core.snapshot()))
    again = put_to_sea(sea.settings, snapshot=read)
    assert all(alert.name != "drill" for alert in again.core.snapshot().alerts)
    events = again.core.resumed()
    assert all(getattr(event, "name", "") != "drill" for event in events)


def test_replayed_a_drill_gives_the_same_events(sea: "Sea") -> None:
    """It is recorded as every command is."""
    sea.ride()
    sea.command(Drill())
    sea.lie(20.0, sea.lies_m)
    sea.command(Drill(over=True))
    sea.drag(distance_m=20.0)
    _core, events = sea.rebuilt()
    assert events == sea.events


STEPS = st.lists(
    st.sampled_from(["drill", "over", "answer", "silence", "blind", "see", "broken", "works"])
    | st.floats(1.0, 100.0),
    max_size=25,
)


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=STEPS)
def test_a_drill_is_never_up_beside_anything_real_that_sounds(
    put_to_sea: "type[Sea]", crewed: CoreSettings, steps: list[str | float]
) -> None:
    """Whatever happens, and whoever answers it in whichever order."""
    sea = put_to_sea(crewed)
    sea.lie(5.0, 0.0)
    sea.command(sea.down)
    for step in steps:
        match step:
            case "drill":
                sea.command(Drill())
            case "over":
                sea.command(Drill(over=True))
            case "answer":
                sea.command(Acknowledge())
            case "silence":
                sea.command(Silence())
            case "blind":
                sea.wait(200.0)
            case "see":
                sea.lie(3.0, 5.0)
            case "broken" | "works":
                sea.fault("journal_failed", "broken" if step == "broken" else None)
            case seconds:
                sea.wait(float(seconds))
        alerts = sea.core.snapshot().alerts
        if any(alert.name == "drill" for alert in alerts):
            assert not [alert.name for alert in alerts if is_real(alert)]
