"""The tables of docs/proof.md."""

import functools
from collections.abc import Iterable, Sequence
from typing import Final

from attrs import evolve, field, frozen
from tests.bench.proof.cases import CASES, TARGETS, Case
from tests.bench.proof.detector import outcomes, outcomes_at_limits
from tests.bench.proof.intervals import quantile
from tests.bench.proof.limits import Rival
from tests.bench.proof.record import NightRecord
from tests.bench.proof.results import Outcome, Verdict, of_verdict
from tests.bench.proof.summary import Summary, summarise
from tests.bench.proof.words import metres, share, table, whole_with_interval, with_interval

from driftlead.simulate.anchor import DragMode
from driftlead.watch.decision import AT_50_NIGHTS
from driftlead.watch.settings import DetectorSettings

NIGHTS_ACCEPTED: Final = (10.0, 50.0, 200.0, 1000.0)
PLAIN: Final = tuple(case for case in CASES if not case.wind)
"""The cases without a wind sensor: the one instrument of the three that is the least common."""


@frozen(kw_only=True, eq=False)
class Proof:
    """Recorded nights to judge on, and the rivals tuned elsewhere."""

    nights: Sequence[NightRecord]
    rivals: Sequence[Rival]
    settings: DetectorSettings = field(factory=DetectorSettings)

    def cases(self) -> str:
        """The detector in each case that was watched beside what is aimed at."""
        rows = []
        for case in CASES:
            if not any(case.key in night.cases for night in self.nights):
                continue
            target = TARGETS[case.knowledge]
            summary = self.summary(case)
            short = summary.falls_short_of(target)
            rows.append(
                [
                    case.title,
                    *_figures(summary),
                    metres(summary.minutes),
                    f"{target.median_m:.0f} / {target.p90_m:.0f} m, {100 * target.missed:.0f} %",
                    "met" if not short else f"not met: {', '.join(short)}",
                ]
            )
        return table([*("known", *_HEAD), "minutes, median", "target", ""], rows)

    def modes(self) -> str:
        """Metres by how she drags: median / 90 % with their intervals, and how many were missed."""
        head = ["known", *(mode.value for mode in DragMode)]
        rows = [["nights", *self._mode_counts()]]
        for case in PLAIN:
            judged = self._outcomes(case)
            rows.append([case.title, *(_of_mode(judged, mode.value) for mode in DragMode)])
        return table(head, rows)

    def beside(self) -> str:
        """The detector beside its rivals."""
        rows = [
            [f"this detector, {case.title}", "", *_figures(self.summary(case))] for case in PLAIN
        ]
        for rival in self.rivals:
            summary = summarise(rival.outcomes(self.nights))
            rows.append([rival.title, f"{rival.limit:g}", *_figures(summary)])
        return table(["detector", "limit", *_HEAD], rows)

    def accepted(self) -> str:
        """What the skipper's setting comes to."""
        rows = []
        for nights in NIGHTS_ACCEPTED:
            settings = evolve(self.settings, false_alarm_nights=nights)
            cells = [f"1 in {nights:.0f}"]
            for case in PLAIN:
                summary = summarise(outcomes(self.nights, case, settings))
                cells.append(_short(summary))
            rows.append(cells)
        return table(["accepted", *(case.title for case in PLAIN)], rows)

    def curve(self) -> str:
        """What each limit of the log-odds would come to."""
        curves = [self.curve_of(case) for case in PLAIN]
        rows = [
            [f"{limit:g}", *(_short(curve[limit]) for curve in curves)]
            for limit in curves[0]
            if limit == round(limit)
        ]
        return table(["log-odds", *(case.title for case in PLAIN)], rows)

    @functools.lru_cache  # noqa: B019 - lives as long as the report
    def curve_of(self, case: Case) -> dict[float, Summary]:
        """A case's operating curve."""
        by_limit = outcomes_at_limits(self.nights, case, self.settings)
        return {limit: summarise(judged) for limit, judged in by_limit.items()}

    def about(self) -> str:
        """What the tables are made from, and whether they can be trusted to be of this watch."""
        holds = [night for night in self.nights if not night.drags]
        drags = [night for night in self.nights if night.drags]
        marked = CASES[0].key
        refused = sum(night.cases[marked].set_s is None for night in self.nights)
        short = sum(night.farthest_m < 20.0 for night in drags)
        checked = [
            record.same
            for night in self.nights
            for record in night.cases.values()
            if record.same is not None
        ]
        limits = ", ".join(f"{name.value} {limit:g}" for name, limit in AT_50_NIGHTS.items())
        rows = [
            ["nights she holds", _seeds(holds)],
            ["nights she drags", _seeds(drags)],
            ["drags that end within 20 m, counted nowhere else", f"{short}"],
            ["marks refused, no fix as the anchor went down (left out where marked)", f"{refused}"],
            ["limits of the log-odds", limits],
            [
                "watched again as aboard, alarms and all: the same first alarm to the second",
                f"{sum(checked)} of {len(checked)}",
            ],
        ]
        return table(["", ""], rows)

    @functools.lru_cache  # noqa: B019 - lives as long as the report
    def _outcomes(self, case: Case) -> Sequence[Outcome]:
        return outcomes(self.nights, case, self.settings)

    def summary(self, case: Case) -> Summary:
        return summarise(self._outcomes(case))

    def _mode_counts(self) -> Iterable[str]:
        for mode in DragMode:
            yield str(sum(night.mode == mode.value for night in self.nights))


_HEAD: Final = (
    "false, she holds",
    "early, before a drag",
    "false, of all nights",
    "metres, median",
    "metres, 90 %",
    "missed",
)


def _figures(summary: Summary) -> Sequence[str]:
    return (
        share(summary.false),
        share(summary.early),
        f"{100 * summary.false_per_night:.1f} %",
        with_interval(summary.median),
        with_interval(summary.p90),
        share(summary.missed),
    )


def _short(summary: Summary) -> str:
    return (
        f"{100 * summary.false_per_night:.1f} %, {metres(summary.median.value)} / "
        f"{metres(summary.p90.value)} m, {100 * summary.missed.rate:.0f} %"
    )


def _of_mode(judged: Iterable[Outcome], mode: str) -> str:
    drags = [
        each for each in of_verdict(judged, Verdict.FOUND, Verdict.MISSED) if each.mode == mode
    ]
    ways = [each.metres for each in drags]
    missed = len(of_verdict(drags, Verdict.MISSED))
    told = (
        f"{whole_with_interval(quantile(ways, 0.5))} / {whole_with_interval(quantile(ways, 0.9))}"
    )
    return f"{told}, {missed} missed" if missed else told


def _seeds(nights: Sequence[NightRecord]) -> str:
    if not nights:
        return "none"
    seeds = [night.seed for night in nights]
    return f"{len(nights)} (seeds {min(seeds)} to {max(seeds)})"
