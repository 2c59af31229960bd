"""One night from its seed: simulated, watched in its cases, and by the rivals."""

import math
from typing import Final

from attrs import evolve
from tests.bench.proof.aboard import Aboard, go_aboard, keep_watch
from tests.bench.proof.cases import CASES, Case
from tests.bench.proof.climb import Climbing, OnEnd
from tests.bench.proof.decide import decide
from tests.bench.proof.real import error_of
from tests.bench.proof.record import Alarm, CaseRecord, NightRecord, Step
from tests.bench.proof.rivals import finish_row, rivals
from tests.bench.proof.sets import with_wind

from driftlead.alerts.alert import Priority
from driftlead.alerts.condition import Condition
from driftlead.simulate.draw import draw_night
from driftlead.simulate.observe import observe
from driftlead.watch.decision import OVERWHELMING
from driftlead.watch.settings import DetectorSettings

QUIET: Final = DetectorSettings(dwell_s=math.inf, floor_dwell_s=math.inf)
"""The watch as it is, but it never has long enough to speak: its evidence runs on undisturbed, and
any decision can be taken on it afterwards."""
KEPT_LOG_ODDS: Final = -3.0
"""A step below this, inside the circle, ends whatever a decision may be counting."""
CERTAIN_LOG_ODDS: Final = 20.0
"""No decision waits for more than this."""
LOG_ODDS_STEP: Final = 0.25
CHECK_EVERY: Final = 10
"""One night in so many is watched a second time as aboard, alarms and all."""


def prove_night(seed: int, *, drags: bool, hours: float, real: bool = False) -> NightRecord:
    """Simulate one night and record what the watch and the rivals make of it.

    With a wind sensor only the first nights of a set are watched, and none under real error.

    ``real``: the error of a real receiver takes the place of the modelled one; jumps, held
    positions and silences stay as they were drawn.
    """
    scenario = draw_night(seed, drags=drags, hours=hours)
    night = observe(scenario, error=error_of(seed) if real else None)
    aboard = go_aboard(scenario, night)
    assert night.late_s is not None
    last = finish_row(night)
    return NightRecord(
        seed=seed,
        mode=None if night.mode is None else night.mode.value,
        lasts_s=float(night.t_s[-1]),
        late_s=night.late_s,
        veered_s=night.veered_s,
        drag_begins_s=night.drag_begins_s,
        farthest_m=float(night.dragged_m[:last].max()),
        cases={
            case.key: _case(aboard, case, check=seed % CHECK_EVERY == 0)
            for case in CASES
            if not case.wind or (with_wind(seed) and not real)
        },
        rivals=rivals(aboard, scenario),
    )


def judge_rivals_anew(record: NightRecord, *, hours: float, real: bool = False) -> NightRecord:
    """The same night with the rivals' figures worked out again; the watch's stand."""
    scenario = draw_night(record.seed, drags=record.drags, hours=hours)
    night = observe(scenario, error=error_of(record.seed) if real else None)
    return evolve(record, rivals=rivals(go_aboard(scenario, night), scenario))


def _case(aboard: Aboard, case: Case, *, check: bool) -> CaseRecord:
    night = aboard.night
    last = finish_row(night)
    dragged_m = night.dragged_m.tolist()
    climbing = Climbing(LOG_ODDS_STEP, drag_begins_s=night.drag_begins_s)
    on_end = OnEnd(DetectorSettings().dwell_s, overwhelming=OVERWHELMING)
    steps: list[Step] = []
    set_s: float | None = None
    before = None
    number = 0
    for row, watch, _ in keep_watch(aboard, case, QUIET):
        if row >= last:
            break
        evidence = watch.evidence
        if evidence is before or evidence is None:
            continue
        before = evidence
        number += 1
        t_s = float(night.t_s[row])
        if set_s is None:
            set_s = t_s
        log_odds = on_end.least(evidence.log_odds, evidence.time_s)
        climbing.hear(log_odds, t_s, dragged_m[row])
        if evidence.log_odds >= KEPT_LOG_ODDS or evidence.beyond_m > 0.0:
            steps.append(
                Step(
                    number=number,
                    t_s=evidence.time_s,
                    knowledge=evidence.knowledge,
                    log_odds=evidence.log_odds,
                    moved_m=evidence.moved_m,
                    beyond_m=evidence.beyond_m,
                    borne_out=evidence.borne_out,
                    dragged_m=dragged_m[row],
                )
            )
        if log_odds >= CERTAIN_LOG_ODDS:
            break
    record = CaseRecord(set_s=set_s, climb=climbing.climb(), steps=tuple(steps), same=None)
    if not check:
        return record
    return evolve(record, same=decide(record, DetectorSettings()) == first_alarm(aboard, case))


def first_alarm(aboard: Aboard, case: Case) -> Alarm | None:
    """The first drag alarm of the watch just as it is aboard."""
    night = aboard.night
    last = finish_row(night)
    for row, _, outcomes in keep_watch(aboard, case, DetectorSettings()):
        if row >= last:
            return None
        for outcome in outcomes:
            if (
                isinstance(outcome, Condition)
                and outcome.name == "drag"
                and outcome.priority is Priority.ALARM
            ):
                return Alarm(
                    t_s=float(night.t_s[row]),
                    dragged_m=float(night.dragged_m[row]),
                    reason=outcome.reason,
                )
    return None
