"""The deciding core: everything that happens goes in, in order; what to tell comes out.

It has no clock. Time is the ``mono_s`` of each input; limits that run out between inputs are
decided at the instant they were due, so it makes no difference how often anybody asks.
"""

import datetime as dt
import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.catalogue import FAULT_NAMES, fault_priority
from driftlead.alerts.condition import Condition
from driftlead.alerts.lifecycle import SILENCE_S
from driftlead.alerts.management import AlertManagement, AlertNews
from driftlead.alerts.moment import Moment
from driftlead.core.bell import Bell
from driftlead.core.channel import Channel
from driftlead.core.clock_steps import JUMP_S, ClockSteps
from driftlead.core.depth_words import depth_text
from driftlead.core.drill import DRILL, begin_drill, end_drill, give_way
from driftlead.core.inputs import (
    Acknowledge,
    Command,
    CorrectMark,
    Drill,
    Fault,
    LetGo,
    Silence,
    Slip,
    Transfer,
    Veer,
)
from driftlead.core.mark_words import mark_text
from driftlead.core.reply import Event, Reply
from driftlead.core.settings import CoreSettings
from driftlead.core.slip_words import slip_text
from driftlead.core.snapshot import Snapshot
from driftlead.core.state_event import StateEvent
from driftlead.core.status import SourceStatus, Status
from driftlead.core.track_time import TrackTime
from driftlead.errors import RefusedError
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.nmea.fix import Fix, NoFix
from driftlead.nmea.observations import (
    CourseReport,
    DepthReport,
    DilutionReport,
    HeadingReport,
    PositionReport,
    TimeReport,
    WaterSpeedReport,
    WindReport,
)
from driftlead.nmea.receiver_clock import ReceiverClock
from driftlead.track.receiver_choice import ReceiverChoice, ReceiverId
from driftlead.watch.blindness import INTERVALS
from driftlead.watch.state_table import WatchState
from driftlead.watch.watch import Outcome, Watch

_OF_RECEIVER = (CourseReport, DilutionReport, TimeReport)
_NOTHING: tuple[Event, ...] = ()
_NOT_KNOWN = -1
_FRESH_S: Final = 10.0
"""A fix no older than this (or some of its own intervals, where the receiver is slower) is seen
with."""
_BLIND: Final = ("data_stale", "fix_lost")
_ANSWERED: Final = AlertState.ACTIVE_ACKNOWLEDGED
_OF_ONE_RUN: Final = FAULT_NAMES | {DRILL}
_REMARKS: Final = ("dragged_here_before",)
"""Of this anchoring, and over as soon as somebody says that they have read it."""
_OVER_ONCE_READ: Final = ("watch_resumed", *_REMARKS)
_ENDS_WITH_THE_WATCH: Final = ("clock_jumped", *_OVER_ONCE_READ)


