"""Recorded nights read back, and what an alarm in one of them amounts to."""

import argparse
import enum
import functools
import math
from collections.abc import Iterable, Sequence
from typing import Final

from attrs import frozen
from tests.bench.proof.cache import night_path, versions
from tests.bench.proof.record import NightRecord, load
from tests.bench.proof.run import chosen

from driftlead.errors import UserInputError

TOO_LATE_M: Final = 100.0
SHORT_M: Final = 20.0
"""A drag that ends before it has come so far is told of apart: it is no miss."""


class Verdict(enum.Enum):
    """How a night ended."""

    QUIET = enum.auto()
    FALSE = enum.auto()
    EARLY = enum.auto()
    SHORT_FOUND = enum.auto()
    SHORT = enum.auto()
    FOUND = enum.auto()
    MISSED = enum.auto()


@frozen(kw_only=True)
class Outcome:
    """One night under one detector. ``watched_s`` is for how long it was on watch undragged.

    ``metres`` and ``minutes`` are how far and for how long she had dragged at the alarm; infinite
    without one in time.
    """

    verdict: Verdict
    mode: str | None
    watched_s: float
    metres: float = math.inf
    minutes: float = math.inf


def outcome(night: NightRecord, set_s: float, alarm: tuple[float, float] | None) -> Outcome:
    """Judge the first alarm of a night, (seconds, metres dragged), or that there was none."""
    begins_s = night.drag_begins_s
    ends_s = night.lasts_s if begins_s is None else begins_s
    if begins_s is None:
        verdict = Verdict.QUIET if alarm is None else Verdict.FALSE
        return Outcome(verdict=verdict, mode=None, watched_s=ends_s - set_s)
    in_time = alarm is not None and alarm[1] <= TOO_LATE_M
    if alarm is not None and alarm[0] < begins_s:
        verdict = Verdict.EARLY
    elif night.farthest_m < SHORT_M:
        verdict = Verdict.SHORT if alarm is None else Verdict.SHORT_FOUND
    else:
        verdict = Verdict.FOUND if in_time else Verdict.MISSED
    found = alarm is not None and verdict is Verdict.FOUND
    return Outcome(
        verdict=verdict,
        mode=night.mode,
        watched_s=ends_s - set_s,
        metres=alarm[1] if alarm is not None and found else math.inf,
        minutes=(alarm[0] - begins_s) / 60.0 if alarm is not None and found else math.inf,
    )


def read_set(
    options: argparse.Namespace, name: str, *, whole: bool, real: bool = False
) -> tuple[NightRecord, ...]:
    """Read the nights of a set that have been run: those chosen, or all there are.

    Raises UserInputError if it has not some of each kind, dragging and holding.
    """
    nights = chosen(name) if whole else chosen(name, hold=options.hold, drag=options.drag)
    path_of = functools.partial(
        night_path, options.cache, options.version, hours=options.hours, real=real
    )
    paths = [path_of(seed, drags=drags) for seed, drags in nights]
    found = tuple(load(path) for path in paths if path.exists())
    if len({night.drags for night in found}) < 2:
        others = ", ".join(versions(options.cache)) or "none"
        which = f"--set {name}{' --real' if real else ''}"
        raise UserInputError(
            f"The nights of {which} have not been run with this version of the program "
            f"({options.version}); versions there are in {options.cache}: {others}.",
            remedy=f"Run it: run.py {which}; or give another --version.",
        )
    return found


def of_verdict(outcomes: Iterable[Outcome], *verdicts: Verdict) -> Sequence[Outcome]:
    """Those of these kinds."""
    return [each for each in outcomes if each.verdict in verdicts]
