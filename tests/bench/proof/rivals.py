"""Plainer ways to notice a drag, held against the same fixes.

Each is a figure that climbs as she drags, and a limit for it that is set on the tuning nights
(``limits.py``); so each of them is as quick as its kind can be at the same false alarms.
"""

import math
from collections.abc import Iterator
from typing import Final, TypeAlias

import numpy as np
from attrs import frozen
from tests.bench.proof.aboard import Aboard
from tests.bench.proof.climb import Climb, Climbing, OnEnd
from tests.bench.proof.oracle import ORACLE_STEP_S, oracle_figures

from driftlead.geodesy.plane import offset
from driftlead.simulate.observe import ObservedNight
from driftlead.simulate.scenario import Scenario
from driftlead.statistics.sequential import next_cusum
from driftlead.tackle.drag_circle import drag_circle
from driftlead.track.filter import TrackFilter
from driftlead.track.point import FixState
from driftlead.watch.settings import DetectorSettings

Place: TypeAlias = tuple[float, float]
"""Metres east and north."""
Places: TypeAlias = tuple[Place, ...]

DWELL_S: Final = 30.0
CUSUM_EVERY_S: Final = 30.0
CUSUM_REFERENCES_M: Final = (-6.0, -3.0, 0.0, 3.0, 6.0, 10.0, 15.0, 20.0)
FINISH_M: Final = 110.0
"""A drag that has come so far is not followed any farther."""
CIRCLE_STEP_M: Final = 0.5
CUSUM_STEP_M: Final = 2.0
ORACLE_STEP: Final = 0.25
BOAT, MARK, MARK_GATED, ORACLE = "boat", "mark", "mark-gated", "oracle"


def cusum_key(reference_m: float) -> str:
    """The name of the cumulative sum with this reference."""
    return f"cusum{reference_m:+.0f}"


@frozen(kw_only=True, eq=False)
class Track:
    """The fixes of a night on the plane about the drop point: raw, and as the filter takes them.

    ``sound`` is False where the filter refused the fix, or the receiver was holding its position:
    for long, or at all if that is its habit.
    """

    rows: tuple[int, ...]
    raw: Places
    filtered: Places
    sound: tuple[bool, ...]


def follow(night: ObservedNight, *, by_habit: bool) -> Track:
    """Run the filter that the watch itself uses over the valid fixes."""
    tracker = TrackFilter(DetectorSettings().fix_sigma_m)
    rows, raw, filtered, sound = [], [], [], []
    for row in np.flatnonzero(night.valid).tolist():
        t_s = float(night.t_s[row])
        place = float(night.east_m[row]), float(night.north_m[row])
        cog_deg = float(night.cog_deg[row])
        point = tracker.update(
            t_s,
            t_s,
            *place,
            quantum_m=night.quantum_m,
            sog_mps=float(night.sog_mps[row]),
            cog_deg=None if math.isnan(cog_deg) else cog_deg,
            hdop=float(night.hdop[row]),
        )
        rows.append(row)
        raw.append(place)
        filtered.append((point.east_m, point.north_m))
        taken = point.fix_state is not FixState.JUMPED
        sound.append(taken and point.unchanged_s <= (0.0 if by_habit else DWELL_S))
    return Track(rows=tuple(rows), raw=tuple(raw), filtered=tuple(filtered), sound=tuple(sound))


def finish_row(night: ObservedNight) -> int:
    """The row after the last one that counts."""
    far = np.flatnonzero(night.dragged_m > FINISH_M)
    return int(far[0]) + 1 if far.size else len(night.t_s)


def rivals(aboard: Aboard, scenario: Scenario) -> dict[str, Climb]:
    """Every rival's climb through this night."""
    night, track = (
        aboard.night,
        follow(aboard.night, by_habit=scenario.receiver.holds_below_mps > 0.0),
    )
    climbs = {
        BOAT: _circle(night, track.raw, track, _about_boat(night, track)),
        MARK: _circle(night, track.raw, track, _about_mark(aboard, track, track.raw)),
        MARK_GATED: _circle(
            night, track.filtered, track, _about_mark(aboard, track, track.filtered)
        ),
        ORACLE: _oracle(night, track, scenario),
    }
    for reference_m in CUSUM_REFERENCES_M:
        climbs[cusum_key(reference_m)] = _cusum(aboard, track, reference_m)
    return climbs


@frozen(kw_only=True)
class _Circle:
    """A circle on the plane that is kept from ``since_s`` on, without any allowance."""

    since_s: float
    east_m: float
    north_m: float
    radius_m: float

    def beyond_m(self, place: Place) -> float:
        """How far a place is outside; negative inside."""
        return math.hypot(place[0] - self.east_m, place[1] - self.north_m) - self.radius_m


def _place_at(night: ObservedNight, track: Track, places: Places, t_s: float) -> Place:
    """The latest place at this moment, or the first one after it."""
    times_s = night.t_s[list(track.rows)]
    return places[max(0, int(np.searchsorted(times_s, t_s, side="right")) - 1)]


def _about_boat(night: ObservedNight, track: Track) -> _Circle:
    """Around the antenna as she lies when the watch is set late; radius: the rode as said."""
    since_s = night.late_s
    assert since_s is not None
    east_m, north_m = _place_at(night, track, track.raw, since_s)
    return _Circle(since_s=since_s, east_m=east_m, north_m=north_m, radius_m=night.rode_said_m)