class Core:
    """One watch, fed with everything that happens in the order it happens."""

    def __init__(
        self, settings: CoreSettings, *, mono_s: float, snapshot: Snapshot | None = None
    ) -> None:
        """Start at ``mono_s``; with ``snapshot``, take the recorded watch up again."""
        self._settings = settings
        self._rank = {name: rank for rank, name in enumerate(settings.source_order)}
        self._channels: dict[str, Channel] = {}
        self._choice = ReceiverChoice()
        self._clock = ReceiverClock(settings.earliest_date)
        self._track_time = TrackTime()
        self._watch = Watch(settings.watch, mono_s=mono_s)
        instruments = self._watch.instruments
        self._instruments: dict[type, Callable[[float, Any], None]] = {
            HeadingReport: instruments.hear_heading,
            WindReport: instruments.hear_wind,
            DepthReport: instruments.hear_depth,
            WaterSpeedReport: instruments.hear_water_speed,
        }
        self._alerts = AlertManagement(settings.alerts)
        self._bell = Bell(settings.alerts.alls_well_s)
        self._clock_steps = ClockSteps()
        self._tod_offset_s = math.inf
        self._mono_s = mono_s
        self._due_s = math.inf
        self._last_fix_mono_s: float | None = None
        self._weeks_told = 0
        self._heard_tod_s: float | None = None
        if snapshot is not None:
            self._take_up(snapshot)
        self._bell.watch_is(self.on_watch, mono_s)
        self._renew_due()

    # -- inputs --------------------------------------------------------------------------------

    def resumed(self) -> Sequence[Event]:
        """Events to report right after a restart (``watch_resumed``, alerts still unanswered)."""
        # Each restart is a new occurrence, whether or not the last one has been read of.
        over = Condition(name="watch_resumed", priority=None)
        if not self._watch.state.on_watch:
            return tuple(self._tell([over], self._mono_s))
        known = self._alerts.resumed(self._moment(self._mono_s))
        state = self._watch.state.value
        raised = self._tell(
            [
                over,
                Condition(
                    name="watch_resumed",
                    priority=Priority.CAUTION,
                    reason="program_restarted",
                    text=f"The program was restarted; the watch goes on (state {state}).",
                    anchor=self._watch.anchor,
                ),
            ],
            self._mono_s,
        )
        return (*known, *raised)

    def feed(self, line: StampedLine) -> Sequence[Event]:
        """Take one line. Never raises for bad text."""
        mono_s = line.mono_s
        events: Sequence[Event] = _NOTHING
        if mono_s >= self._due_s:
            events = self.advance(mono_s)
        self._mono_s = mono_s
        try:
            channel = self._channels[line.source]
        except KeyError:
            channel = self._open_channel(line.source)
        channel.last_mono_s = mono_s
        observation = channel.decoder.decode(line.text)
        if observation is None:
            return events
        instrument = self._instruments.get(type(observation))
        if instrument is not None:
            instrument(mono_s, observation)
            return events
        if not isinstance(observation, PositionReport):
            if isinstance(observation, _OF_RECEIVER):
                self._hear_of_receiver(channel, mono_s, observation)
            return events
        told = self._hear_position(channel, mono_s, observation)
        if not told:
            return events
        return (*events, *told) if events else told

    def command(self, mono_s: float, command: Command) -> Reply:
        """Carry out a skipper's command, or refuse it without effect."""
        before = self.advance(mono_s)
        self._mono_s = mono_s
        self._watch.utc_s = self._clock.utc_s(mono_s)
        try:
            events, text = self._carry_out(mono_s, command)
        except RefusedError as refusal:
            return Reply(
                accepted=False,
                text=f"Refused: {refusal.message}",
                remedy=refusal.remedy,
                events=tuple(before),
            )
        self._renew_due()
        return Reply(accepted=True, text=text, events=(*before, *events))

    def fault(self, mono_s: float, fault: Fault) -> Sequence[Event]:
        """Hear that something of ours has failed or works again, or of a remark."""
        before = self.advance(mono_s)
        self._mono_s = mono_s
        is_remark = fault.name in _REMARKS
        if is_remark and not self.on_watch:
            return before  # it was found out too late: the anchoring it is about is over
        condition = Condition(
            name=fault.name,
            instance=fault.instance,
            priority=None if fault.text is None else fault_priority(fault.name),
            reason="remembered" if is_remark else "failed",
            text=fault.text or "",
        )
        return (*before, *self._tell([condition], mono_s))

    def advance(self, mono_s: float) -> Sequence[Event]:
        """Let time pass to ``mono_s``: limits that ran out are decided at their due time."""
        events: list[Event] = []
        while self._due_s <= mono_s:
            due_s = self._due_s
            # The due time kept is a lower bound: fixes since then may have put it off.
            actual_s = self._watch.due_s()
            # An input may bring a limit with it that ran out before: decided there and then.
            at_s = max(due_s, self._mono_s)
            if actual_s is not None and actual_s <= due_s:
                events += self._tell(self._watch.advance(at_s), at_s)
            if self._alerts.due_s() <= at_s:
                news = self._alerts.advance(self._moment(at_s))
                events += [*news, *give_way(self._alerts, news, self._moment(at_s))]
            if self._bell.due_s <= at_s:
                self._bell.struck()
                events += self._alls_well(at_s)
            self._renew_due()
            if self._due_s <= due_s:
                # A limit that was due and told nothing must not hold us here for ever.
                self._due_s = due_s + 1.0
        self._mono_s = max(self._mono_s, mono_s)
        return events

    # -- what is known -------------------------------------------------------------------------

    @property
    def next_due_s(self) -> float | None:
        """When ``advance`` next has something to decide, None if nothing is pending."""
        return None if self._due_s == math.inf else self._due_s

    @property
    def on_watch(self) -> bool:
        """Whether there is an anchor on the bottom to watch."""
        return self._watch.state.on_watch

    @property
    def watch(self) -> Watch:
        """The watch inside, to be looked at (pictures, summaries), never to be changed."""
        return self._watch

    def utc_s(self, mono_s: float) -> float | None:
        """The receiver's UTC at ``mono_s`` in Unix seconds."""
        return self._clock.utc_s(mono_s)

    @property
    def clock(self) -> ReceiverClock:
        """The receiver's clock (a replay may tell it a date that the log never says)."""
        return self._clock

    def snapshot(self) -> Snapshot:
        """What must survive a power cut."""
        watch = self._watch
        farthest_m, farthest_bearing_deg = watch.farthest
        return Snapshot(
            state=watch.state,
            anchored=watch.anchored,
            origin=watch.origin if watch.anchored is not None else None,
            farthest_m=farthest_m,
            farthest_bearing_deg=farthest_bearing_deg,
            moved_m=watch.moved_m,
            dragged_to=watch.dragged_to,
            memory=watch.memory,
            drawn_depth_m=watch.drawn_depth_m,
            alerts=self._alerts.alerts,
            pagings=self._alerts.pagings(self._mono_s),
            last_number=self._alerts.last_number,
        )

    def status(self, mono_s: float) -> Status:
        """The state of the watch for people."""
        watch = self._watch
        judgement = watch.judgement
        anchored = watch.anchored
        heading = watch.instruments.heading(mono_s)
        wind = watch.instruments.wind_from(mono_s)
        followed = self._choice.followed
        moved_m = watch.moved_m if watch.state.on_watch else None
        return Status(
            state=watch.state.value,
            utc_s=self._clock.utc_s(mono_s),
            set_result=None if watch.set_result is None else watch.set_result.value,
            verdict=None if judgement is None else judgement.verdict.value,
            reason=None if judgement is None else judgement.reason.value,
            confidence=None if judgement is None else judgement.confidence,
            distance_m=None if judgement is None else judgement.distance_m,
            bearing_deg=None if judgement is None else judgement.bearing_deg,
            radius_m=None if judgement is None else judgement.radius_m,
            moved_m=moved_m,
            rate_mps=None if judgement is None else judgement.rate_mps,
            position=watch.position,
            anchor=watch.anchor,
            rode_m=None if anchored is None else anchored.rode_m,
            depth_m=watch.instruments.depth_m(mono_s),
            heading_deg=None if heading is None else heading[0],
            wind_from_deg=None if wind is None else wind[0],
            wind_mps=None if wind is None else wind[1],
            fix_age_s=None
            if self._last_fix_mono_s is None
            else max(0.0, mono_s - self._last_fix_mono_s),
            receiver=None if followed is None else f"{followed.source}/{followed.group}",
            moved_deg=watch.moved_deg,
            danger=watch.danger,
            anchor_depth_m=watch.anchor_depth_m,
            rise_m=watch.rise_m,
            bow=watch.bow(mono_s),
            alerts=self._alerts.alerts,
            sources=tuple(_source_status(channel, mono_s) for channel in self._channels.values()),
        )

    # -- inside --------------------------------------------------------------------------------

    def _take_up(self, snapshot: Snapshot) -> None:
        # What failed in the last run is told anew by this one if it still fails.
        kept = [alert for alert in snapshot.alerts if alert.name not in _OF_ONE_RUN]
        self._alerts = AlertManagement(
            self._settings.alerts,
            alerts=kept,
            pagings=snapshot.pagings,
            last_number=snapshot.last_number,
            mono_s=self._mono_s,
        )
        # How long an unanswered warning has waited already counts.
        self._alerts.watch_is(snapshot.state.on_watch, -math.inf)
        if snapshot.state is not WatchState.DRAGGING:
            # She held again (or was veered to) unanswered: one answer is all the alert waits for.
            self._alerts.take(Condition(name="drag", priority=None), Moment(self._mono_s))
        # What the last run told of the date is this run's to clear.
        if self._alerts.find("receiver_date") is not None:
            self._weeks_told = _NOT_KNOWN
        self._watch.resume(
            self._mono_s,
            state=snapshot.state,
            anchored=snapshot.anchored,
            origin=snapshot.origin,
            farthest_m=snapshot.farthest_m,
            farthest_bearing_deg=snapshot.farthest_bearing_deg,
            moved_m=snapshot.moved_m,
            dragged_to=snapshot.dragged_to,
            memory=snapshot.memory,
            drawn_depth_m=snapshot.drawn_depth_m,
            alerts=kept,
        )

    def _open_channel(self, source: str) -> Channel:
        rank = self._rank.get(source, len(self._rank))
        channel = Channel(source, rank, require_checksum=self._settings.require_checksum)
        self._channels[source] = channel
        return channel

    def _hear_position(
        self, channel: Channel, mono_s: float, report: PositionReport
    ) -> Sequence[Event]:
        merger, receiver = channel.receiver(report.talker, self._choice)
        followed = self._choice.followed
        # RMC and GGA of one epoch tell the same time; it is news only once, or with a date.
        if (report.tod_s != self._heard_tod_s or report.date is not None) and (
            followed is None or followed is receiver
        ):
            self._heard_tod_s = report.tod_s
            if report.tod_s is not None:
                self._hear_time(mono_s, report.tod_s, report.date)
        if report.variation_deg is not None:
            self._watch.instruments.hear_variation(report.variation_deg)
        epochs = merger.position(mono_s, report)
        if not epochs:
            return _NOTHING
        outcomes: list[Outcome] = []
        for epoch in epochs:
            outcomes += self._hear_epoch(receiver, mono_s, epoch)
        return self._tell(outcomes, mono_s) if outcomes else _NOTHING

    def _hear_epoch(
        self, receiver: ReceiverId, mono_s: float, epoch: Fix | NoFix
    ) -> Sequence[Outcome]:
        if isinstance(epoch, NoFix):
            if self._choice.followed not in (None, receiver):
                return ()
            no_fix = self._watch.hear_no_fix(mono_s)
            self._renew_due()
            return no_fix
        before = self._choice.followed
        if not self._choice.follows(receiver, mono_s):
            return ()
        if before is not None and before is not receiver:
            self._watch.restart_track()
        self._last_fix_mono_s = mono_s
        time_s = self._track_time.at(mono_s, epoch.tod_s)
        self._watch.utc_s = self._clock.utc_s(mono_s)
        outcomes = self._watch.hear_fix(mono_s, time_s, epoch)
        if self._clock.weeks_corrected != self._weeks_told:
            self._weeks_told = self._clock.weeks_corrected
            return [*outcomes, self._date_condition()]
        if self._clock_steps.is_open:
            steps = self._clock_steps.news(mono_s)
            # Before a watch a receiver may still be finding out what time it is.
            return [*outcomes, *steps] if self.on_watch else outcomes
        return outcomes

    def _date_condition(self) -> Condition:
        weeks = self._clock.weeks_corrected
        return Condition(
            name="receiver_date",
            priority=Priority.CAUTION if weeks else None,
            reason="gps_week_rollover",
            text=f"The receiver's date is {weeks} weeks behind; it is corrected here.",
        )

    def _hear_of_receiver(
        self,
        channel: Channel,
        mono_s: float,
        report: CourseReport | DilutionReport | TimeReport,
    ) -> None:
        """What a satellite receiver says besides positions."""
        merger, receiver = channel.receiver(report.talker, self._choice)
        if isinstance(report, DilutionReport):
            merger.dilution(report)
        elif isinstance(report, CourseReport):
            merger.course(report)
        elif self._choice.followed in (None, receiver):
            self._hear_time(mono_s, report.tod_s, report.date)

    def _hear_time(self, mono_s: float, tod_s: float, date: dt.date | None) -> None:
        offset_s = tod_s - mono_s
        step_s = offset_s - self._tod_offset_s
        self._tod_offset_s = offset_s
        if not -JUMP_S < step_s < JUMP_S:
            self._clock_steps.step(mono_s, step_s)
        self._clock.hear(mono_s, tod_s, date)

    def _carry_out(self, mono_s: float, command: Command) -> tuple[list[Event], str]:
        watch = self._watch
        match command:
            case LetGo(late=True, drop=Position()):
                raise RefusedError(
                    "A watch set late works out where the anchor is; here the place is given too.",
                    remedy="Leave out --late if the place is known, or --drop if it is not.",
                )
            case LetGo(late=True):
                outcomes = watch.set_late(mono_s, rode_m=command.rode_m, depth_m=command.depth_m)
            case LetGo():
                outcomes = watch.let_go(
                    mono_s, rode_m=command.rode_m, depth_m=command.depth_m, drop=command.drop
                )
            case Veer():
                outcomes = watch.veer(mono_s, rode_m=command.rode_m, depth_m=command.depth_m)
            case CorrectMark():
                before = watch.anchor
                outcomes = watch.correct_mark(command.position)
                told = self._tell(outcomes, mono_s)
                return told, mark_text(before, command.position, watch)
            case Acknowledge() | Silence() | Transfer():
                return self._answer(mono_s, command)
            case Drill(over=True):
                return list(end_drill(self._alerts, self._moment(mono_s))), "The drill is over."
            case Drill():
                outcomes = [begin_drill(self._alerts)]
            case Slip():
                return self._end_the_watch(mono_s, watch.slip(mono_s))
            case _:
                return self._end_the_watch(mono_s, watch.weigh())
        return self._tell(outcomes, mono_s), _said(command, watch, mono_s)

    def _end_the_watch(self, mono_s: float, outcomes: Sequence[Outcome]) -> tuple[list[Event], str]:
        # Weighing or slipping is an answer too: nobody does that without knowing.
        answered = self._alerts.acknowledge("drag", self._moment(mono_s))
        over = [Condition(name=name, priority=None) for name in _ENDS_WITH_THE_WATCH]
        told = self._tell([*outcomes, *over], mono_s)
        for event in told:
            if isinstance(event, StateEvent) and event.slip is not None:
                return [*answered, *told], slip_text(event.slip, event.utc_s)
        return [*answered, *told], "Aweigh: the watch has ended."

    def _answer(
        self, mono_s: float, command: Acknowledge | Silence | Transfer
    ) -> tuple[list[Event], str]:
        """What somebody does about alerts; gives what has changed, and what to say."""
        now, alerts = self._moment(mono_s), self._alerts
        # A name is taken as it is shown, too: with blanks.
        name = None if command.name is None else "_".join(command.name.split())
        told = {"by": command.by, "where": command.where}
        changes: list[AlertNews]
        match command:
            case Acknowledge():
                changes = list(alerts.acknowledge(name, now, **told))
                for remark in _OVER_ONCE_READ:
                    if name in (None, remark):
                        changes += alerts.take(Condition(name=remark, priority=None), now)
                done, to_do, waits = "Acknowledged", "acknowledge", "is waiting"
            case Silence():
                changes = alerts.silence(name, now, **told)
                done, to_do = f"Silenced for {SILENCE_S:.0f} s, not acknowledged", "silence"
                waits = "sounds"
            case Transfer():
                changes = alerts.hand_over(command.to, name, now, **told)
                done, to_do = f"Handed over to {command.to}", "hand over"
                waits = "is waiting"
        names = [each.name.replace("_", " ") for each in changes if isinstance(each, Alert)]
        if names:
            ended = give_way(alerts, changes, now)
            return [*changes, *ended], f"{done}: {', '.join(names)}."
        if name is not None and all(alert.name != name for alert in alerts.alerts):
            up = ", ".join(sorted({alert.name for alert in alerts.alerts})) or "none"
            raise RefusedError(
                f"No alert called {command.name!r} is up.", remedy=f"Alerts that are up: {up}."
            )
        return [], f"Nothing to {to_do}: no alert {waits}."

    def _tell(self, outcomes: Iterable[Outcome], mono_s: float) -> list[Event]:
        """Outcomes of the watch as events, stamped; conditions go through the alert book."""
        now = self._moment(mono_s)
        utc_s = now.utc_s
        self._alerts.watch_is(self.on_watch, mono_s)
        self._bell.watch_is(self.on_watch, mono_s)
        events: list[Event] = []
        for outcome in outcomes:
            if isinstance(outcome, Condition):
                events += self._alerts.take(outcome, now)
            else:
                events.append(
                    StateEvent(
                        name=outcome.event.value,
                        state=outcome.state.value,
                        reason=outcome.reason,
                        mono_s=mono_s,
                        utc_s=utc_s,
                        moved_m=outcome.moved_m,
                        bearing_deg=outcome.bearing_deg,
                        anchor=outcome.anchor,
                        slip=outcome.slip,
                    )
                )
        events += give_way(self._alerts, events, now)
        self._renew_due()
        return events

    def _alls_well(self, mono_s: float) -> list[Event]:
        """That all is well, if it is: the detector does its work and no alarm waits."""
        for alert in self._alerts.alerts:
            if alert.priority is Priority.ALARM and alert.state is not _ANSWERED:
                return []
        blindness = self._watch.blindness
        fresh_s = max(_FRESH_S, INTERVALS * blindness.interval_s)
        sees = self._watch.judgement is not None and mono_s - blindness.fix_mono_s <= fresh_s
        if not sees and all(self._alerts.find(name) is None for name in _BLIND):
            return []
        utc_s = self._clock.utc_s(mono_s)
        state = self._watch.state.value
        return [AllsWell(state=state, sees=sees, mono_s=mono_s, utc_s=utc_s)]

    def _moment(self, mono_s: float) -> Moment:
        return Moment(mono_s, self._clock.utc_s(mono_s))

    def _renew_due(self) -> None:
        watch_s = self._watch.due_s()
        due_s = min(self._alerts.due_s(), self._bell.due_s)
        self._due_s = due_s if watch_s is None else min(watch_s, due_s)


