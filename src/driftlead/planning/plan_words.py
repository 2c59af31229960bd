"""The plan in lines that a tired person can read, in one system of units. Pure."""

import datetime as dt
import math
import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from attrs import frozen

from driftlead.planning.plan import SHANK_LIMIT_DEG, Governs, Moment, Plan, stepped_up_m
from driftlead.planning.plan_reminders import reminders
from driftlead.tackle.bottom import HOLDING, IS_POOR
from driftlead.units import KNOT_MPS, Printer

if TYPE_CHECKING:
    from driftlead.planning.plan_lights import Darkness

ASSISTS: Final = "This assists; it replaces neither local rules, which come first, nor a look-out."
DECIDES: Final = "Reckoned in still water: stream, waves and yawing add load. The skipper decides."
_STRONGEST_MPS: Final = 60 * KNOT_MPS  # beyond it nobody plans, and a figure would promise
_NOTABLE_M: Final = 0.3
_LEVEL_DEG: Final = 0.05  # shown as 0.0
_WIDTH: Final = 80


@frozen
class PlanWords:
    """Writes one plan with one printer."""

    plan: Plan
    printer: Printer

    def lines(self) -> list[str]:
        """Give the answer, warnings, how she lies, and the night hour by hour."""
        return folded(self._long_lines())

    def _long_lines(self) -> list[str]:
        return [
            self._heading(),
            "",
            self._answer(),
            *self._reasons(),
            *(f"WARNING: {warning}" for warning in self.warnings()),
            "",
            *self._water(),
            "",
            *self._load(),
            *self._bottom(),
            *self._hours(),
            "",
            ASSISTS,
            DECIDES,
        ]

    def warnings(self) -> list[str]:
        """Give what the skipper must not overlook, the gravest first."""
        return [
            *self._touching(),
            *self._too_short(),
            *self._steep(),
            *self._overloaded(),
            *self._poor_bottom(),
        ]

    def _heading(self) -> str:
        stay, name = self.plan.stay, self.plan.boat.name
        begins, ends = stay.begins, stay.ends
        to = f"{ends:%H:%M}" if ends.date() == begins.date() else _day_and_time(ends)
        heading = f"{_day_and_time(begins)} to {to} {begins.tzname()}"
        wind_of = self.printer.wind
        wind = f"wind {wind_of(stay.wind_mps)}, gusts {wind_of(stay.gust_mps)}"
        return f"{name + ': ' if name else ''}{heading}, {wind}"

    def _answer(self) -> str:
        plan, rode = self.plan, self.printer.rode
        boat = plan.boat
        if boat.chain_m == 0.0:
            kind = "all of it rope"
        elif plan.rode_m <= boat.chain_m:
            kind = "all of it chain"
        else:
            kind = f"{rode(plan.chain_out_m)} of it chain"
        much = rode(plan.rode_m) + self.printer.shackles(plan.rode_m)
        every = "all " if plan.rode_m >= boat.aboard_m else ""
        why = "The rule of scope" if plan.governs is Governs.SCOPE else "The gusts"
        return (
            f"Veer {every}{much}, {kind}, of the {rode(boat.aboard_m)} aboard. "
            f"{why} decide{'s' if plan.governs is Governs.SCOPE else ''}:"
        )

    def _reasons(self) -> Iterator[str]:
        plan = self.plan
        yield (
            f"  Scope  {self._rode_up(plan.by_scope_m)}: {plan.rule.ratio:g}:1{self._then}, "
            f"{plan.rule.why}."
        )
        aim = "pulls level" if plan.boat.chain_m > 0.0 else f"rises {SHANK_LIMIT_DEG:g}° at most"
        more = ", more than there is" if plan.short_of_gusts_m > 0.0 else ""
        yield (
            f"  Gusts  {self._rode_up(plan.by_gusts_m)}{more}: the anchor's end {aim}{self._then}."
        )

    @property
    def _then(self) -> str:
        return " at high water" if self.plan.stay.water.tide is not None else ""

    def _rode_up(self, length_m: float) -> str:
        # Never less than reckoned.
        return self.printer.rode(stepped_up_m(length_m, self.printer.rode_step_m))

    def _touching(self) -> Iterator[str]:
        plan, short = self.plan, self.printer.short
        draught_m, under_m = plan.boat.draught_m, plan.least.under_keel_m
        if draught_m is None or under_m is None:
            return
        if plan.touches:
            spells = ", ".join(f"{_time(a)} to {_time(b)}" for a, b in plan.touches)
            yield (
                f"She will TOUCH, {spells}: her draught is {short(draught_m)} and there are "
                f"{self.printer.depth(plan.least.depth_m)} at {_time(plan.least.when)}."
            )
        elif under_m < plan.boat.clearance_m:
            yield (
                f"Only {short(under_m)} under the keel at {_time(plan.least.when)}; you want "
                f"{short(plan.boat.clearance_m)}."
            )

    def _too_short(self) -> Iterator[str]:
        plan = self.plan
        if plan.short_of_scope_m > 0.0:
            yield (
                f"Not enough rode: {self._rode_up(plan.short_of_scope_m)} short of the rule. With "
                f"all of it the scope{self._then} is {plan.most.scope:.1f}:1. {self._good_for()}"
            )

    def _good_for(self) -> str:
        level_mps, bite_mps = self.plan.level_to_mps, self.plan.bite_to_mps
        level = (
            "does not stay level in any wind, but stays"
            if level_mps < KNOT_MPS
            else f"stays level in gusts {self._up_to(level_mps)},"
        )
        if bite_mps < KNOT_MPS:
            return f"The anchor's end is lifted more than {SHANK_LIMIT_DEG:g}° in any wind."
        return (
            f"The anchor's end {level} below {SHANK_LIMIT_DEG:g}° in gusts {self._up_to(bite_mps)}."
        )

    def _up_to(self, wind_mps: float) -> str:
        unit = self.printer.wind_unit
        # Rounded down, like any wind that is promised.
        least = math.floor(min(wind_mps, _STRONGEST_MPS) / unit.mps + 1e-9)
        return f"{'beyond' if wind_mps > _STRONGEST_MPS else 'up to'} {least} {unit.sign}"

    def _steep(self) -> Iterator[str]:
        plan = self.plan
        if plan.shank_deg > SHANK_LIMIT_DEG + 0.05:
            yield (
                f"In the gusts{self._then} the shank is lifted {plan.shank_deg:.0f}°; about "
                f"{SHANK_LIMIT_DEG:g}° is the most an anchor bears without losing hold."
            )

    def _overloaded(self) -> Iterator[str]:
        plan = self.plan
        if plan.snubber is not None and plan.snubber.is_overworked:
            yield (
                f"The snubber bears {100 * plan.snubber.breaking_share:.0f} % of its breaking "
                "load; a fifth is common practice. Take a thicker one."
            )
        if plan.design is not None and plan.bow_load_n > plan.design.load_n:
            yield "The gusts' steady load is beyond the design load of her tackle."

    def _poor_bottom(self) -> Iterator[str]:
        bottom = self.plan.stay.bottom
        if bottom in IS_POOR:
            yield HOLDING[bottom]

    def _water(self) -> Iterator[str]:
        plan = self.plan
        if plan.stay.water.tide is None:
            yield f"Depth {self._at(plan.most)}"
            yield (
                "No tide table was given: the depth is taken to stay as it is, which is right only "
                "where there is no tide."
            )
        else:
            name = "High water" if plan.most.turn else "Most water"
            yield f"{name}  {_time(plan.most.when)}  {self._at(plan.most)}"
            name = "Low water " if plan.least.turn else "Least water"
            yield f"{name}  {_time(plan.least.when)}  {self._at(plan.least)}"
        over_m = plan.stay.sounded_over_chart_m
        if over_m is not None and abs(over_m) >= _NOTABLE_M:
            yield (
                f"You sounded {self.printer.short(abs(over_m))} {'more' if over_m > 0 else 'less'} "
                "than chart and tide give; the sounding counts."
            )

    def _at(self, moment: Moment) -> str:
        text = f"{self.printer.depth(moment.depth_m)} of water, scope {_scope(moment.scope)}"
        if moment.under_keel_m is None:
            return f"{text}; her draught is not known."
        return f"{text}, {self.printer.short(moment.under_keel_m)} under the keel."

    def _load(self) -> Iterator[str]:
        plan, force = self.plan, self.printer.force
        yield (
            f"Push of the wind {force(plan.mean_load_n)}, of the gusts {force(plan.gust_load_n)}; "
            f"in the gusts{self._then} the rode pulls {force(plan.bow_load_n)} at the bow."
        )
        if plan.shank_deg < _LEVEL_DEG:
            yield f"Then {self.printer.short(plan.lying_m)} of it still lies on the bottom."
        else:
            yield f"Then the shank is lifted {plan.shank_deg:.1f}°."
        if plan.short_of_scope_m == 0.0:
            yield self._good_for()
        if plan.snubber is not None and plan.boat.snubber is not None:
            share = 100 * plan.snubber.breaking_share
            yield (
                f"Snubber of {self.printer.short(plan.boat.snubber.length_m)}: stretches "
                f"{self.printer.short(plan.snubber.stretch_m)} and bears {share:.0f} % of its "
                "breaking load."
            )
        if plan.design is not None:
            yield (
                f"ABYC H-40 design load for her, {plan.design.duty} "
                f"({self.printer.wind(plan.design.wind_mps)}): {force(plan.design.load_n)}. It is "
                "what tackle is sized for, shock included."
            )

    def _bottom(self) -> Iterator[str]:
        bottom = self.plan.stay.bottom
        if bottom is not None and bottom not in IS_POOR:
            yield HOLDING[bottom]

    def _hours(self) -> Iterator[str]:
        plan = self.plan
        if plan.stay.water.tide is None:
            return
        yield ""
        rows = [
            ("time", "", "tide", "depth", "keel", "scope", "shank", "reach"),
            *(self._hour(moment) for moment in plan.moments),
        ]
        if plan.boat.draught_m is None:
            rows = [(*row[:4], *row[5:]) for row in rows]
        yield from _table(rows)
        yield "keel: water under it. shank: its lift in the gusts. reach: anchor to bow then."

    def _when(self, moment: Moment) -> str:
        stay = self.plan.stay
        one_night = stay.ends - stay.begins <= dt.timedelta(hours=24)
        return _time(moment.when) if one_night else f"{moment.when:%d} {_time(moment.when)}"

    def _hour(self, moment: Moment) -> Sequence[str]:
        printer = self.printer
        lie = moment.lie
        return (
            self._when(moment),
            moment.turn,
            printer.short(moment.tide_m or 0.0),
            printer.depth(moment.depth_m),
            "" if moment.under_keel_m is None else printer.short(moment.under_keel_m),
            _scope(moment.scope),
            "dry" if lie is None else f"{lie.anchor_angle_deg:.0f}°",
            "" if lie is None else printer.rode(lie.reach_m),
        )


