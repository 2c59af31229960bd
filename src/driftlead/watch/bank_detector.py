"""The detector: a bank of hypotheses about the anchor, an absolute limit beside it, a decision.

The bank hears of the track once in ``STEP_S``: the receiver's error and the boat's sheer change
slowly, so that more often would cost time and tell nothing. Where the evidence of a drag rises
fast it hears of it twice as often, for in a breakout each second is half a metre; and half as often
where a drag is out of the question and she lies no farther off than she has lately.
"""

import math
from collections import deque
from typing import Final

import numpy as np

from driftlead.geodesy.plane import distance_and_bearing
from driftlead.tackle.drag_circle import DragCircle
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.bank import ANCHOR_E, ANCHOR_N, NEVER, Bank, BankFigures
from driftlead.watch.decision import Decision
from driftlead.watch.detector import AnchorInPlane, Arming, Memory
from driftlead.watch.evidence import Evidence, Knowledge
from driftlead.watch.firmness import Firmness
from driftlead.watch.floor import Floor
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement, Reason, Verdict
from driftlead.watch.liveliness import Liveliness
from driftlead.watch.settings import DetectorSettings
from driftlead.watch.starts import (
    late_starts,
    log_bearing,
    marked_start,
    poor_mark,
    reach_of,
)

STEP_S: Final = 10.0
QUICK_STEP_S: Final = 5.0
QUIET_STEP_S: Final = 20.0
LONGEST_STEP_S: Final = 30.0
UNSEEN_S: Final = 120.0
LONGEST_GAP_S: Final = 3600.0
"""What may have happened in a longer silence is no better known than after this one."""
THIN_EVERY: Final = 30
MEMORY_EVERY_S: Final = 300.0
LAYING_BACK_S: Final = 300.0
BEGIN_ANEW_S: Final = 900.0
"""A search for the anchor no older than this begins anew where the receiver has jumped."""
SETTLED_S: Final = 1800.0
"""Until then she may still be falling back, and how she moves says nothing of the wind."""
USABLE_HEADING_DEG: Final = 10.0
"""A head no better than this cannot carry the antenna's place to the bow."""
HELD_S: Final = 20.0
"""An identical position for so long: the receiver holds it, and it tells little."""
HELD_EVERY_S: Final = 120.0
HELD_SIGMA_M: Final = 5.0
POOR: Final = 1.6
USUAL_S: Final = 600.0
"""A fix so many times worse than has been usual for so long is taken as a held one is."""
STRONG_WIND_MPS: Final = 6.0
"""From this wind up a boat lies at full reach."""
LIGHT_WIND_S: Final = 1.0
"""Each m/s less of wind leaves so many metres more of the rode unstretched."""
UNKNOWN_WIND_M: Final = 0.5
RATE_SPAN_S: Final = 70.0
FRESH_S: Final = 300.0
"""So long a drag is fresh: what it has come in all tells its rate better than the last minute."""
QUIET: Final = -7.0
"""Log-odds below this are quiet, and a night has hardly any others."""
LATELY_MPS: Final = 0.005
"""The farthest she has been off lately is forgotten by so much: a metre in some minutes."""
SURELY_HOLDING: Final = -3.0
RISING: Final = 1.0
RISEN: Final = -9.0
"""Log-odds above this, and more by ``RISING`` than at the last step: worth quick steps."""
FLOOR_LOG_ODDS: Final = 6.0
"""Beyond the floor nothing is left to weigh, whatever the bank makes of it."""
WORTH_TELLING: Final = -6.0
"""Below these odds nobody asks how far the anchor would have come."""
_AT_FIRST: Final = (Verdict.HOLDING, Reason.AS_THE_RODE_ALLOWS)


