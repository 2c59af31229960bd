"""Limits for at most one night in fifty with a false alarm, from the nights that tune."""

import math
from collections.abc import Iterable, Sequence

from attrs import frozen
from tests.bench.proof.cases import FALSE_PER_NIGHT
from tests.bench.proof.record import NightRecord
from tests.bench.proof.results import Outcome, Verdict, of_verdict, outcome
from tests.bench.proof.rivals import (
    BOAT,
    CUSUM_REFERENCES_M,
    MARK,
    MARK_GATED,
    ORACLE,
    cusum_key,
)

NIGHT_S = 8 * 3600.0


@frozen(kw_only=True)
class Rival:
    """A rival with its limit."""

    key: str
    title: str
    short: str
    limit: float

    def outcomes(self, nights: Iterable[NightRecord]) -> tuple[Outcome, ...]:
        """How it does."""
        return tuple(
            outcome(night, _since_s(night, self.key), night.rivals[self.key].first_at(self.limit))
            for night in nights
        )


def _since_s(night: NightRecord, key: str) -> float:
    return night.late_s if key == BOAT else night.veered_s


def tuned_limit(nights: Sequence[NightRecord], key: str) -> float:
    """The lowest limit that so few nights reach; parts of a night, before a drag, count as parts.

    A limit is one of the levels that a climb tells apart.
    """
    climbs = [night.rivals[key] for night in nights]
    watched_s = sum(
        (night.lasts_s if night.drag_begins_s is None else night.drag_begins_s)
        - _since_s(night, key)
        for night in nights
    )
    allowed = math.floor(watched_s / NIGHT_S * FALSE_PER_NIGHT)
    highest = sorted((each.highest_before for each in climbs), reverse=True)
    step = climbs[0].step
    return (math.floor(highest[min(allowed, len(highest) - 1)] / step) + 1.0) * step


def tuned_rivals(nights: Sequence[NightRecord]) -> tuple[Rival, ...]:
    """Every rival with its limit; of the cumulative sums, the one that does best here."""
    sums = [
        _tuned(
            nights,
            cusum_key(reference_m),
            f"cumulative sum beyond the drag circle, jumps refused, reference {reference_m:+.0f} m",
            "cumulative sum",
        )
        for reference_m in CUSUM_REFERENCES_M
    ]
    return (
        _tuned(nights, BOAT, "circle around the boat as she lay when it was set", "about the boat"),
        _tuned(nights, MARK, "drag circle around the mark, fixes as they come", "about the mark"),
        _tuned(
            nights, MARK_GATED, "drag circle around the mark, jumps refused", "same, jumps refused"
        ),
        min(sums, key=lambda rival: _cost_m(rival.outcomes(nights))),
        _tuned(nights, ORACLE, "oracle: knows all but the receiver's noise", "oracle"),
    )


def _tuned(nights: Sequence[NightRecord], key: str, title: str, short: str) -> Rival:
    limit = tuned_limit(nights, key)
    return Rival(key=key, title=title, short=short, limit=limit)


def _cost_m(outcomes: Iterable[Outcome]) -> float:
    """The mean way, a miss counting for all of it."""
    drags = of_verdict(outcomes, Verdict.FOUND, Verdict.MISSED)
    return sum(min(each.metres, 100.0) for each in drags) / max(1, len(drags))