def _table(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Set rows in columns: words to the left, the figures that follow to the right."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        cells = [
            f"{cell:<{width}}" if place < 2 else f"{cell:>{width}}"
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()


def reminder_lines(length_m: float | None, darkness: "Darkness | None") -> list[str]:
    """Say what the rules ask of a vessel at anchor, and when it is dark if that is known."""
    dark = [] if darkness is None else list(_dark_lines(darkness))
    lines = [f"  {line}" for line in (*dark, *reminders(length_m))]
    return folded(["Reminders; local rules come first:", *lines])


def _dark_lines(darkness: "Darkness") -> Iterator[str]:
    for spell in darkness.spells:
        yield f"Sunset {_day_and_time(spell.sunset)}, sunrise {_day_and_time(spell.sunrise)}."
    if not darkness.spells:
        yield f"{'The sun is down' if darkness.dark_throughout else 'It is day'} throughout."


def folded(lines: Sequence[str]) -> list[str]:
    """Fold long lines to the width of a terminal; what is folded is set in by two."""
    short: list[str] = []
    for line in lines:
        indent = " " * (len(line) - len(line.lstrip()) + 2)
        folds = textwrap.wrap(
            line, _WIDTH, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
        )
        short += folds if len(line) > _WIDTH else [line]
    return short


def _day_and_time(when: dt.datetime) -> str:
    rounded = _to_the_minute(when)
    return f"{rounded.day} {rounded:%B %H:%M}"


def _time(when: dt.datetime) -> str:
    return f"{_to_the_minute(when):%H:%M}"


def _to_the_minute(when: dt.datetime) -> dt.datetime:
    # A time reckoned from tide or sun has seconds.
    return (when + dt.timedelta(seconds=30)).replace(second=0, microsecond=0)


def _scope(scope: float) -> str:
    return "-" if math.isinf(scope) else f"{scope:.1f}:1"
