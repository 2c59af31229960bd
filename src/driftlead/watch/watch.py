"""The watch: commands and fixes in, state changes and conditions out."""

import math
from collections.abc import Iterable, Sequence
from typing import Final

from attrs import evolve

from driftlead.alerts.alert import Alert, Priority
from driftlead.alerts.condition import Condition
from driftlead.errors import RefusedError
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.plane import LocalPlane, offset
from driftlead.geodesy.position import Position
from driftlead.nmea.fix import Fix
from driftlead.planning.danger_ahead import DangerAhead
from driftlead.tackle.drag_circle import DragCircle
from driftlead.track.filter import TrackFilter
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.anchored import Anchored
from driftlead.watch.bank_detector import BankDetector
from driftlead.watch.blindness import INTERVALS, Blindness
from driftlead.watch.breathing import Breathing
from driftlead.watch.brought_up import SetResult, stopped
from driftlead.watch.cautions import Cautions
from driftlead.watch.detector import AnchorInPlane, Arming, Detector, Memory
from driftlead.watch.drop_point import drop_point
from driftlead.watch.evidence import Evidence
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement, Verdict
from driftlead.watch.outlook import Outlook
from driftlead.watch.settings import WatchSettings
from driftlead.watch.slip_position import SlipPosition
from driftlead.watch.state_change import StateChange
from driftlead.watch.state_table import WatchEvent, WatchState, next_state
from driftlead.watch.to_leeward import ToLeeward

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
GOOD_ENOUGH: Final = 0.25
"""An inferred anchor is well known when its error is below this part of the drag circle."""
HELD_S: Final = 20.0
HELD_SIGMA_M: Final = 6.0
"""A receiver that holds its position while slow may be so far off when it marks the anchor."""
JUMPED_SIGMA_M: Final = 30.0
MARK_WAIT_S: Final = 120.0
"""A mark made while the fix had jumped is made again if the fix comes right within this."""
HELD_MARK_WAIT_S: Final = 900.0
"""So long the receiver may have held the position that a mark was made by, and let it go again."""
FALLING_BACK_MPS: Final = 0.4
NEAR_M: Final = 1000.0
"""No yacht's anchor lies farther off than this."""
STOWED_AFTER_S: Final = 900.0
UNDER_WAY_MPS: Final = 1.0
UNDER_WAY_S: Final = 60.0
FAR_FROM_ORIGIN_M: Final = 5000.0
ROUNDING_M: Final = 0.05
"""A rode this much longer than all there is, is all there is in another unit."""

# To look a member up in its enumeration costs as much as five names, and every fix asks for these.
_RIDING: Final = WatchState.RIDING
_DRAGS: Final = Verdict.DRAGGING

_DRAGGING: Final = "The anchor is dragging."
_CAME_HOME: Final = "The anchor has not bitten: it comes home as she lies back to it."

Outcome = StateChange | Condition


