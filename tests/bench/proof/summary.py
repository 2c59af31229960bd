"""Many nights under one detector, summed up."""

from collections.abc import Sequence

from attrs import frozen
from tests.bench.proof.cases import FALSE_PER_NIGHT, Target
from tests.bench.proof.intervals import Quantile, quantile
from tests.bench.proof.limits import NIGHT_S
from tests.bench.proof.results import Outcome, Verdict, of_verdict

from driftlead.tune.curve import Share


@frozen(kw_only=True)
class Summary:
    """False alarms, and how far she dragged before a true one.

    ``false`` is of the nights she holds, ``early`` of those she drags in; ``false_per_night``
    is of both, per eight hours of watch over an anchor that holds. ``median`` and ``p90`` count a
    miss as infinite; ``short`` are drags that end before they count, as alarmed ones of all.
    """

    false: Share
    early: Share
    false_per_night: float
    median: Quantile
    p90: Quantile
    minutes: float
    missed: Share
    short: Share

    def falls_short_of(self, target: Target) -> Sequence[str]:
        """What is not as good as aimed at."""
        checks = {
            "false alarms": self.false_per_night <= FALSE_PER_NIGHT,
            "median": self.median.value <= target.median_m,
            "90 %": self.p90.value <= target.p90_m,
            "missed": self.missed.of > 0 and self.missed.rate <= target.missed,
        }
        return [name for name, good in checks.items() if not good]


def summarise(outcomes: Sequence[Outcome]) -> Summary:
    """Sum up."""
    holds = of_verdict(outcomes, Verdict.QUIET, Verdict.FALSE)
    false, early = (of_verdict(outcomes, each) for each in (Verdict.FALSE, Verdict.EARLY))
    counted = of_verdict(outcomes, Verdict.FOUND, Verdict.MISSED)
    short = of_verdict(outcomes, Verdict.SHORT, Verdict.SHORT_FOUND)
    metres = [each.metres for each in counted]
    nights = sum(each.watched_s for each in outcomes) / NIGHT_S
    return Summary(
        false=Share(len(false), len(holds)),
        early=Share(len(early), len(outcomes) - len(holds)),
        false_per_night=(len(false) + len(early)) / nights if nights else 0.0,
        median=quantile(metres, 0.5),
        p90=quantile(metres, 0.9),
        minutes=quantile([each.minutes for each in counted], 0.5).value,
        missed=Share(len(of_verdict(counted, Verdict.MISSED)), len(counted)),
        short=Share(len(of_verdict(short, Verdict.SHORT_FOUND)), len(short)),
    )
