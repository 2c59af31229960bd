"""A synthetic night: what the sources said, what the skipper did, and what was true."""

from collections.abc import Iterator

from attrs import frozen

from driftlead.core.inputs import Command, LetGo, Veer, Weigh
from driftlead.lines import StampedLine
from driftlead.simulate.manoeuvre import Manoeuvre
from driftlead.simulate.receiver import PositionError
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.talk import Talk
from driftlead.simulate.truth import DragTruth, TruthProcess, TruthSample, depth_at_m


@frozen(kw_only=True)
class SkipperInput:
    """A command of the skipper's and when it was given."""

    mono_s: float
    command: Command


Moment = StampedLine | SkipperInput | TruthSample


@frozen(kw_only=True)
class Night:
    """A whole night in memory. Times are seconds since its start, as on a monotonic clock.

    ``drag`` is None where the anchor held; ``settled_m`` is what it came in digging in, which is
    no drag.
    """

    scenario: Scenario
    moments: tuple[Moment, ...]
    drag: DragTruth | None
    settled_m: float

    @property
    def lines(self) -> Iterator[StampedLine]:
        """What the sources said."""
        return (moment for moment in self.moments if isinstance(moment, StampedLine))

    @property
    def inputs(self) -> Iterator[SkipperInput]:
        """What the skipper told the watch."""
        return (moment for moment in self.moments if isinstance(moment, SkipperInput))

    @property
    def truth(self) -> Iterator[TruthSample]:
        """What was true, once each fix interval."""
        return (moment for moment in self.moments if isinstance(moment, TruthSample))


def simulate_night(scenario: Scenario, *, error: PositionError | None = None) -> Night:
    """Simulate a night and keep all of it.

    ``error`` takes the place of the modelled error of the receiver's position.
    """
    manoeuvre = manoeuvre_of(scenario)
    process = TruthProcess(scenario, manoeuvre)
    moments = tuple(_moments(scenario, manoeuvre, process, error))
    return Night(
        scenario=scenario, moments=moments, drag=process.drag(), settled_m=process.settled_m
    )


def stream_night(scenario: Scenario) -> Iterator[Moment]:
    """Simulate a night and keep nothing: everything that happens, in the order it happens."""
    manoeuvre = manoeuvre_of(scenario)
    return _moments(scenario, manoeuvre, TruthProcess(scenario, manoeuvre), None)


def _moments(
    scenario: Scenario,
    manoeuvre: Manoeuvre,
    process: TruthProcess,
    error: PositionError | None,
) -> Iterator[Moment]:
    talk = Talk(scenario, error=error)
    inputs = _skipper(scenario, manoeuvre)
    for tick, truth in enumerate(process.samples()):
        while inputs and inputs[0].mono_s <= truth.t_s:
            yield inputs.pop(0)
        yield truth
        yield from talk.say(tick, truth)


def manoeuvre_of(scenario: Scenario) -> Manoeuvre:
    """Work out what her crew do in a scenario."""
    let_go_s = scenario.anchoring.let_go_s
    return Manoeuvre(
        scenario.anchoring,
        drop_m=depth_at_m(scenario, let_go_s, (0.0, 0.0)) + scenario.boat.bow_height_m,
        into_wind_deg=scenario.wind.from_deg.at(let_go_s) % 360.0,
    )


def depth_said_m(scenario: Scenario) -> float:
    """Give the depth the skipper says when she lets go."""
    return round(depth_at_m(scenario, scenario.anchoring.let_go_s, (0.0, 0.0)), 1)


def veer_said_s(manoeuvre: Manoeuvre) -> float:
    """Of the veering she hears once the windlass is stopped and the mark on the chain read."""
    return round(manoeuvre.veered_s) + 15.0


def _skipper(scenario: Scenario, manoeuvre: Manoeuvre) -> list[SkipperInput]:
    """List what the skipper tells the watch, in order."""
    plan = scenario.anchoring
    depth_m = depth_said_m(scenario)
    if plan.late_s is None:
        inputs = [
            SkipperInput(mono_s=plan.let_go_s, command=LetGo(depth_m=depth_m)),
            SkipperInput(mono_s=veer_said_s(manoeuvre), command=Veer(rode_m=plan.said_m)),
        ]
    else:
        late = LetGo(rode_m=plan.said_m, depth_m=depth_m, late=True)
        inputs = [SkipperInput(mono_s=plan.late_s, command=late)]
    if plan.weigh_s is not None:
        inputs.append(SkipperInput(mono_s=plan.weigh_s, command=Weigh()))
    return inputs