class Watch:
    """One watch. Deterministic: the same inputs give the same outcomes."""

    def __init__(self, settings: WatchSettings, *, mono_s: float) -> None:
        self.settings = settings
        self._plane: LocalPlane | None = None
        self._filter = TrackFilter(settings.detector.fix_sigma_m)
        self._detector: Detector = BankDetector(settings.detector)
        self._judged: Evidence | None = None
        self._moved_m = 0.0
        self._moved_deg: float | None = None
        self._resumed_at: AnchorInPlane | None = None
        self._drag_reason = ""
        self._leeward = ToLeeward(settings.around, hull_m=settings.boat.length_m)
        self._breathing = Breathing(settings)
        self._memory: Memory | None = None
        self._memory_depth_m: float | None = None
        self._cautions = Cautions()
        self._outlook = Outlook(settings.outlook, bow_height_m=settings.boat.bow_height_m)
        self._mark_since_s: float | None = None
        self._mark_held = False
        self._farthest_m = 0.0
        self._farthest_bearing_deg = 0.0
        self._farthest_time_s: float | None = None
        self._entered_time_s: float | None = None
        self._let_go_mono_s: float | None = None
        self._under_way_since_s: float | None = None
        self.instruments = Instruments()
        self.blindness = Blindness(settings.limits, mono_s=mono_s)
        self.utc_s: float | None = None
        """The receiver's UTC in Unix seconds; whoever feeds the watch sets it before each input."""
        self.state = WatchState.STOWED
        self.anchored: Anchored | None = None
        self.point: TrackPoint | None = None
        self.judgement: Judgement | None = None
        self.set_result: SetResult | None = None

    # -- what is known -------------------------------------------------------------------------

    @property
    def anchor(self) -> AnchorEstimate | None:
        """Where the anchor is now: carried along while she drags."""
        if self.anchored is None or self._plane is None:
            return None
        anchored = self._dragged() if self.state is WatchState.DRAGGING else self.anchored
        return anchored.estimate(self._plane)

    @property
    def moved_m(self) -> float:
        """How far the anchor has moved in the present drag, metres."""
        return self._moved_m if self.state is WatchState.DRAGGING else 0.0

    @property
    def dragged_to(self) -> AnchorInPlane | None:
        """Where the present drag has put the anchor."""
        return self._dragged().place if self.state is WatchState.DRAGGING else None

    @property
    def moved_deg(self) -> float | None:
        """Which way (true) the anchor moves in the present drag."""
        return self._moved_deg if self.state is WatchState.DRAGGING else None

    @property
    def danger(self) -> DangerAhead | None:
        """What the present drag leads to, as of the detector's latest step."""
        return self._leeward.danger if self.state is WatchState.DRAGGING else None

    @property
    def anchor_depth_m(self) -> float | None:
        """The depth where the anchor lies: that of let go, with the tide since if it is known."""
        return None if self.anchored is None else self._breathing.depth_m(self.anchored, self.utc_s)

    @property
    def rise_m(self) -> float | None:
        """How much the tide rises yet until high water, metres."""
        return self._breathing.rise_m(self.utc_s)

    @property
    def circle(self) -> DragCircle | None:
        """The drag circle of now, without the fixes' error."""
        if self.anchored is None:
            return None
        return self._breathing.circle(self.anchored, self.utc_s)[0]

    def bow(self, mono_s: float) -> Position | None:
        """Where the bow roller is, if there is a heading to tell it by."""
        point, aft_m = self.point, self.settings.boat.antenna_aft_m
        heading = self.instruments.heading(mono_s)
        if self._plane is None or point is None or (heading is None and aft_m > 0.0):
            return None
        east_m, north_m = offset(0.0 if heading is None else heading[0], aft_m)
        return self._plane.to_position(point.east_m + east_m, point.north_m + north_m)

    @property
    def drawn_depth_m(self) -> float | None:
        """The depth for which the circle was drawn when ``memory`` was learned, or is drawn now."""
        if self.memory is None or self._memory is None:
            return self._breathing.drawn_depth_m
        return self._memory_depth_m

    @property
    def evidence(self) -> Evidence | None:
        """What the track showed at the detector's latest step."""
        return self._detector.evidence

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
        jumped = held = False
        if drop is not None:
            self._check_near(drop)
            place, method = AnchorInPlane(0.0, 0.0, GIVEN_SIGMA_M), AnchorMethod.GIVEN
            self._move_origin(drop)
        else:
            point = self._fresh_point(mono_s)
            jumped = point.fix_state is FixState.JUMPED
            held = point.unchanged_s > HELD_S
            place, method = self._under_bow(mono_s, point, JUMPED_SIGMA_M if jumped else 0.0)
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
            depth_utc_s=self._depth_utc_s(depth_m),
        )
        begun = self._begin(mono_s, WatchEvent.LET_GO, state, reason=method.value)
        self._mark_since_s = mono_s if jumped or held else None
        self._mark_held = held and not jumped
        return begun

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
            depth_utc_s=self._depth_utc_s(depth_m),
        )
        self._arm(late=True)
        assert self.point is not None  # noqa: S101  # a fresh point was asked for above
        self._detector.judge(self.point, self.instruments)
        self.anchored = evolve(self.anchored, place=self._detector.place)
        return [
            *self._begin(mono_s, WatchEvent.SET_LATE, state, "anchor_inferred", armed=True),
            *self._judge_certainty(),
        ]

    def veer(self, mono_s: float, *, rode_m: float, depth_m: float | None) -> Sequence[Outcome]:
        """This much rode is out in all."""
        state = next_state(self.state, WatchEvent.VEER)
        assert self.anchored is not None  # noqa: S101  # every state that takes a veer has one
        anchored = self._dragged() if self.state is WatchState.DRAGGING else self.anchored
        depth_m = self._depth(mono_s, depth_m)
        depth_utc_s = anchored.depth_utc_s if depth_m is None else self.utc_s
        depth_m = anchored.depth_m if depth_m is None else depth_m
        self._check_reaches(rode_m, depth_m)
        self.anchored = evolve(anchored, rode_m=rode_m, depth_m=depth_m, depth_utc_s=depth_utc_s)
        outcomes: list[Outcome] = []
        if self.state is WatchState.DRAGGING:
            outcomes.append(Condition(name="drag", priority=None))
        outcomes += self._rode_known()
        dragging = self.state is WatchState.DRAGGING
        outcomes += self._enter(WatchEvent.VEER, state, reason="rode_given")
        if dragging:
            self.set_result = None
            self._arm()
        else:
            circle, whole_rode = self._breathing.draw(self.anchored, self.utc_s)
            self._detector.refit(circle, whole_rode=whole_rode)
        return outcomes

    def correct_mark(self, place: Position) -> Sequence[Outcome]:
        """The anchor lies at ``place``; rode and depth are what they were.

        The watch begins anew around it, whatever was thought of the old mark: a drag that was
        found from there is none.
        """
        state = next_state(self.state, WatchEvent.CORRECT_MARK)
        self._check_near(place, "place")
        assert self.anchored is not None  # noqa: S101  # every state that takes it has one
        self._move_origin(place)
        self.anchored = evolve(
            self.anchored,
            drop=place,
            place=AnchorInPlane(0.0, 0.0, GIVEN_SIGMA_M),
            method=AnchorMethod.GIVEN,
        )
        self._mark_since_s = None
        self.set_result = None
        outcomes: list[Outcome] = []
        if self.state is WatchState.DRAGGING:
            outcomes.append(Condition(name="drag", priority=None))
        outcomes.append(Condition(name="anchor_uncertain", priority=None))
        outcomes += self._cautions.dragging()
        outcomes += self._enter(WatchEvent.CORRECT_MARK, state, reason="position_given")
        # What was judged was judged of another place.
        self.judgement = None
        self._arm()
        return outcomes

    def weigh(self) -> Sequence[Outcome]:
        """The anchor is off the bottom: the watch ends, on purpose."""
        return self._end(WatchEvent.WEIGH)

    def slip(self, mono_s: float) -> Sequence[Outcome]:
        """The cable is slipped and buoyed: the watch ends, on purpose, and the anchor stays.

        It never needs a fix: whoever slips has no time to wait for one.
        """
        next_state(self.state, WatchEvent.SLIP)
        anchor, anchored = self.anchor, self.anchored
        assert anchor is not None  # noqa: S101  # every state that takes it has one
        assert anchored is not None  # noqa: S101
        depth_m = self._depth(mono_s, None)
        slip = SlipPosition(
            anchor=anchor,
            bow=self._bow(mono_s),
            rode_m=anchored.rode_m,
            depth_m=anchored.depth_m if depth_m is None else depth_m,
        )
        return self._end(WatchEvent.SLIP, slip=slip)

    def _end(self, event: WatchEvent, *, slip: SlipPosition | None = None) -> Sequence[Outcome]:
        state = next_state(self.state, event)
        outcomes: list[Outcome] = [*self.blindness.end(), *self._rode_known()]
        outcomes.append(Condition(name="drag", priority=None))
        outcomes.append(Condition(name="anchor_uncertain", priority=None))
        (change,) = self._enter(event, state, reason="commanded")
        outcomes.append(change if slip is None else evolve(change, anchor=slip.anchor, slip=slip))
        outcomes += self._cautions.end()
        outcomes += self._outlook.end()
        self._under_way_since_s = None
        self._mark_since_s = None
        self.set_result = None
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
        if self.state is not _RIDING and not self.state.on_watch:
            if abs(point.east_m) + abs(point.north_m) > FAR_FROM_ORIGIN_M:
                self._move_origin(plane.to_position(point.east_m, point.north_m))
                point = self.point
            return [*blind, *self._look_for_stowed(point, fix.sog_mps)]
        outcomes: list[Outcome] = list(blind)
        if self._mark_since_s is not None and not self._mark_anew(mono_s, point):
            return outcomes
        judgement = self._detector.judge(point, self.instruments)
        self.judgement = judgement
        evidence = self._detector.evidence
        if evidence is not self._judged:
            self._judged = evidence
            outcomes += self._follow_step(mono_s, point.time_s, judgement)
        if self.state is _RIDING and judgement.verdict is not _DRAGS:
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
        moved_m: float,
        memory: Memory | None,
        dragged_to: AnchorInPlane | None = None,
        drawn_depth_m: float | None = None,
        alerts: Iterable[Alert] = (),
    ) -> None:
        """Stand where a snapshot says the watch stood; no outcome, nothing is new.

        ``alerts`` are those that were up, so that what they tell of can clear.
        """
        self.state = state
        alerts = tuple(alerts)
        self.blindness.resume(alerts)
        self._cautions.resume(alerts)
        self._outlook.resume(alerts)
        self._breathing.resume(drawn_depth_m)
        for alert in alerts:
            if alert.name == "drag":
                self._drag_reason, self._moved_deg = alert.reason, alert.bearing_deg
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
                self._arm(
                    memory=memory,
                    late=anchored.method is AnchorMethod.INFERRED,
                    resumed=True,
                )
        self._moved_m = moved_m
        self._resumed_at = dragged_to

    @property
    def origin(self) -> Position | None:
        """Origin of the plane the anchor's coordinates are in."""
        return None if self._plane is None else self._plane.origin

    @property
    def farthest(self) -> tuple[float, float]:
        """Farthest distance (m) and bearing (deg) from the anchor since the state was entered."""
        return self._farthest_m, self._farthest_bearing_deg

    @property
    def memory(self) -> Memory | None:
        """What the detector has learned of the anchor."""
        return self._detector.memory if self.state.on_watch else None

    # -- inside --------------------------------------------------------------------------------

    def _step(self, point: TrackPoint, judgement: Judgement) -> Sequence[Outcome]:
        if judgement.verdict is Verdict.DRAGGING and self.state is not WatchState.DRAGGING:
            return self._find_drag(point, judgement)
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
                assert self.anchored is not None  # noqa: S101  # laying back implies an anchor
                circle, whole_rode = self._breathing.circle(self.anchored, self.utc_s)
                self.set_result = stopped(self._farthest_m, circle, whole_rode=whole_rode)
                return self._enter(
                    WatchEvent.FETCHED_UP, WatchState.BROUGHT_UP, self.set_result.value
                )
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

    def _find_drag(self, point: TrackPoint, judgement: Judgement) -> Sequence[Outcome]:
        state = next_state(self.state, WatchEvent.DRAG_FOUND)
        reason = judgement.reason.value
        self.set_result = None
        if self.state is not WatchState.RIDING:
            self.set_result = SetResult.CAME_HOME
            reason = self.set_result.value
        self.state = state
        self._drag_reason = reason
        self._moved_m = judgement.moved_m
        self._farthest_m = judgement.distance_m
        self._farthest_bearing_deg = judgement.bearing_deg
        self._farthest_time_s = None
        self._entered_time_s = None
        self._leeward.forget()
        self._look_to_leeward(point, judgement)
        condition = self._drag_condition(point, judgement)
        anchor = condition.anchor
        change = StateChange(
            event=WatchEvent.DRAG_FOUND,
            state=state,
            reason=reason,
            moved_m=judgement.moved_m,
            bearing_deg=judgement.moved_deg,
            anchor=anchor,
        )
        return [change, condition, *self._cautions.dragging()]

    def _look_to_leeward(self, point: TrackPoint, judgement: Judgement) -> None:
        assert self._plane is not None  # noqa: S101  # there is a point
        assert self.anchored is not None  # noqa: S101  # dragging implies an anchor
        self._moved_deg = judgement.moved_deg
        self._leeward.look(
            self._plane,
            self.anchored.drop,
            point,
            bearing_deg=judgement.moved_deg,
            rate_mps=judgement.rate_mps,
        )

    def _drag_condition(
        self, point: TrackPoint, judgement: Judgement, *, renewed: bool = False
    ) -> Condition:
        came_home = self._drag_reason == SetResult.CAME_HOME.value
        return Condition(
            name="drag",
            priority=Priority.ALARM,
            reason=self._drag_reason,
            text=(_CAME_HOME if came_home else _DRAGGING) + self._leeward.tell(point.time_s),
            moved_m=self._moved_m,
            bearing_deg=judgement.moved_deg,
            rate_mps=judgement.rate_mps,
            confidence=judgement.confidence,
            anchor=self.anchor,
            renewed=renewed,
        )

    def _hold_again(self) -> Sequence[Outcome]:
        moved_m, bearing_deg = self.moved_m, self.moved_deg
        self.anchored = self._dragged()
        changes = self._enter(
            WatchEvent.HELD_AGAIN,
            next_state(self.state, WatchEvent.HELD_AGAIN),
            "track",
            moved_m=moved_m,
            bearing_deg=bearing_deg,
        )
        # How it was set says nothing about where it has been dragged to.
        self.set_result = None
        self._arm()
        return [*changes, Condition(name="drag", priority=None)]

    def _dragged(self) -> Anchored:
        assert self.anchored is not None  # noqa: S101  # dragging implies an anchor
        if self._resumed_at is not None and self._detector.evidence is None:
            return self.anchored.dragged_to(self._resumed_at)
        return self.anchored.dragged_to(self._detector.place)

    def _begin(
        self,
        mono_s: float,
        event: WatchEvent,
        state: WatchState,
        reason: str,
        *,
        armed: bool = False,
    ) -> list[Outcome]:
        self.blindness.begin(mono_s)
        self._let_go_mono_s = (
            mono_s if self.anchored is not None and self.anchored.rode_m is None else None
        )
        outcomes: list[Outcome] = list(self._enter(event, state, reason))
        if not armed:
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

    def _arm(
        self, *, late: bool = False, memory: Memory | None = None, resumed: bool = False
    ) -> None:
        anchored = self.anchored
        assert anchored is not None  # noqa: S101  # only armed with an anchor down
        circle, whole_rode = self._breathing.draw(anchored, self.utc_s)
        self._memory = None
        self._moved_m = 0.0
        self._resumed_at = None
        self._detector.arm(
            Arming(
                anchor=anchored.place,
                circle=circle,
                whole_rode=whole_rode,
                # Taken up again without what was learned, a late set's anchor is looked for where
                # it was last thought to be: around the boat it would be found there, and a drag
                # meanwhile never.
                late=late and (memory is not None or not resumed),
                by_fix=anchored.method is not AnchorMethod.GIVEN and memory is None,
                memory=memory,
            )
        )

    def _under_bow(
        self, mono_s: float, point: TrackPoint, more_sigma_m: float
    ) -> tuple[AnchorInPlane, AnchorMethod]:
        """Where the bow is, in the plane, and so the anchor if it has just been let go."""
        held_sigma_m = HELD_SIGMA_M if point.unchanged_s > HELD_S else 0.0
        return drop_point(
            east_m=point.east_m,
            north_m=point.north_m,
            sigma_m=math.hypot(point.sigma_m, held_sigma_m, more_sigma_m),
            antenna_aft_m=self.settings.boat.antenna_aft_m,
            heading=self.instruments.heading(mono_s),
        )

    def _bow(self, mono_s: float) -> AnchorEstimate | None:
        """Where the bow is now, if a fix says it."""
        try:
            point = self._fresh_point(mono_s)
        except RefusedError:
            return None
        assert self._plane is not None  # noqa: S101  # there is a point, so there is a plane
        jumped = point.fix_state is FixState.JUMPED
        place, method = self._under_bow(mono_s, point, JUMPED_SIGMA_M if jumped else 0.0)
        lat_deg, lon_deg = self._plane.to_lat_lon(place.east_m, place.north_m)
        return AnchorEstimate(lat_deg, lon_deg, place.sigma_m, method)

    def _mark_anew(self, mono_s: float, point: TrackPoint) -> bool:
        """Make the mark that was made while the fix had jumped, once it can be believed again.

        So too one made by a position that the receiver held, if that proves to have been elsewhere.
        The boat has meanwhile fallen back a little, which makes the mark so much less sure. Gives
        whether there is a mark to judge by.
        """
        assert self._mark_since_s is not None  # noqa: S101  # the caller has asked
        assert self.anchored is not None  # noqa: S101  # a mark was made
        assert self._plane is not None  # noqa: S101  # by a fix
        waited_s = mono_s - self._mark_since_s
        if self._mark_held:
            let_go = point.fix_state is FixState.TAKEN and point.unchanged_s == 0.0
            if let_go or waited_s > HELD_MARK_WAIT_S:
                self._mark_since_s = None  # where it held she had been, or nobody will know
                return True
            if not self._begun_elsewhere(point):
                return True
        elif point.fix_state is FixState.JUMPED and waited_s < MARK_WAIT_S:
            return False
        self._mark_since_s = None
        place, method = self._under_bow(mono_s, point, FALLING_BACK_MPS * waited_s)
        drop = self._plane.to_position(place.east_m, place.north_m)
        self.anchored = evolve(self.anchored, drop=drop, place=place, method=method)
        self._arm()
        return True

    def _begun_elsewhere(self, point: TrackPoint) -> bool:
        """Whether the track begins anew where no boat can lie to the anchor as it was marked."""
        if point.fix_state is not FixState.REACQUIRED or self.anchored is None:
            return False
        circle, place = self.circle, self.anchored.place
        off_m = math.hypot(point.east_m - place.east_m, point.north_m - place.north_m)
        return circle is not None and off_m > circle.farthest_m + place.sigma_m

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

    def _depth_utc_s(self, depth_m: float | None) -> float | None:
        return None if depth_m is None else self.utc_s

    def _check_reaches(self, rode_m: float | None, depth_m: float | None) -> None:
        """Refuse a rode that is more than there is, or does not reach the bottom: a slip."""
        for name, length_m in (("rode", rode_m), ("depth", depth_m)):
            if length_m is not None and not 0.0 <= length_m < math.inf:
                raise RefusedError(
                    f"{name} = {length_m} m is not a length.", remedy="Give metres above 0."
                )
        aboard_m = self.settings.tackle.rode_aboard_m
        if rode_m is not None and aboard_m is not None and rode_m > aboard_m + ROUNDING_M:
            raise RefusedError(
                f"{round(rode_m, 1):g} m is more than the {round(aboard_m, 1):g} m of [tackle] "
                "rode_aboard.",
                remedy="Correct the one or the other.",
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

    def _check_near(self, drop: Position, what: str = "drop point") -> None:
        """Refuse a place that cannot be our anchor's: a slip in the figures."""
        near: TrackPoint | AnchorInPlane | None = self.point
        if near is None and self.anchored is not None:
            near = self.anchored.place  # there was no fix since a restart
        if self._plane is None or near is None:
            return
        east_m, north_m = self._plane.to_plane(drop.lat_deg, drop.lon_deg)
        away_m = math.hypot(east_m - near.east_m, north_m - near.north_m)
        if away_m > NEAR_M:
            raise RefusedError(
                f"The {what} given is {away_m / 1000.0:.1f} km from the boat.",
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

    def _follow_step(self, mono_s: float, time_s: float, judgement: Judgement) -> Sequence[Outcome]:
        """What the detector's new step says besides its verdict."""
        anchored = self.anchored
        if anchored is None:
            return ()
        self._breathe(anchored)
        if self.state is WatchState.DRAGGING:
            return self._drag_on(judgement)
        outcomes: list[Outcome] = []
        if (
            anchored.method is AnchorMethod.INFERRED
            and judgement.verdict is not Verdict.DRAGGING
            and self._detector.place != anchored.place
        ):
            self.anchored = evolve(anchored, place=self._detector.place)
            outcomes += self._judge_certainty()
        instruments = self.instruments
        wind = instruments.wind_from(mono_s)
        outcomes += self._cautions.take(
            time_s,
            judgement,
            heading_heard=instruments.heading(mono_s) is not None,
            wind=wind,
            anchor=lambda: self.anchor,
        )
        outcomes += self._outlook.take(
            time_s,
            utc_s=self.utc_s,
            rode_m=anchored.rode_m,
            depth_m=anchored.depth_m,
            depth_utc_s=anchored.depth_utc_s,
            sounded_m=instruments.depth_m(mono_s),
            wind_mps=None if wind is None else wind[1],
        )
        return outcomes

    def _breathe(self, anchored: Anchored) -> None:
        memory = self._detector.memory
        if memory is not self._memory:
            self._memory, self._memory_depth_m = memory, self._breathing.drawn_depth_m
        circle = self._breathing.breathe(anchored, self.utc_s)
        if circle is not None:
            self._detector.breathe(circle)

    def _drag_on(self, judgement: Judgement) -> Sequence[Outcome]:
        """The drag goes on: how far, and what it leads to by now."""
        self._moved_m = max(self._moved_m, judgement.moved_m)
        point = self.point
        if (
            point is None
            or point.fix_state is FixState.JUMPED
            or judgement.verdict is not Verdict.DRAGGING
        ):
            return ()
        self._look_to_leeward(point, judgement)
        if not self._leeward.is_news(point.time_s):
            return ()
        return [self._drag_condition(point, judgement, renewed=True)]

    def _judge_certainty(self) -> list[Outcome]:
        anchored = self.anchored
        if anchored is None:
            return []
        circle, _whole = self._breathing.circle(anchored, self.utc_s)
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