def _about_mark(aboard: Aboard, track: Track, places: Places) -> _Circle:
    """The drag circle around the mark laid off along her head; the antenna's place is in it."""
    night = aboard.night
    east_m, north_m = _place_at(night, track, places, night.let_go_s)
    row = max(0, int(np.searchsorted(night.t_s, night.let_go_s, side="right")) - 1)
    bow_east_m, bow_north_m = offset(float(night.heading_deg[row]), night.antenna_aft_m)
    circle = drag_circle(
        rode_m=night.rode_said_m,
        depth_m=night.depth_said_m,
        bow_height_m=night.bow_height_m,
        antenna_aft_m=night.antenna_aft_m,
        rode_slack=aboard.tackle.rode_slack,
        sigma_m=0.0,
        sigmas=0.0,
    )
    return _Circle(
        since_s=night.veered_s,
        east_m=east_m + bow_east_m,
        north_m=north_m + bow_north_m,
        radius_m=circle.radius_m,
    )


def _moments(
    night: ObservedNight, track: Track, since_s: float
) -> Iterator[tuple[int, float, float]]:
    """Index into the track, seconds and metres dragged of each fix that counts."""
    last = finish_row(night)
    times_s, dragged_m = night.t_s.tolist(), night.dragged_m.tolist()
    for index, row in enumerate(track.rows):
        if row < last and times_s[row] >= since_s:
            yield index, times_s[row], dragged_m[row]


def _circle(night: ObservedNight, places: Places, track: Track, circle: _Circle) -> Climb:
    """Metres beyond a circle, for ``DWELL_S`` on end."""
    climbing = Climbing(CIRCLE_STEP_M, drag_begins_s=night.drag_begins_s)
    on_end = OnEnd(DWELL_S)
    for index, t_s, dragged_m in _moments(night, track, circle.since_s):
        climbing.hear(on_end.least(circle.beyond_m(places[index]), t_s), t_s, dragged_m)
    return climbing.climb()


def _cusum(aboard: Aboard, track: Track, reference_m: float) -> Climb:
    """Page's cumulative sum of the metres beyond the drag circle, less a reference, every 30 s."""
    night, circle = aboard.night, _about_mark(aboard, track, track.filtered)
    climbing = Climbing(CUSUM_STEP_M, drag_begins_s=night.drag_begins_s)
    cusum, due_s = 0.0, -math.inf
    for index, t_s, dragged_m in _moments(night, track, circle.since_s):
        if t_s < due_s:
            continue
        due_s = t_s + CUSUM_EVERY_S
        excess_m = circle.beyond_m(track.filtered[index])
        cusum = next_cusum(cusum, excess_m, reference=reference_m)
        climbing.hear(cusum, t_s, dragged_m)
    return climbing.climb()


def _oracle(night: ObservedNight, track: Track, scenario: Scenario) -> Climb:
    """The test that knows all but the receiver's noise (see ``oracle.py``)."""
    toward = _drag_direction(night)
    begins = night.drag_begins_s
    moved_e_m = np.zeros_like(night.t_s)
    moved_n_m = np.zeros_like(night.t_s)
    if begins is not None:
        start = int(np.searchsorted(night.t_s, begins, side="right")) - 1
        moved_e_m[start:] = night.anchor_east_m[start:] - night.anchor_east_m[start]
        moved_n_m[start:] = night.anchor_north_m[start:] - night.anchor_north_m[start]
    samples: list[float | None] = []
    moments: list[tuple[float, float]] = []
    for index, t_s, dragged_m in _moments(night, track, night.veered_s):
        step = int((t_s - night.veered_s) / ORACLE_STEP_S)
        # Where the receiver was silent there are steps without a sample.
        empty = step + 1 - len(samples)
        samples += [None] * empty
        moments += [(t_s, dragged_m)] * empty
        row = track.rows[index]
        if not track.sound[index] or _in_trouble(scenario, t_s):
            continue
        off_e_m = track.raw[index][0] - float(night.antenna_east_m[row]) + float(moved_e_m[row])
        off_n_m = track.raw[index][1] - float(night.antenna_north_m[row]) + float(moved_n_m[row])
        samples[-1] = off_e_m * toward[0] + off_n_m * toward[1]
        moments[-1] = t_s, dragged_m
    climbing = Climbing(ORACLE_STEP, drag_begins_s=begins)
    figures = oracle_figures(samples, scenario.receiver, quantum_m=night.quantum_m)
    for figure, (t_s, dragged_m) in zip(figures, moments, strict=True):
        climbing.hear(figure, t_s, dragged_m)
    return climbing.climb()


def _in_trouble(scenario: Scenario, t_s: float) -> bool:
    return any(each.begins_s <= t_s < each.begins_s + each.lasts_s for each in scenario.troubles)


def _drag_direction(night: ObservedNight) -> tuple[float, float]:
    """Which way the anchor is to come home; where it holds, one way is as good as another."""
    if night.drag_begins_s is not None:
        start = int(np.searchsorted(night.t_s, night.drag_begins_s, side="right")) - 1
        last = finish_row(night) - 1
        east_m = float(night.anchor_east_m[last] - night.anchor_east_m[start])
        north_m = float(night.anchor_north_m[last] - night.anchor_north_m[start])
        way_m = math.hypot(east_m, north_m)
        if way_m > 0.0:
            return east_m / way_m, north_m / way_m
    return offset(137.5 * night.seed, 1.0)
