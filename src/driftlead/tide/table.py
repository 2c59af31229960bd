"""High and low waters, and the height of the tide at any time between them."""

import datetime as dt
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.tide.shares import TideCurve, part_of_time, share_run

_LONGEST_RUN: Final = dt.timedelta(hours=18)
"""From turn to turn it is some 6 hours, or 12 where there is one tide a day; never this."""


@frozen(kw_only=True)
class Turn:
    """A high or low water: an aware time, and the height above chart datum in metres."""

    when: dt.datetime
    height_m: float


@frozen(kw_only=True)
class Row:
    """A turn as it was read; ``where`` names its place for messages, such as ``line 3``."""

    where: str
    turn: Turn


@frozen
class TideTable:
    """Turns in order of time, high and low in turn; make it with ``tide_table``."""

    turns: tuple[Turn, ...]
    curve: TideCurve = TideCurve.COSINE

    @property
    def begins(self) -> dt.datetime:
        """The first turn's time."""
        return self.turns[0].when

    @property
    def ends(self) -> dt.datetime:
        """The last turn's time."""
        return self.turns[-1].when

    def height_m(self, when: dt.datetime) -> float:
        """Return the height above chart datum; raises UserInputError outside the table."""
        before, after = self._around(when)
        part = (when - before.when) / (after.when - before.when)
        share = share_run(self.curve, part)
        return before.height_m + (after.height_m - before.height_m) * share

    def turns_within(self, begins: dt.datetime, ends: dt.datetime) -> tuple[Turn, ...]:
        """Return the high and low waters from one time to another, both included."""
        return tuple(turn for turn in self.turns if begins <= turn.when <= ends)

    def is_high(self, turn: Turn) -> bool:
        """Tell whether a turn of this table is a high water."""
        at = self.turns.index(turn)
        neighbour = self.turns[at - 1 if at else 1]
        return turn.height_m > neighbour.height_m

    def highest(self, begins: dt.datetime, ends: dt.datetime) -> Turn:
        """Return when in a time the tide is highest, and how high it is then."""
        return max(self._stations(begins, ends), key=lambda turn: turn.height_m)

    def lowest(self, begins: dt.datetime, ends: dt.datetime) -> Turn:
        """Return when in a time the tide is lowest, and how high it is then."""
        return min(self._stations(begins, ends), key=lambda turn: turn.height_m)

    def times_at(
        self, height_m: float, begins: dt.datetime, ends: dt.datetime
    ) -> tuple[dt.datetime, ...]:
        """Return the times at which the tide passes a height, in order."""
        self._around(begins)
        self._around(ends)
        found: list[dt.datetime] = []
        for before, after in pairwise(self.turns):
            share = (height_m - before.height_m) / (after.height_m - before.height_m)
            # The end of one run is the beginning of the next: it counts once.
            if 0.0 < share <= 1.0 or (share == 0.0 and before is self.turns[0]):
                part = part_of_time(self.curve, share)
                when = before.when + (after.when - before.when) * part
                if begins <= when <= ends:
                    found.append(when)
        return tuple(found)

    def _stations(self, begins: dt.datetime, ends: dt.datetime) -> Iterator[Turn]:
        yield Turn(when=begins, height_m=self.height_m(begins))
        yield from self.turns_within(begins, ends)
        yield Turn(when=ends, height_m=self.height_m(ends))

    def _around(self, when: dt.datetime) -> tuple[Turn, Turn]:
        for before, after in pairwise(self.turns):
            if before.when <= when <= after.when:
                return before, after
        zone = when.tzinfo
        raise UserInputError(
            f"The tide table runs from {_shown(self.begins.astimezone(zone))} to "
            f"{_shown(self.ends.astimezone(zone))} and does not cover {_shown(when)}.",
            remedy="Add the high and low waters around the stay, or correct its date or time.",
        )


def tide_table(rows: Sequence[Row], *, name: str, curve: TideCurve = TideCurve.COSINE) -> TideTable:
    """Make a table of what was read from ``name``.

    Raises UserInputError, naming the place: fewer than two turns, out of order, high and low not
    in turn, or one left out.
    """
    if len(rows) < 2:
        raise UserInputError(
            f"{name}: There are {len(rows)} high and low waters; two are the least.",
            remedy="Write those before, in and after the stay.",
        )
    for before, after in pairwise(rows):
        _check_order(before, after, name)
    for first, middle, last in zip(rows, rows[1:], rows[2:], strict=False):
        rising = middle.turn.height_m > first.turn.height_m
        if rising is (last.turn.height_m > middle.turn.height_m):
            what = "high" if rising else "low"
            raise UserInputError(
                f"{name}, {last.where}: {last.turn.height_m:g} m after "
                f"{middle.turn.height_m:g} m goes on {'rising' if rising else 'falling'}, so "
                f"{middle.where} was no {what} water.",
                remedy="High and low waters must come in turn: add the one left out.",
            )
    return TideTable(tuple(row.turn for row in rows), curve)


def _check_order(before: Row, after: Row, name: str) -> None:
    gap = after.turn.when - before.turn.when
    if gap <= dt.timedelta(0):
        raise UserInputError(
            f"{name}, {after.where}: {_shown(after.turn.when)} does not come after "
            f"{_shown(before.turn.when)} of {before.where}.",
            remedy="Put them in order of time.",
        )
    if gap > _LONGEST_RUN:
        raise UserInputError(
            f"{name}, {after.where}: {_shown(after.turn.when)} comes "
            f"{gap.total_seconds() / 3600:.0f} h after {before.where}, more than any tide runs.",
            remedy="Add the high and low waters left out between them.",
        )
    if after.turn.height_m == before.turn.height_m:
        raise UserInputError(
            f"{name}, {after.where}: The height is that of {before.where}, so neither is high "
            "nor low water.",
            remedy="Correct the height.",
        )


def _shown(when: dt.datetime) -> str:
    return f"{when:%Y-%m-%d %H:%M}"
