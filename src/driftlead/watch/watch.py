"""The watch: commands and fixes in, state changes and conditions out."""

import math
from collections.abc import Iterable, Sequence
from typing import Final

from attrs import evolve

from driftlead.alerts.alert import Alert, Priority
from driftlead.alerts.condition import Condition
from driftlead.errors import RefusedError
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.nmea.fix import Fix
from driftlead.track.filter import TrackFilter
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.anchored import Anchored
from driftlead.watch.blindness import INTERVALS, Blindness
from driftlead.watch.circle_detector import CircleDetector
from driftlead.watch.detector import AnchorInPlane, Detector
from driftlead.watch.drop_point import drop_point
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement, Verdict
from driftlead.watch.late_set import GOOD_ENOUGH, LateSet
from driftlead.watch.settings import WatchSettings
from driftlead.watch.state_change import StateChange
from driftlead.watch.state_table import WatchEvent, WatchState, next_state

FIX_FRESH_S: Final = 10.0
"""A let go needs a fix no older than this to mark the drop point by (or some of its own intervals,
where the receiver is slower)."""
FELL_BACK_M: Final = 6.0
GROWTH_M: Final = 2.0
"""Falling back has stopped when the distance has not grown by this in ``FETCHED_UP_S``."""
FETCHED_UP_S: Final = 60.0
SETTLED_S: Final = 600.0
DRAG_GROWTH_M: Final = 3.0
HELD_AGAIN_S: Final = 900.0
"""A dragging anchor holds again when the boat has not gone ``DRAG_GROWTH_M`` farther in this."""
GIVEN_SIGMA_M: Final = 5.0
"""A position the skipper gives is from a plotter or a chart: good to about a boat's length."""
SURER: Final = 0.8
AT_ODDS_SIGMAS: Final = 3.0
"""An inferred anchor that is found farther than this from its surest place so far has moved."""
NEAR_M: Final = 1000.0
"""No yacht's anchor lies farther off than this."""
STOWED_AFTER_S: Final = 900.0
UNDER_WAY_MPS: Final = 1.0
UNDER_WAY_S: Final = 60.0
FAR_FROM_ORIGIN_M: Final = 5000.0

Outcome = StateChange | Condition


