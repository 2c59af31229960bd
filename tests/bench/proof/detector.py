"""The detector over recorded nights, under any setting or any limit of its evidence."""

import math
from collections.abc import Iterable, Sequence
from typing import Final

from attrs import evolve
from tests.bench.proof.cases import Case
from tests.bench.proof.decide import decide
from tests.bench.proof.record import NightRecord
from tests.bench.proof.results import Outcome, outcome

from driftlead.watch.settings import DetectorSettings

LIMITS: Final = tuple(-2.0 + 0.5 * index for index in range(29))


def outcomes(
    nights: Iterable[NightRecord], case: Case, settings: DetectorSettings
) -> tuple[Outcome, ...]:
    """Under these settings; nights not watched so, or whose mark was refused, are left out."""
    judged = []
    for night in nights:
        record = night.cases.get(case.key)
        if record is None or record.set_s is None:
            continue
        alarm = decide(record, settings)
        moment = None if alarm is None else (alarm.t_s, alarm.dragged_m)
        judged.append(outcome(night, record.set_s, moment))
    return tuple(judged)


def outcomes_at_limits(
    nights: Iterable[NightRecord], case: Case, settings: DetectorSettings
) -> dict[float, Sequence[Outcome]]:
    """At each limit of the log-odds, with the floor beside it as it is."""
    floor_only = evolve(settings, dwell_s=math.inf)
    judged: dict[float, list[Outcome]] = {limit: [] for limit in LIMITS}
    for night in nights:
        record = night.cases.get(case.key)
        if record is None or record.set_s is None:
            continue
        floor = decide(record, floor_only)
        for limit, sink in judged.items():
            moments = [record.climb.first_at(limit)]
            if floor is not None:
                moments.append((floor.t_s, floor.dragged_m))
            known = [moment for moment in moments if moment is not None]
            sink.append(outcome(night, record.set_s, min(known, default=None)))
    return dict(judged)