def _source_status(channel: Channel, mono_s: float) -> SourceStatus:
    decoder = channel.decoder
    return SourceStatus(
        name=channel.source,
        line_age_s=max(0.0, mono_s - channel.last_mono_s),
        accepted=dict(sorted(decoder.accepted.items())),
        unsupported=dict(sorted(decoder.unsupported.items())),
        rejected={reason.value: count for reason, count in sorted(decoder.rejected.items())},
    )


def _said(command: Any, watch: Watch, mono_s: float) -> str:
    """What the skipper is told after a command that was carried out."""
    anchored = watch.anchored
    depth = ""
    if isinstance(command, (LetGo, Veer)):
        depth = depth_text(command.depth_m, watch.instruments.depth_m(mono_s))
    match command:
        case LetGo(late=True):
            sigma_m = anchored.place.sigma_m if anchored is not None else 0.0
            return (
                f"Watch set late. The anchor's place is inferred, to {sigma_m:.0f} m as yet; it "
                f"gets better as she swings.{depth}"
            )
        case LetGo():
            sigma_m = anchored.place.sigma_m if anchored is not None else 0.0
            rode = "" if command.rode_m else " Say driftlead veer LENGTH when the rode is out."
            return f"Let go: the drop point is marked, good to {sigma_m:.0f} m.{rode}{depth}"
        case Veer():
            circle = watch.circle
            radius = f" With it she reaches {circle.radius_m:.0f} m at most." if circle else ""
            return f"Rode out: {command.rode_m:.0f} m.{radius}{depth}"
        case _:
            return "The drill has begun."