class Watch:
    """One watch. Deterministic: the same inputs give the same outcomes."""

    def __init__(self, settings: WatchSettings, *, mono_s: float) -> None:
        self.settings = settings
        self._plane: LocalPlane | None = None
        self._filter = TrackFilter(settings.detector.fix_sigma_m)
        self._detector: Detector = CircleDetector(settings.detector)
        self._late: LateSet | None = None
        self._surest: AnchorInPlane | None = None
        self._farthest_m = 0.0
        self._farthest_bearing_deg = 0.0
        self._farthest_time_s: float | None = None
        self._entered_time_s: float | None = None
        self._let_go_mono_s: float | None = None
        self._under_way_since_s: float | None = None
        self._resume_inferring = False
        self.instruments = Instruments()
        self.blindness = Blindness(settings.limits, mono_s=mono_s)
        self.state = WatchState.STOWED
        self.anchored: Anchored | None = None
        self.point: TrackPoint | None = None
        self.judgement: Judgement | None = None

    # -- what is known -------------------------------------------------------------------------

    @property
    def anchor(self) -> AnchorEstimate | None:
        """Where the anchor is now: carried along while she drags."""
        if self.anchored is None or self._plane is None:
            return None
        if self.state is WatchState.DRAGGING:
            return self._dragged().estimate(self._plane)
        return self.anchored.estimate(self._plane)

    @property
    def moved_m(self) -> float:
        """How far the anchor has moved at the least in the present drag, metres."""
        if self.state is not WatchState.DRAGGING or self.anchored is None:
            return 0.0
        circle, _whole = self.anchored.circle(self.settings)
        if circle is None:
            return 0.0
        return max(0.0, self._farthest_m - circle.reach_m - circle.antenna_aft_m)

    @property
    def position(self) -> Position | None:
        """The filtered position of the antenna."""
        if self._plane is None or self.point is None:
            return None
        return self._plane.to_position(self.point.east_m, self.point.north_m)

    def due_s(self) -> float | None:
        """When ``advance`` may next have something to decide (monotonic seconds)."""
        blind_s = self.blindness.due_s()
        rode_s = self._rode_due_s()
        if blind_s is None or rode_s is None:
            return rode_s if blind_s is None else blind_s
        return min(blind_s, rode_s)

    # -- commands ------------------------------------------------------------------------------

    def let_go(
        self, mono_s: float, *, rode_m: float | None, depth_m: float | None, drop: Position | None
    ) -> Sequence[Outcome]:
        """The anchor touches bottom under the bow now, or lies at ``drop``."""
        state = next_state(self.state, WatchEvent.LET_GO)
        depth_m = self._depth(mono_s, depth_m)
        self._check_reaches(rode_m, depth_m)
        if drop is not None:
            self._check_near(drop)
            place, method = AnchorInPlane(0.0, 0.0, GIVEN_SIGMA_M), AnchorMethod.GIVEN
            self._move_origin(drop)
        else:
            point = self._fresh_point(mono_s)
            place, method = drop_point(
                east_m=point.east_m,
                north_m=point.north_m,
                sigma_m=point.sigma_m,
                antenna_aft_m=self.settings.boat.antenna_aft_m,
                heading=self.instruments.heading(mono_s),
            )
            assert self._plane is not None  # noqa: S101  # there is a point, so there is a plane
            drop = self._plane.to_position(place.east_m, place.north_m)
            self._move_origin(drop)
            place = AnchorInPlane(0.0, 0.0, place.sigma_m)
        self.anchored = Anchored(
            drop=drop,
            place=place,
            method=method,
            rode_m=rode_m,
            depth_m=depth_m,
        )
        return self._begin(mono_s, WatchEvent.LET_GO, state, reason=method.value)

    def set_late(
        self, mono_s: float, *, rode_m: float | None, depth_m: float | None
    ) -> Sequence[Outcome]:
        """The anchor has been down for a while; infer where it is."""
        state = next_state(self.state, WatchEvent.SET_LATE)
        rode_known_m = rode_m if rode_m is not None else self.settings.tackle.rode_aboard_m
        if rode_known_m is None:
            raise RefusedError(
                "To work out where the anchor is, the length of rode out must be known.",
                remedy="Say how much is out, for example: driftlead let-go --late --rode 30m.",
            )
        depth_m = self._depth(mono_s, depth_m)
        self._check_reaches(rode_known_m, depth_m)
        point = self._fresh_point(mono_s)
        assert self._plane is not None  # noqa: S101  # there is a point, so there is a plane
        here = self._plane.to_position(point.east_m, point.north_m)
        self._move_origin(here)
        self.anchored = Anchored(
            drop=here,
            place=AnchorInPlane(0.0, 0.0, rode_known_m),
            method=AnchorMethod.INFERRED,
            rode_m=rode_m,
            depth_m=depth_m,
        )
        self._infer_anew(point.time_s, 0.0, 0.0)
        estimate = self._weigh_late(mono_s, point.time_s, 0.0, 0.0, point.sigma_m)
        if estimate is not None:
            self.anchored = evolve(self.anchored, place=estimate)
        return [
            *self._begin(mono_s, WatchEvent.SET_LATE, state, reason="anchor_inferred"),
            *self._judge_certainty(),
        ]

    def veer(self, mono_s: float, *, rode_m: float, depth_m: float | None) -> Sequence[Outcome]:
        """This much rode is out in all."""
        state = next_state(self.state, WatchEvent.VEER)
        assert self.anchored is not None  # noqa: S101  # every state that takes a veer has one
        anchored = self._dragged() if self.state is WatchState.DRAGGING else self.anchored
        depth_m = self._depth(mono_s, depth_m)
        depth_m = anchored.depth_m if depth_m is None else depth_m
        self._check_reaches(rode_m, depth_m)
        self.anchored = evolve(anchored, rode_m=rode_m, depth_m=depth_m)
        outcomes: list[Outcome] = []
        if self.state is WatchState.DRAGGING:
            outcomes.append(Condition(name="drag", priority=None))
        outcomes += self._rode_known()
        outcomes += self._enter(WatchEvent.VEER, state, reason="rode_given")
        if self._late is not None and self.point is not None:
            self._infer_anew(self.point.time_s, self.point.east_m, self.point.north_m)
        self._arm()
        return outcomes

    def weigh(self) -> Sequence[Outcome]:
        """The anchor is off the bottom: the watch ends, on purpose."""
        state = next_state(self.state, WatchEvent.WEIGH)
        outcomes: list[Outcome] = [*self.blindness.end(), *self._rode_known()]
        outcomes.append(Condition(name="drag", priority=None))
        outcomes.append(Condition(name="anchor_uncertain", priority=None))
        outcomes += self._enter(WatchEvent.WEIGH, state, reason="commanded")
        self._late = None
        self._resume_inferring = False
        self._under_way_since_s = None
        self.anchored = None
        self.judgement = None
        return outcomes

    # -- what the track shows ------------------------------------------------------------------

    def hear_fix(self, mono_s: float, time_s: float, fix: Fix) -> Sequence[Outcome]:
        """Take one fix; ``time_s`` is the receiver's running time, never going backwards."""
        plane = self._plane
        if plane is None:
            plane = self._plane = LocalPlane(Position(fix.lat_deg, fix.lon_deg))
        east_m, north_m = plane.to_plane(fix.lat_deg, fix.lon_deg)
        point = self._filter.update(
            time_s,
            mono_s,
            east_m,
            north_m,
            quantum_m=fix.quantum_m,
            sog_mps=fix.sog_mps,
            cog_deg=fix.cog_deg,
            hdop=fix.hdop,
        )
        self.point = point
        blind = self.blindness.hear_fix(mono_s, fix, point)
        if not self.state.on_watch:
            if abs(point.east_m) + abs(point.north_m) > FAR_FROM_ORIGIN_M:
                self._move_origin(plane.to_position(point.east_m, point.north_m))
                point = self.point
            return [*blind, *self._look_for_stowed(point, fix.sog_mps)]
        outcomes: list[Outcome] = list(blind)
        if self._resume_inferring:
            self._resume_inferring = False
            self._infer_on(point)
        if self._late is not None and point.fix_state is not FixState.JUMPED:
            outcomes += self._follow_late(mono_s, point)
        judgement = self._detector.judge(point, self.instruments)
        self.judgement = judgement
        if self.state is WatchState.RIDING and judgement.verdict is not Verdict.DRAGGING:
            return outcomes
        return [*outcomes, *self._step(point, judgement)]

    def hear_no_fix(self, mono_s: float) -> Sequence[Outcome]:
        """The receiver says that it has no fix."""
        return self.blindness.hear_no_fix(mono_s)

    def restart_track(self) -> None:
        """Another receiver is followed from now on: its track starts anew."""
        self._filter.restart()

    def advance(self, mono_s: float) -> Sequence[Outcome]:
        """Time has passed to ``mono_s``: limits that ran out."""
        outcomes: list[Outcome] = list(self.blindness.advance(mono_s))
        due_s = self._rode_due_s()
        if due_s is not None and mono_s >= due_s:
            self._let_go_mono_s = None
            outcomes.append(
                Condition(
                    name="rode_unknown",
                    priority=Priority.CAUTION,
                    reason="rode_never_given",
                    text="The anchor is down but how much rode is out was never said, so a drag "
                    "cannot be told from swinging. Say: driftlead veer LENGTH.",
                )
            )
        return outcomes

    # -- taking it up again --------------------------------------------------------------------

    def resume(
        self,
        mono_s: float,
        *,
        state: WatchState,
        anchored: Anchored | None,
        origin: Position | None,
        farthest_m: float,
        farthest_bearing_deg: float,
        inferring: bool,
        alerts: Iterable[Alert] = (),
    ) -> None:
        """Stand where a snapshot says the watch stood; no outcome, nothing is new.

        ``alerts`` are those that were up, so that what they tell of can clear.
        """
        self.state = state
        self.blindness.resume(alerts)
        self.anchored = anchored
        self._farthest_m = farthest_m
        self._farthest_bearing_deg = farthest_bearing_deg
        if origin is not None:
            self._plane = LocalPlane(origin)
        if state.on_watch:
            self.blindness.begin(mono_s)
            if anchored is not None:
                if anchored.rode_m is None:
                    self._let_go_mono_s = mono_s
                self._arm()
        self._resume_inferring = inferring

    @property
    def origin(self) -> Position | None:
        """Origin of the plane the anchor's coordinates are in."""
        return None if self._plane is None else self._plane.origin

    @property
    def farthest(self) -> tuple[float, float]:
        """Farthest distance (m) and bearing (deg) from the anchor since the state was entered."""
        return self._farthest_m, self._farthest_bearing_deg

    @property
    def inferring(self) -> bool:
        """Whether a late set's anchor is still being worked out."""
        return self._late is not None or self._resume_inferring

    # -- inside --------------------------------------------------------------------------------

    def _step(self, point: TrackPoint, judgement: Judgement) -> Sequence[Outcome]:
        if judgement.verdict is Verdict.DRAGGING and self.state is not WatchState.DRAGGING:
            return self._find_drag(judgement)
        if point.fix_state is FixState.JUMPED:
            # Where she is was refused, so where she lies and how far she has gone is not known.
            return ()
        time_s = point.time_s
        if self._entered_time_s is None:
            self._entered_time_s = time_s
        still_s = self._still_s(time_s, judgement)
        if self.state is WatchState.DRAGGING:
            if still_s >= HELD_AGAIN_S:
                return self._hold_again()
        elif self.state is WatchState.LET_GO:
            if judgement.distance_m > self.settings.boat.antenna_aft_m + FELL_BACK_M:
                return self._enter(WatchEvent.FELL_BACK, WatchState.LAYING_BACK, "track")
        elif self.state is WatchState.LAYING_BACK:
            if still_s >= FETCHED_UP_S:
                return self._enter(WatchEvent.FETCHED_UP, WatchState.BROUGHT_UP, "track")
        elif self.state is WatchState.BROUGHT_UP and time_s - self._entered_time_s >= SETTLED_S:
            return self._enter(WatchEvent.SETTLED, WatchState.RIDING, "track")
        return ()

    def _still_s(self, time_s: float, judgement: Judgement) -> float:
        """For how long she has not gone farther from the anchor; notes how far she has been."""
        growth_m = DRAG_GROWTH_M if self.state is WatchState.DRAGGING else GROWTH_M
        if self._farthest_time_s is None or judgement.distance_m > self._farthest_m + growth_m:
            self._farthest_time_s = time_s
            if judgement.distance_m > self._farthest_m:
                self._farthest_m = judgement.distance_m
                self._farthest_bearing_deg = judgement.bearing_deg
        return time_s - self._farthest_time_s

    def _find_drag(self, judgement: Judgement) -> Sequence[Outcome]:
        state = next_state(self.state, WatchEvent.DRAG_FOUND)
        self._late = None
        self.state = state
        self._farthest_m = judgement.distance_m
        self._farthest_bearing_deg = judgement.bearing_deg
        self._farthest_time_s = None
        self._entered_time_s = None
        anchor = self.anchor
        condition = Condition(
            name="drag",
            priority=Priority.ALARM,
            reason=judgement.reason.value,
            text="The anchor is dragging.",
            moved_m=judgement.moved_m,
            bearing_deg=judgement.bearing_deg,
            rate_mps=judgement.rate_mps,
            confidence=judgement.confidence,
            anchor=anchor,
        )
        change = StateChange(
            event=WatchEvent.DRAG_FOUND,
            state=state,
            reason=judgement.reason.value,
            moved_m=judgement.moved_m,
            bearing_deg=judgement.bearing_deg,
            anchor=anchor,
        )
        return [change, condition]

    def _hold_again(self) -> Sequence[Outcome]:
        moved_m, bearing_deg = self.moved_m, self._farthest_bearing_deg
        self.anchored = self._dragged()
        changes = self._enter(
            WatchEvent.HELD_AGAIN,
            next_state(self.state, WatchEvent.HELD_AGAIN),
            "track",
            moved_m=moved_m,
            bearing_deg=bearing_deg,
        )
        self._arm()
        return [*changes, Condition(name="drag", priority=None)]

    def _dragged(self) -> Anchored:
        assert self.anchored is not None  # noqa: S101  # dragging implies an anchor
        return self.anchored.moved(self._farthest_bearing_deg, self.moved_m)

    def _begin(
        self, mono_s: float, event: WatchEvent, state: WatchState, reason: str
    ) -> list[Outcome]:
        self.blindness.begin(mono_s)
        self._let_go_mono_s = (
            mono_s if self.anchored is not None and self.anchored.rode_m is None else None
        )
        outcomes: list[Outcome] = list(self._enter(event, state, reason))
        self._arm()
        if self._let_go_mono_s is None:
            outcomes += self._rode_known()
        return outcomes

    def _enter(
        self,
        event: WatchEvent,
        state: WatchState,
        reason: str,
        *,
        moved_m: float | None = None,
        bearing_deg: float | None = None,
    ) -> Sequence[StateChange]:
        self.state = state
        self._entered_time_s = None
        self._farthest_m = 0.0
        self._farthest_time_s = None
        return [
            StateChange(
                event=event,
                state=state,
                reason=reason,
                moved_m=moved_m,
                bearing_deg=bearing_deg,
                anchor=self.anchor,
            )
        ]

    def _arm(self) -> None:
        assert self.anchored is not None  # noqa: S101  # only armed with an anchor down
        circle, whole_rode = self.anchored.circle(self.settings)
        self._detector.arm(self.anchored.place, circle, whole_rode=whole_rode)

    def _fresh_point(self, mono_s: float) -> TrackPoint:
        point = self.point
        if point is None or self._plane is None:
            raise RefusedError(
                "There is no fix yet to mark the anchor by.",
                remedy="Wait for the receiver, or give the place: --drop LAT,LON.",
            )
        age_s = mono_s - point.mono_s
        if age_s > max(FIX_FRESH_S, INTERVALS * self.blindness.interval_s):
            raise RefusedError(
                f"The last fix is {age_s:.0f} s old; the boat may have moved since.",
                remedy="Wait for the receiver, or give the place: --drop LAT,LON.",
            )
        return point

    def _depth(self, mono_s: float, depth_m: float | None) -> float | None:
        return depth_m if depth_m is not None else self.instruments.depth_m(mono_s)

    def _check_reaches(self, rode_m: float | None, depth_m: float | None) -> None:
        """Refuse a rode that does not reach the bottom: one of the figures is a slip."""
        for name, length_m in (("rode", rode_m), ("depth", depth_m)):
            if length_m is not None and not 0.0 <= length_m < math.inf:
                raise RefusedError(
                    f"{name} = {length_m} m is not a length.", remedy="Give metres above 0."
                )
        if rode_m is None or depth_m is None:
            return
        drop_m = depth_m + self.settings.boat.bow_height_m
        if rode_m <= drop_m:
            raise RefusedError(
                f"{rode_m:.1f} m of rode does not reach the bottom: the bow roller is {drop_m:.1f} "
                f"m above it (depth {depth_m:.1f} m).",
                remedy="Check the length, or give the depth: --depth 6m.",
            )

    def _check_near(self, drop: Position) -> None:
        """Refuse a drop point that cannot be ours: a slip in the figures."""
        if self._plane is None or self.point is None:
            return
        east_m, north_m = self._plane.to_plane(drop.lat_deg, drop.lon_deg)
        away_m = math.hypot(east_m - self.point.east_m, north_m - self.point.north_m)
        if away_m > NEAR_M:
            raise RefusedError(
                f"The drop point given is {away_m / 1000.0:.1f} km from the boat.",
                remedy="Check latitude and longitude, and their signs (south and west negative).",
            )

    def _move_origin(self, origin: Position) -> None:
        if self._plane is not None and self.point is not None:
            east_m, north_m = self._plane.to_plane(origin.lat_deg, origin.lon_deg)
            self._filter.shift_plane(east_m, north_m)
            self.point = evolve(
                self.point,
                east_m=self.point.east_m - east_m,
                north_m=self.point.north_m - north_m,
            )
        self._plane = LocalPlane(origin)

    def _rode_due_s(self) -> float | None:
        if self._let_go_mono_s is None:
            return None
        return self._let_go_mono_s + self.settings.limits.rode_unknown_s

    def _rode_known(self) -> list[Outcome]:
        self._let_go_mono_s = None
        return [Condition(name="rode_unknown", priority=None)]

    def _infer_anew(
        self, time_s: float, east_m: float, north_m: float, *, known: AnchorInPlane | None = None
    ) -> None:
        assert self.anchored is not None  # noqa: S101  # only asked with an anchor down
        circle, _whole = self.anchored.circle(self.settings)
        if circle is not None:
            self._surest = None
            self._late = LateSet(
                east_m=east_m,
                north_m=north_m,
                reach_m=circle.radius_m,
                time_s=time_s,
                known=known,
            )

    def _infer_on(self, point: TrackPoint) -> None:
        """Go on working out a late set's anchor after a restart, from what was known of it.

        Not if she has left its circle meanwhile: looked for around where she lies now, the anchor
        would be found there, and the drag never.
        """
        assert self.anchored is not None  # noqa: S101  # only asked with an anchor down
        if self._detector.judge(point, self.instruments).verdict is Verdict.HOLDING:
            self._infer_anew(point.time_s, point.east_m, point.north_m, known=self.anchored.place)

    def _follow_late(self, mono_s: float, point: TrackPoint) -> Sequence[Outcome]:
        late = self._late
        if late is None or self.anchored is None:
            return ()
        place = self._weigh_late(mono_s, point.time_s, point.east_m, point.north_m, point.sigma_m)
        if place is None:
            return ()
        surest = self._surest
        if surest is None or place.sigma_m < SURER * surest.sigma_m:
            self._surest = surest = place
        off_m = math.hypot(place.east_m - surest.east_m, place.north_m - surest.north_m)
        if off_m > AT_ODDS_SIGMAS * surest.sigma_m:
            # What was nearly certain is now nearly impossible: not the estimate was wrong, the
            # anchor moves. It stays where it was, so that the drag is seen.
            self._late = None
            place = surest
        elif late.settled(point.time_s, place.sigma_m):
            self._late = None
        self.anchored = evolve(self.anchored, place=place)
        self._detector.refine(place)
        return self._judge_certainty()

    def _weigh_late(
        self, mono_s: float, time_s: float, east_m: float, north_m: float, sigma_m: float
    ) -> AnchorInPlane | None:
        if self._late is None:
            return None
        heading = self.instruments.heading(mono_s)
        wind = self.instruments.wind_from(mono_s)
        toward_deg = heading[0] if heading is not None else wind[0] if wind is not None else None
        return self._late.take(
            time_s=time_s, east_m=east_m, north_m=north_m, sigma_m=sigma_m, toward_deg=toward_deg
        )

    def _judge_certainty(self) -> list[Outcome]:
        anchored = self.anchored
        if anchored is None:
            return []
        circle, _whole = anchored.circle(self.settings)
        limit_m = GOOD_ENOUGH * circle.radius_m if circle is not None else 0.0
        uncertain = anchored.place.sigma_m > limit_m
        return [
            Condition(
                name="anchor_uncertain",
                priority=Priority.CAUTION if uncertain else None,
                reason="set_late",
                text=f"Set late: the anchor's place is known to {anchored.place.sigma_m:.0f} m "
                "only, so a drag is noticed later.",
                anchor=self.anchor,
            )
        ]

    def _look_for_stowed(self, point: TrackPoint, sog_mps: float | None) -> Sequence[Outcome]:
        if self.state is not WatchState.AWEIGH:
            return ()
        time_s = point.time_s
        if self._entered_time_s is None:
            self._entered_time_s = time_s
        if sog_mps is None or sog_mps < UNDER_WAY_MPS:
            self._under_way_since_s = None
        elif self._under_way_since_s is None:
            self._under_way_since_s = time_s
        under_way = (
            self._under_way_since_s is not None and time_s - self._under_way_since_s >= UNDER_WAY_S
        )
        if under_way or time_s - self._entered_time_s >= STOWED_AFTER_S:
            return self._enter(
                WatchEvent.STOWED, WatchState.STOWED, "under_way" if under_way else "time"
            )
        return ()
