"""The program is killed at any moment of a night in which she drags: no alarm may be lost by it.

Killed means: what was saved last is all there is. The core and its snapshots are the daemon's own;
saved is, as there, with every event and every minute.
"""

import os
from functools import cache
from random import Random

import pytest
from attrs import evolve, frozen

from driftlead.alerts.alert import Alert, AlertState
from driftlead.core.core import Core
from driftlead.core.reply import Event
from driftlead.core.settings import CoreSettings
from driftlead.core.snapshot import snapshot_from_json, snapshot_to_json
from driftlead.lines import StampedLine
from driftlead.simulate.anchor import Holding, drag_steadily
from driftlead.simulate.night import SkipperInput, simulate_night
from driftlead.simulate.scenarios import steady_breeze
from driftlead.watch.settings import BoatSettings, WatchSettings

KILLS = int(os.environ.get("DRIFTLEAD_KILLS", "200"))
SAVED_EVERY_S = 60.0
DOWN_S = 3.0
"""So long until systemd has started it again and it listens."""
SETTINGS = CoreSettings(
    watch=WatchSettings(boat=BoatSettings(bow_height_m=1.2, antenna_aft_m=8.0, length_m=10.4))
)


@frozen
class Night:
    """Everything that goes in, and the uninterrupted run: events and saved snapshots by input."""

    inputs: tuple[StampedLine | SkipperInput, ...]
    events: tuple[tuple[int, Event], ...]
    saved: tuple[tuple[int, str], ...]

    @property
    def alarm_at(self) -> int:
        return next(index for index, event in self.events if is_drag(event))


def is_drag(event: Event) -> bool:
    """The news that the drag alarm is up."""
    return (
        isinstance(event, Alert)
        and event.name == "drag"
        and event.state is AlertState.ACTIVE_UNACKNOWLEDGED
    )


def feed(core: Core, moment: StampedLine | SkipperInput) -> tuple[Event, ...]:
    if isinstance(moment, StampedLine):
        return tuple(core.feed(moment))
    return core.command(moment.mono_s, moment.command).events


@cache
def night() -> Night:
    """Three quarters of an hour; she begins to drag at 0.1 m/s after half of it."""
    scenario = evolve(
        steady_breeze(seed=77, lasts_s=2700.0),
        holding=Holding(drag=drag_steadily(begins_s=1400.0, lasts_s=1200.0, mps=0.1)),
        fix_interval_s=2.0,
        talk={"RMC": 2.0, "HDT": 2.0, "MWV": 10.0},
    )
    inputs = tuple(
        moment
        for moment in simulate_night(scenario).moments
        if isinstance(moment, StampedLine | SkipperInput)
    )
    core = Core(SETTINGS, mono_s=0.0)
    events: list[tuple[int, Event]] = []
    saved: list[tuple[int, str]] = []
    saved_s = 0.0
    for index, moment in enumerate(inputs):
        told = feed(core, moment)
        events += [(index, event) for event in told]
        if told or moment.mono_s - saved_s >= SAVED_EVERY_S:
            saved_s = moment.mono_s
            saved.append((index, snapshot_to_json(core.snapshot())))
    return Night(inputs, tuple(events), tuple(saved))


def killed_at(index: int) -> tuple[list[Event], Core]:
    """Everything told before the kill and after it, and the core at the end."""
    whole = night()
    told = [event for at, event in whole.events if at <= index]
    text = [text for at, text in whole.saved if at <= index][-1]
    up_s = whole.inputs[index].mono_s + DOWN_S
    core = Core(SETTINGS, mono_s=up_s, snapshot=snapshot_from_json(text))
    told += core.resumed()
    for moment in whole.inputs[index + 1 :]:
        if moment.mono_s >= up_s:
            told += feed(core, moment)
    return told, core


def points() -> list[int]:
    """Random inputs after the rode was told, and every one around the alarm."""
    whole = night()
    begun = next(i for i, m in enumerate(whole.inputs) if m.mono_s > 500.0)
    random = Random("killed anywhere")
    near = range(whole.alarm_at - 5, whole.alarm_at + 5)
    return sorted({*near, *(random.randrange(begun, len(whole.inputs) - 1) for _ in range(KILLS))})


def test_no_kill_loses_the_alarm_nor_raises_it_more_than_once_again() -> None:
    """Whenever it comes; the alarm that was up before it is up after it, as the same occurrence."""
    whole = night()
    for index in points():
        told, core = killed_at(index)
        raised = [event for event in told if is_drag(event)]
        assert raised, f"killed at input {index} of {len(whole.inputs)}: no alarm"
        assert len(raised) <= 2, f"killed at input {index}: told {len(raised)} times"
        standing = [alert for alert in core.status(core_now(core)).alerts if alert.name == "drag"]
        assert [alert.state for alert in standing] == [AlertState.ACTIVE_UNACKNOWLEDGED]
        if index >= whole.alarm_at:
            assert {alert.number for alert in raised if isinstance(alert, Alert)} == {
                standing[0].number
            }


def core_now(core: Core) -> float:
    return night().inputs[-1].mono_s


@pytest.mark.parametrize("part", [0.0, 0.5, 1.0])
def test_a_kill_while_she_drags_costs_no_more_than_a_minute(part: float) -> None:
    """Between the first metres of the drag and the alarm, where the evidence is being gathered."""
    whole = night()
    begins = next(i for i, m in enumerate(whole.inputs) if m.mono_s > 1400.0)
    index = begins + round(part * (whole.alarm_at - 1 - begins))
    told, _ = killed_at(index)
    first = next(event for event in told if is_drag(event))
    assert isinstance(first, Alert)
    assert first.mono_s - whole.inputs[whole.alarm_at].mono_s <= 60.0
