"""What an alarm was worth, held against how the night went."""

import datetime as dt
import enum
import math
from typing import Final

import numpy as np
from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.tune.marks import Mark
from driftlead.tune.moments import utc_from
from driftlead.tune.trace import Alarm, NightTrace
from driftlead.tune.truth import DragKnown, Truth

EARLY_S: Final = 60.0
"""A drag's beginning is not known to better than this: an alarm so much earlier is not false."""
FARTHEST_M: Final = 100.0
"""An alarm after the anchor has come farther than this is of no use any more."""


class Verdict(enum.StrEnum):
    """What a setting did on a night."""

    QUIET = "quiet"
    """The anchor held and nobody was woken."""
    FALSE = "false"
    """An alarm, and the anchor held; or held still."""
    FOUND = "found"
    """The drag was found."""
    MISSED = "missed"
    """The drag was not found, or too late to be of use."""


@frozen(kw_only=True)
class Went:
    """How a night went: Unix seconds at which a drag began, None if the anchor held.

    ``drag`` is the true way of the anchor, where it is known. ``by`` says who says so.
    """

    begins_utc_s: float | None
    drag: DragKnown | None
    by: str

    @property
    def held(self) -> bool:
        """Whether the anchor held all night."""
        return self.begins_utc_s is None


@frozen(kw_only=True)
class Judged:
    """One setting on one night.

    ``late_s`` is from the beginning of the drag to the alarm, ``dragged_m`` how far the anchor
    had come by then: by truth, or by the detector's own estimate where truth is not known.
    """

    verdict: Verdict
    alarm: Alarm | None
    late_s: float | None = None
    dragged_m: float | None = None


def how_it_went(
    name: str, mark: Mark | None, truth: Truth | None, trace: NightTrace
) -> Went | None:
    """Join mark and truth; None if neither says anything.

    Raises UserInputError if the time a drag is said to begin at is not within the night.
    """
    if mark is None:
        if truth is None:
            return None
        drag = truth.drag
        begins_s = None if drag is None else drag.begins_utc_s
        return Went(begins_utc_s=begins_s, drag=drag, by="truth.json")
    if mark.held or mark.at is None:
        return Went(begins_utc_s=None, drag=None, by="marked")
    begins_s = _begins_utc_s(name, mark.at, trace)
    return Went(begins_utc_s=begins_s, drag=None if truth is None else truth.drag, by="marked")


def judge(alarm: Alarm | None, went: Went) -> Judged:
    """Hold an alarm, or its absence, against how the night went."""
    begins_s = went.begins_utc_s
    if begins_s is None:
        return Judged(verdict=Verdict.QUIET if alarm is None else Verdict.FALSE, alarm=alarm)
    if alarm is None:
        return Judged(verdict=Verdict.MISSED, alarm=None)
    if alarm.utc_s < begins_s - EARLY_S:
        return Judged(verdict=Verdict.FALSE, alarm=alarm)
    dragged_m = alarm.moved_m if went.drag is None else went.drag.dragged_m(alarm.utc_s)
    return Judged(
        verdict=Verdict.FOUND if dragged_m <= FARTHEST_M else Verdict.MISSED,
        alarm=alarm,
        late_s=max(0.0, alarm.utc_s - begins_s),
        dragged_m=dragged_m,
    )


def _begins_utc_s(name: str, at: dt.datetime | dt.time, trace: NightTrace) -> float:
    times = trace.rows["utc_s"]
    known = times[np.isfinite(times)]
    if not len(known):
        raise UserInputError(
            f"{name}: its receiver never told the date, so {at} cannot be found in it.",
            remedy="Say on which date it begins: driftlead tune mark ... --date 2026-06-14.",
        )
    first_s, last_s = float(known[0]), float(known[-1])
    begins_s = utc_from(at, first_s)
    if math.isnan(begins_s) or not first_s - EARLY_S <= begins_s <= last_s:
        said = dt.datetime.fromtimestamp(begins_s, dt.UTC)
        first, last = (dt.datetime.fromtimestamp(each, dt.UTC) for each in (first_s, last_s))
        raise UserInputError(
            f"{name}: at = {said:%Y-%m-%d %H:%M} UTC is not within the watch of that night, "
            f"{first:%Y-%m-%d %H:%M} to {last:%H:%M}.",
            remedy="Correct the time (UTC): driftlead tune mark ... dragged --at HH:MM.",
        )
    return begins_s
