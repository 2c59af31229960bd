"""Feeds recorded inputs to the core exactly as the daemon did, and collects what it says."""

import datetime as dt
import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any, Final

from driftlead.core.core import Core
from driftlead.core.inputs import Command, LetGo
from driftlead.core.inputs_json import command_from_json, fault_from_json
from driftlead.core.reply import Event
from driftlead.core.settings_json import settings_from_json
from driftlead.core.snapshot import snapshot_from_data
from driftlead.errors import RecordingError, UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.lines import StampedLine
from driftlead.recording.format import RecordedInput
from driftlead.replay.reader import ReplayInput
from driftlead.replay.settings import ReplaySettings
from driftlead.replay.trace import Trace
from driftlead.track.point import TrackPoint

_DAY_S: Final = 86_400.0
LIES_S: Final = 60.0
LIES_MPS: Final = 0.5
UNKNOWN_RODE_M: Final = 100.0
"""How near the drop point she must come where no rode is given."""


class Runner:
    """One replay. ``on_event`` gets every event in order."""

    def __init__(
        self,
        settings: ReplaySettings,
        *,
        on_event: Callable[[Event], None],
        trace: Trace | None = None,
    ) -> None:
        self._settings = settings
        self._on_event = on_event
        self._trace = trace
        self._pending = settings.sets_the_watch
        self._target_s: float | None = None
        self._looked_at: TrackPoint | None = None
        self._drop_plane: LocalPlane | None = None
        self._within_since_s: float | None = None
        boat = settings.core_settings().watch.boat
        self._within_m = (settings.rode_m or UNKNOWN_RODE_M) + boat.antenna_aft_m
        self._run: Any = None
        self.mono_s = 0.0
        self.refusals: list[str] = []
        self.core = self._new_core(Core(settings.core_settings(), mono_s=0.0))

    def take(self, batch: Sequence[ReplayInput]) -> None:
        """Feed some inputs. Raises RecordingError for an input that is no input."""
        feed, tell, trace = self.core.feed, self._on_event, self._trace
        for item in batch:
            if isinstance(item, StampedLine):
                for event in feed(item):
                    tell(event)
                if self._pending:
                    self.mono_s = item.mono_s
                    self._set_the_watch(item.mono_s)
                if trace is not None:
                    trace.look(self.core)
            else:
                self._take_input(item)
                feed = self.core.feed
        if batch:
            self.mono_s = batch[-1].mono_s

    def finish(self) -> None:
        """The log has ended. Raises UserInputError if the watch could never be set."""
        if not self._pending:
            return
        if self.core.watch.point is None:
            raise UserInputError(
                "The log has no usable fix, so no watch could be set.",
                remedy="Check that it is the log of a receiver that had a fix, with checksums.",
            )
        if self._settings.drop is not None:
            raise UserInputError(
                f"The boat never lies within {self._within_m:.0f} m of the drop point given.",
                remedy="Check latitude and longitude and their signs (south and west negative), "
                "and the rode.",
            )
        raise UserInputError(
            "The log ends before the time the watch was to be set at, or its receiver never told "
            "the date.",
            remedy="Give a time (UTC) within the log, and --date for a log without dates.",
        )

    # -- recordings ----------------------------------------------------------------------------

    def _take_input(self, item: RecordedInput) -> None:
        self.mono_s = item.mono_s
        match item.kind:
            case "part":
                self._begin_part(item)
            case "command":
                # One that was refused aboard is refused again; that is no fault of the replay.
                if not self._settings.sets_the_watch:
                    reply = self.core.command(item.mono_s, command_from_json(item.data))
                    self._tell(reply.events)
            case "fault":
                self._tell(self.core.fault(item.mono_s, fault_from_json(item.data)))
            case "tick" | "end":
                self._tell(self.core.advance(item.mono_s))
            case _:
                raise RecordingError(f"A recorded {item.kind} cannot be replayed.")

    def _begin_part(self, item: RecordedInput) -> None:
        data = item.data
        run, part = data.get("run"), data.get("part")
        follows = self._run is not None and self._run == (run, (part or 0) - 1)
        self._run = (run, part)
        if follows:
            return
        settings = settings_from_json(data.get("settings") or {})
        snapshot = None
        if data.get("snapshot") is not None and not self._settings.sets_the_watch:
            snapshot = snapshot_from_data(data["snapshot"])
        core = Core(self._settings.core_settings(settings), mono_s=item.mono_s, snapshot=snapshot)
        self.core = self._new_core(core)
        if snapshot is not None:
            self._tell(core.resumed())

    def _new_core(self, core: Core) -> Core:
        if self._settings.date is not None:
            core.clock.assume_date(self._settings.date)
        return core

    # -- setting the watch ---------------------------------------------------------------------

    def _set_the_watch(self, mono_s: float) -> None:
        settings = self._settings
        point = self.core.watch.point
        if point is None or point is self._looked_at:
            return
        self._looked_at = point
        if settings.drop is not None:
            if not self._lies_at(settings.drop):
                return
        elif not self._reached(mono_s):
            return
        self._pending = False
        self._command(
            mono_s,
            LetGo(
                rode_m=settings.rode_m,
                depth_m=settings.depth_m,
                drop=settings.drop,
                late=settings.set_late_at is not None,
            ),
        )

    def _lies_at(self, drop: Position) -> bool:
        """Whether she has come to lie where her rode lets her: a log may begin under way.

        True when she has been within reach of the drop point for ``LIES_S`` and is slow.
        """
        point, position = self.core.watch.point, self.core.watch.position
        if point is None or position is None:
            return False
        if self._drop_plane is None:
            self._drop_plane = LocalPlane(drop)
        east_m, north_m = self._drop_plane.to_plane(position.lat_deg, position.lon_deg)
        if math.hypot(east_m, north_m) > self._within_m:
            self._within_since_s = None
            return False
        if self._within_since_s is None:
            self._within_since_s = point.time_s
        slow = math.hypot(point.east_mps, point.north_mps) < LIES_MPS
        return slow and point.time_s - self._within_since_s >= LIES_S

    def _reached(self, mono_s: float) -> bool:
        utc_s = self.core.utc_s(mono_s)
        if utc_s is None:
            return False
        if self._target_s is None:
            wanted = self._settings.drop_at or self._settings.set_late_at
            if isinstance(wanted, dt.datetime):
                self._target_s = wanted.timestamp()
            elif wanted is not None:
                tod_s = wanted.hour * 3600.0 + wanted.minute * 60.0 + wanted.second
                self._target_s = utc_s + (tod_s - utc_s % _DAY_S) % _DAY_S
        return self._target_s is not None and utc_s >= self._target_s

    def _command(self, mono_s: float, command: Command) -> None:
        reply = self.core.command(mono_s, command)
        self._tell(reply.events)
        if not reply.accepted:
            self.refusals.append(f"{reply.text} {reply.remedy}".strip())

    def _tell(self, events: Iterable[Event]) -> None:
        for event in events:
            self._on_event(event)