class BankDetector:
    """A Detector: see there."""

    def __init__(self, settings: DetectorSettings, figures: BankFigures | None = None) -> None:
        self._settings = settings
        self._figures = BankFigures() if figures is None else figures
        self._decision = Decision(settings)
        self._floor = Floor(settings.sigmas)
        self.arm(Arming(anchor=AnchorInPlane(0.0, 0.0, 1.0), circle=None))

    # -- what it knows -------------------------------------------------------------------------

    @property
    def place(self) -> AnchorInPlane:
        """Where the anchor is now (see Detector)."""
        if self._bank is None or self._judged[0] is not Verdict.DRAGGING:
            return self._place
        if self._unexplained:
            moved_m, moved_deg = self._moved
            return self._place.carried(moved_deg, moved_m)
        moved = self._bank.moved()
        return AnchorInPlane(moved.east_m, moved.north_m, moved.sigma_m)

    # -- commands ------------------------------------------------------------------------------

    def arm(self, arming: Arming) -> None:
        """Watch this anchor from now on (see Detector)."""
        self._arming = arming
        self._searching = arming.late
        self._circle = arming.circle
        self._place = arming.anchor
        self._bank: Bank | None = None
        self._last_s: float | None = None
        self._armed_s = self._held_s = -math.inf
        self._usual_m = 0.0
        self._firmness = Firmness()
        self._liveliness = Liveliness()
        self._steps = 0
        self._farthest_m = 0.0
        self._step_s = STEP_S
        self._due_in_s = STEP_S
        self._judged = _AT_FIRST
        self._moves: deque[tuple[float, float]] = deque()
        self._moved = (0.0, 0.0)
        self._still_s = -math.inf
        self._unexplained = False
        self._radius_m = 0.0
        self._latest: TrackPoint | None = None
        self._remembered_s = -math.inf
        self.memory: Memory | None = arming.memory
        self.evidence: Evidence | None = None
        self._decision.begin()
        if arming.circle is not None:
            self._floor.arm(arming.circle)

    def refit(self, circle: DragCircle | None, *, whole_rode: bool) -> None:
        """Another length of rode (see Detector)."""
        bank, evidence, armed_s = self._bank, self.evidence, self._armed_s
        latest = self._latest
        firmness, liveliness, searching = self._firmness, self._liveliness, self._searching
        late = self._arming.late
        self.arm(
            Arming(
                anchor=self._place,
                circle=circle,
                whole_rode=whole_rode,
                late=late,
                by_fix=self._arming.by_fix,
            )
        )
        if bank is not None and evidence is not None and circle is not None:
            bank.refit(*reach_of(circle))
            self._bank, self.evidence = bank, evidence
            self._last_s, self._armed_s = evidence.time_s, armed_s
            self._firmness, self._liveliness, self._searching = firmness, liveliness, searching
            if latest is not None:
                self._radius_m = self._floor.radius_m(self._place, latest)

    def breathe(self, circle: DragCircle) -> None:
        """The same rode in another depth (see Detector)."""
        drawn = self._circle
        if drawn is None:
            return
        self._circle = circle
        self._floor.draw(circle)
        if self._bank is not None:
            self._bank.stretch(circle.reach_m - drawn.reach_m)

    # -- the track -----------------------------------------------------------------------------

    def judge(self, point: TrackPoint, instruments: Instruments) -> Judgement:
        """Judge one point (see Detector)."""
        circle, self._latest = self._circle, point
        if self._begun_in_a_jump(point):
            self._bank = self._last_s = None
        place = self._place
        distance_m, bearing_deg = distance_and_bearing(
            point.east_m - place.east_m, point.north_m - place.north_m
        )
        if circle is not None and self._is_due(point.time_s, distance_m):
            self._step(point, instruments, circle)
            place = self._place
            distance_m, bearing_deg = distance_and_bearing(
                point.east_m - place.east_m, point.north_m - place.north_m
            )
        evidence = self.evidence
        if circle is None or evidence is None:
            return Judgement(
                Verdict.UNSURE,
                Reason.RODE_UNKNOWN,
                distance_m,
                bearing_deg,
                None,
                0.0,
                bearing_deg,
                None,
                -10.0,
            )
        return Judgement(
            *self._judged,
            distance_m,
            bearing_deg,
            self._radius_m,
            *self._moved,
            evidence.rate_mps,
            max(evidence.log_odds, FLOOR_LOG_ODDS)
            if self._judged[1] is Reason.FAR_OUTSIDE_DRAG_CIRCLE
            else evidence.log_odds,
        )

    def _is_due(self, time_s: float, distance_m: float) -> bool:
        """Whether the bank is to hear of this point."""
        if self._last_s is None:
            return True
        waited_s = time_s - self._last_s + 0.5
        if waited_s >= self._due_in_s:
            return True
        return waited_s >= STEP_S and distance_m > self._farthest_m

    def _begun_in_a_jump(self, point: TrackPoint) -> bool:
        """Whether the fixes among which the anchor was looked for so far have been found out."""
        return (
            self._searching
            and point.fix_state is FixState.REACQUIRED
            and point.time_s - self._armed_s < BEGIN_ANEW_S
        )

    def _step(self, point: TrackPoint, instruments: Instruments, circle: DragCircle) -> None:
        heading = instruments.heading(point.mono_s)
        if heading is not None and heading[1] > USABLE_HEADING_DEG:
            heading = None
        heading_deg = None if heading is None else heading[0]
        east_m, north_m = point.east_m, point.north_m
        if heading_deg is not None:
            head_rad = math.radians(heading_deg)
            east_m += circle.antenna_aft_m * math.sin(head_rad)
            north_m += circle.antenna_aft_m * math.cos(head_rad)
        bank = self._bank
        if bank is None:
            if self._armed_s == -math.inf and self._arming.memory is None:
                self._armed_s = point.time_s
            bank = self._bank = self._start(east_m, north_m, instruments, point, circle)
        elif self._last_s is not None:
            gap_s = point.time_s - self._last_s
            self._step_s = min(QUIET_STEP_S, gap_s)
            self._let_pass(bank, gap_s, (east_m, north_m))
        self._last_s = point.time_s
        if point.fix_state is not FixState.JUMPED:
            self._take(bank, point, instruments, (east_m, north_m), heading_deg)
        self._steps += 1
        if self._steps % THIN_EVERY == 0:
            bank.thin()
        self._weigh_up(bank, point, heading_deg is not None)

    def _start(
        self,
        east_m: float,
        north_m: float,
        instruments: Instruments,
        point: TrackPoint,
        circle: DragCircle,
    ) -> Bank:
        arming = self._arming
        if arming.memory is not None:
            try:
                reach_m, reach_sigma_m = reach_of(circle)
                return Bank.of_rows(
                    self._figures,
                    arming.memory.rows,
                    reach_m=reach_m,
                    reach_sigma_m=reach_sigma_m,
                )
            except ValueError:
                pass  # of another version, or damaged: it begins with what the watch knows
        poor = not arming.late and poor_mark(
            arming.anchor, circle, east_m=point.east_m, north_m=point.north_m
        )
        self._searching = arming.late or poor
        if not self._searching:
            figures = self._figures
            starts = marked_start(
                arming.anchor,
                circle,
                whole_rode=arming.whole_rode,
                receiver_m=math.hypot(figures.slow_m, figures.quick_m) if arming.by_fix else 0.0,
            )
            return Bank(self._figures, starts, by_fix=arming.by_fix)
        heading = instruments.heading(point.mono_s)
        wind = instruments.wind_from(point.mono_s)
        toward_deg = heading[0] if heading is not None else wind[0] if wind is not None else None
        starts = late_starts(
            east_m=east_m,
            north_m=north_m,
            circle=circle,
            toward_deg=toward_deg,
            at_bow=heading is not None and heading[1] <= USABLE_HEADING_DEG,
            mark=arming.anchor if poor else None,
        )
        return Bank(self._figures, starts, by_fix=True)

    @staticmethod
    def _let_pass(bank: Bank, gap_s: float, toward: tuple[float, float]) -> None:
        """Let time pass, a long gap in shorter steps: a moving anchor turns with the boat."""
        gap_s = min(gap_s, LONGEST_GAP_S)
        steps = max(1, math.ceil(gap_s / LONGEST_STEP_S))
        for _ in range(steps):
            bank.predict(gap_s / steps, toward, unseen=gap_s > UNSEEN_S)

    def _take(
        self,
        bank: Bank,
        point: TrackPoint,
        instruments: Instruments,
        place: tuple[float, float],
        heading_deg: float | None,
    ) -> None:
        assert self._circle is not None  # noqa: S101  # the caller has asked
        figures, aft_m = self._figures, self._circle.antenna_aft_m
        wind_mps, step_s = instruments.wind_mps(point.mono_s), self._step_s
        firmness = self._firmness.take(step_s, wind_mps=wind_mps, heading_deg=heading_deg)
        part = step_s / figures.alike_s
        lively = self._liveliness.take(step_s, point.east_mps, point.north_mps)
        if wind_mps is None and heading_deg is None and self._searching:
            speed_mps = math.hypot(point.east_mps, point.north_mps)
            part = min(1.0, max(part, step_s * speed_mps / figures.alike_m))
            if not self._arming.late and point.time_s - self._armed_s < SETTLED_S:
                lively = 0.0
        else:
            lively = 0.0  # wind and head tell better, and from a good mark nothing need be guessed
        if self._arming.whole_rode or (
            not self._arming.late and point.time_s - self._armed_s < LAYING_BACK_S
        ):
            part = 0.0  # she does not ride at full reach yet, or how far that is is not known
        sigma_m = figures.step_m * point.sigma_m / self._settings.fix_sigma_m
        if point.unchanged_s > HELD_S or self._is_poor(point):
            if point.time_s - self._held_s < HELD_EVERY_S:
                return
            self._held_s = point.time_s
            sigma_m = max(sigma_m, HELD_SIGMA_M)
            part = min(1.0, HELD_EVERY_S / step_s * part)
        taut_m = figures.taut_m
        limit_m = 0.0
        if heading_deg is None:
            limit_m = aft_m
            taut_m += 0.1 * aft_m
            sigma_m = math.hypot(sigma_m, 0.05 * aft_m)
        if wind_mps is None:
            taut_m += UNKNOWN_WIND_M * (1.0 - lively)
            firmness = max(firmness, lively)
        elif wind_mps < STRONG_WIND_MPS:
            taut_m += LIGHT_WIND_S * (STRONG_WIND_MPS - wind_mps)
        part *= firmness
        bank.take(*place, sigma_m=sigma_m, taut_m=taut_m, part=part, lively=lively, limit_m=limit_m)
        if self._searching and heading_deg is not None:
            east_m = bank.mean[:, NEVER, ANCHOR_E] - place[0]
            north_m = bank.mean[:, NEVER, ANCHOR_N] - place[1]
            bank.lean(part * log_bearing(np.arctan2(east_m, north_m), heading_deg))

    def _is_poor(self, point: TrackPoint) -> bool:
        """Whether the receiver tells that it sees much less of the sky than it is used to."""
        part = self._step_s / USUAL_S if self._usual_m else 1.0
        self._usual_m += part * (point.sigma_m - self._usual_m)
        return point.sigma_m > POOR * self._usual_m

    def _weigh_up(self, bank: Bank, point: TrackPoint, heading: bool) -> None:
        log_odds = bank.log_odds_moved(worth=WORTH_TELLING)
        before = self.evidence
        rising = before is not None and log_odds - before.log_odds > RISING
        self._due_in_s = STEP_S
        if rising and log_odds > RISEN:
            self._due_in_s = QUICK_STEP_S
        elif log_odds < QUIET and not self._searching:
            self._due_in_s = QUIET_STEP_S
        arming = self._arming
        if self._searching:
            self._follow(bank, log_odds)
            knowledge = Knowledge.LATE_WITH_HEADING if heading else Knowledge.LATE
        else:
            knowledge = Knowledge.MARKED_WITH_HEADING if heading else Knowledge.MARKED
        place = self._place
        distance_m = math.hypot(point.east_m - place.east_m, point.north_m - place.north_m)
        self._farthest_m = max(distance_m, self._farthest_m - LATELY_MPS * self._step_s)
        self._radius_m = self._floor.radius_m(place, point)
        beyond_m = distance_m - self._radius_m
        moved_m, moved_sigma_m, bearing_deg = 0.0, 0.0, 0.0
        if log_odds > WORTH_TELLING:
            moved = bank.moved()
            moved_m, moved_sigma_m = max(0.0, moved.moved_m), moved.moved_sigma_m
            _, bearing_deg = distance_and_bearing(
                moved.east_m - place.east_m, moved.north_m - place.north_m
            )
        assert self._circle is not None  # noqa: S101  # without one there are no steps
        unexplained_m = distance_m - self._circle.reach_m - self._circle.antenna_aft_m
        self._unexplained = (
            beyond_m > 0.0 and unexplained_m > moved_m and point.fix_state is not FixState.JUMPED
        )
        if self._unexplained:
            # What no rode explains the anchor has come, whatever the odds: a breakout, or a drag
            # that went on unseen.
            moved_m, moved_sigma_m = unexplained_m, max(moved_sigma_m, point.sigma_m)
            _, bearing_deg = distance_and_bearing(
                point.east_m - place.east_m, point.north_m - place.north_m
            )
        self.evidence = evidence = Evidence(
            point.time_s,
            knowledge,
            log_odds,
            moved_m,
            moved_sigma_m,
            bearing_deg,
            self._rate_mps(point.time_s, moved_m),
            distance_m,
            beyond_m,
            self._floor.believe(point, beyond_m),
        )
        verdict, reason = self._decision.take(evidence)
        if arming.whole_rode and verdict is Verdict.DRAGGING:
            reason = Reason.OUTSIDE_WHOLE_RODE
        self._judged = verdict, reason
        self._moved = moved_m, bearing_deg
        if point.time_s - self._remembered_s >= MEMORY_EVERY_S and log_odds < SURELY_HOLDING:
            self._remembered_s = point.time_s
            self.memory = Memory(bank.rows())

    def _follow(self, bank: Bank, log_odds: float) -> None:
        """Take the place that was found, unless she may be dragging: then it stays where it was."""
        if log_odds < SURELY_HOLDING:
            lie = bank.never_moved()
            self._place = AnchorInPlane(lie.east_m, lie.north_m, lie.sigma_m)

    def _rate_mps(self, time_s: float, moved_m: float) -> float:
        """How fast the expected way grows, over the last minute or so; 0 where it shrinks.

        As she begins to be believed dragging it grows with the belief as well: then she goes no
        faster than makes the way she has come since it was last out of the question.
        """
        moves = self._moves
        if moved_m == 0.0:
            # Not that she had come nowhere then: nobody had asked. It tells nothing of the rate.
            self._still_s = time_s
            moves.clear()
            return 0.0
        moves.append((time_s, moved_m))
        while time_s - moves[0][0] > RATE_SPAN_S:
            moves.popleft()
        span_s = time_s - moves[0][0]
        going_s = time_s - self._still_s
        fresh_mps = moved_m / going_s if 0.0 < going_s < FRESH_S else math.inf
        if span_s <= 0.0:
            return fresh_mps if fresh_mps < math.inf else 0.0
        return min(max(0.0, (moved_m - moves[0][1]) / span_s), fresh_mps)
