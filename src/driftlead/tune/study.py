"""All that a sweep has told, put together for the reports."""

import math
from collections.abc import Mapping, Sequence
from typing import Final

from attrs import evolve, field, frozen

from driftlead.errors import UserInputError
from driftlead.tune.anchor_check import AnchorCheck, check_anchor
from driftlead.tune.curve import (
    Point,
    in_order,
    operating_curve,
    recommend,
    tried_on_others,
)
from driftlead.tune.judge import EARLY_S, Judged, Went, how_it_went, judge
from driftlead.tune.marks import Mark
from driftlead.tune.nights import stem
from driftlead.tune.sweep import Swept
from driftlead.tune.trace import DECISION_FIELDS, Alarm, NightTrace
from driftlead.tune.truth import Truth
from driftlead.tune.variations import Variation
from driftlead.watch.settings import DetectorSettings

WELL_BEFORE_S: Final = 600.0
_KNOB: Final = "false_alarm_nights"


@frozen(kw_only=True)
class NightReport:
    """One night: how it went, and what the recommended setting would have done.

    ``went`` and ``judged`` are None for a night nobody has marked; ``alarm`` is told even so.
    ``begins_utc_s`` is not a number where the receiver never told the date.
    """

    name: str
    begins_utc_s: float
    watched_s: float
    went: Went | None
    alarm: Alarm | None
    judged: Judged | None
    anchor: AnchorCheck | None
    trace: NightTrace
    notes: tuple[str, ...] = ()


@frozen(kw_only=True)
class Study:
    """The sweep as a whole. ``points`` and ``variations`` go together.

    ``shown`` are the settings worth a look, fewest false alarms first: the best of all, those
    that differ from the first only in the false alarms they are made for, and the chosen one.
    Without a marked night there are no points, and nothing is recommended.
    """

    variations: tuple[Variation, ...]
    points: tuple[Point, ...]
    shown: tuple[int, ...]
    accepted: float
    chosen: int | None
    others: Point | None
    nights: tuple[NightReport, ...]
    left_out: Mapping[str, str] = field(factory=dict)

    @property
    def setting(self) -> Variation:
        """The recommended setting, or the first where nothing can be recommended."""
        return self.variations[self.chosen or 0]


def study(
    swept: Swept,
    variations: Sequence[Variation],
    marks: Mapping[str, Mark],
    truths: Mapping[str, Truth],
    *,
    accepted: float,
) -> Study:
    """Judge every alarm, draw the curve and choose a setting.

    ``accepted`` is the chance of a false alarm a night that the skipper accepts.
    """
    went: dict[str, Went] = {}
    left_out = dict(swept.left_out)
    for name, trace in swept.traces.items():
        try:
            told = how_it_went(name, marks.get(name), truths.get(stem(name)), trace)
        except UserInputError as error:
            left_out[name] = str(error)
            continue
        if told is not None:
            went[name] = told
    table = [
        [judge(swept.alarms[name][index], told) for name, told in went.items()]
        for index in range(len(variations))
    ]
    points = tuple(Point.of(row) for row in table) if went else ()
    safe = [keeps_by_design(each.settings, variations[0].settings, accepted) for each in variations]
    chosen = recommend(points, accepted, safe) if points else None
    shown = _shown(points, variations, chosen) if chosen is not None else ()
    nights = tuple(
        _report(name, swept, went.get(name), chosen or 0)
        for name in swept.traces
        if name not in left_out
    )
    return Study(
        variations=tuple(variations),
        points=points,
        shown=shown,
        accepted=accepted,
        chosen=chosen,
        others=tried_on_others(table, accepted, safe) if points else None,
        nights=nights,
        left_out=left_out,
    )


def keeps_by_design(settings: DetectorSettings, base: DetectorSettings, accepted: float) -> bool:
    """Whether a setting is made for so few false alarms, and no quicker elsewhere than the base.

    The detector's limits come from simulated nights, many more than anybody records.
    """
    return settings.false_alarm_nights >= (1.0 - 1e-9) / accepted and not any(
        getattr(settings, name) < getattr(base, name) for name in DECISION_FIELDS - {_KNOB}
    )


def _shown(
    points: Sequence[Point], variations: Sequence[Variation], chosen: int
) -> tuple[int, ...]:
    base = variations[0].settings
    line = [
        index
        for index, each in enumerate(variations)
        if evolve(each.settings, **{_KNOB: getattr(base, _KNOB)}) == base
    ]
    shown = sorted(
        {*operating_curve(points), *line, chosen},
        key=lambda index: getattr(variations[index].settings, _KNOB),
    )
    return in_order(points, shown)


def _report(name: str, swept: Swept, went: Went | None, index: int) -> NightReport:
    trace = swept.traces[name]
    alarm = swept.alarms[name][index]
    rows = trace.rows
    return NightReport(
        name=name,
        begins_utc_s=next((float(s) for s in rows["utc_s"] if math.isfinite(s)), math.nan),
        watched_s=float(rows["time_s"][-1] - rows["time_s"][0]),
        went=went,
        alarm=alarm,
        judged=None if went is None else judge(alarm, went),
        anchor=check_anchor(trace, _held_until_utc_s(went, alarm)),
        trace=trace,
        notes=trace.notes,
    )


def _held_until_utc_s(went: Went | None, alarm: Alarm | None) -> float:
    """Until when the anchor surely held: of a night nobody has marked, well before any alarm."""
    if went is not None and went.begins_utc_s is not None:
        return went.begins_utc_s - EARLY_S
    if went is None and alarm is not None:
        return alarm.utc_s - WELL_BEFORE_S
    return math.inf
