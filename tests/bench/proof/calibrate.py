"""Limits of the log-odds for decision.py, from the nights that tune.

    python tests/bench/proof/calibrate.py

For each state of knowledge: how high the log-odds (for the decision's dwell on end) went in each
night in which the anchor held, or until it dragged; of these,

    empirical    the limit that 1 night in 50 reached
    sure         the one that is high enough with 80 % confidence, by order statistics: of n nights
                 the r-th highest, with r the most for which the chance of r nights or more above
                 the true limit is 80 %; the safe choice, if there are nights enough
    fitted       an exponential tail above the highest fifth: the limit it gives, at 80 % confidence
                 by the bootstrap, and how much it takes for ten times fewer
"""

import argparse
import math
import sys
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

import numpy as np
from attrs import evolve
from numpy.typing import NDArray
from tests.bench.proof.cases import CASES, FALSE_PER_NIGHT, Case
from tests.bench.proof.decide import decide
from tests.bench.proof.limits import NIGHT_S
from tests.bench.proof.record import NightRecord
from tests.bench.proof.results import read_set
from tests.bench.proof.run import add_choice

from driftlead.errors import UserInputError
from driftlead.watch.decision import AT_50_NIGHTS, PER_DECADE
from driftlead.watch.evidence import Knowledge
from driftlead.watch.settings import DetectorSettings

CONFIDENCE = 0.8
TAIL = 0.2
RESAMPLES = 1000
FLOOR_ONLY = evolve(DetectorSettings(), dwell_s=math.inf)


def main() -> int:
    """Print the limits."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    add_choice(parser)
    parser.set_defaults(set="tune")
    options = parser.parse_args()
    if options.set == "test":
        print("The test nights are for judging, never for tuning.", file=sys.stderr)
        return 1
    try:
        nights = read_set(options, options.set, whole=False)
    except UserInputError as error:
        print(f"{error.message} {error.remedy}", file=sys.stderr)
        return 1
    print(
        f"{'':34}{'nights':>7}{'now':>6}{'empirical':>11}{'sure':>7}{'fitted':>8}{'/decade':>9}"
        f"{'by floor':>10}"
    )
    for knowledge in Knowledge:
        now = AT_50_NIGHTS[knowledge]
        cases = [case for case in CASES if case.knowledge is knowledge]
        for case in cases:
            print(_line(case.title, nights, [case], now))
        print(_line(f"{knowledge.value}, both", nights, cases, now))
    print(f"decision.py has {PER_DECADE:g} a decade")
    return 0


def _line(title: str, nights: Sequence[NightRecord], cases: Sequence[Case], now: float) -> str:
    highest: list[float] = []
    watched_s = 0.0
    by_floor = 0
    for night in nights:
        ends_s = night.lasts_s if night.drag_begins_s is None else night.drag_begins_s
        for record in (night.cases[case.key] for case in cases if case.key in night.cases):
            if record.set_s is None:
                continue
            highest.append(record.climb.highest_before)
            watched_s += ends_s - record.set_s
            alarm = decide(record, FLOOR_ONLY)
            by_floor += alarm is not None and alarm.t_s < ends_s
    watched = watched_s / NIGHT_S
    values = np.sort(np.array(highest, dtype=np.float64))[::-1]
    empirical = values[min(len(values) - 1, math.floor(watched * FALSE_PER_NIGHT))]
    # A night with wind and the same without are hardly two nights: for the chances they are one.
    rank = sure_rank(round(watched / len(cases)), FALSE_PER_NIGHT, CONFIDENCE) * len(cases)
    sure = math.nan if rank == 0 else values[rank - 1]
    fitted, slope = fitted_limit(values, watched)
    return (
        f"{title:34}{watched:7.0f}{now:6.1f}{empirical:11.2f}{sure:7.2f}{fitted:8.2f}{slope:9.2f}"
        f"{by_floor:10d}"
    )


def sure_rank(count: int, part: float, confidence: float) -> int:
    """Most r so that r of ``count`` or more are in the top ``part``, with this confidence."""
    below = 0.0
    for rank in range(count + 1):
        # Chance of fewer than rank + 1, that is of rank at most.
        below += math.comb(count, rank) * part**rank * (1.0 - part) ** (count - rank)
        if 1.0 - below < confidence:
            return rank
    return count


def fitted_limit(values: NDArray[np.float64], watched: float) -> tuple[float, float]:
    """Limit at 1 night in 50 with 80 % confidence, and the rise for a tenth of the alarms."""
    random = np.random.default_rng(1979)
    limits = [
        _tail(np.sort(values[drawn])[::-1], watched)[0]
        for drawn in random.integers(0, len(values), size=(RESAMPLES, len(values)))
    ]
    return float(np.quantile(limits, CONFIDENCE)), _tail(values, watched)[1]


def _tail(values: NDArray[np.float64], watched: float) -> tuple[float, float]:
    count = max(2, round(TAIL * len(values)))
    above, rest = values[:count], values[count] if count < len(values) else values[-1]
    mean = float(np.mean(above)) - float(rest)
    per_night = count / watched
    return float(rest) + mean * math.log(per_night / FALSE_PER_NIGHT), mean * math.log(10.0)


if __name__ == "__main__":
    sys.exit(main())
