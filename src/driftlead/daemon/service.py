"""The daemon: everything put together, started, kept and stopped."""

import asyncio
import logging
import time
from collections.abc import Awaitable, Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from attrs import asdict

from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call
from driftlead.check.finding import Finding, Level
from driftlead.check.notifiers import check_notifiers
from driftlead.config.load import core_settings
from driftlead.config.model import Config
from driftlead.core.events_json import event_to_data
from driftlead.core.inputs import Command, Fault, LetGo
from driftlead.core.reply import Event, Reply
from driftlead.core.state_event import StateEvent
from driftlead.daemon.buttons import Buttons
from driftlead.daemon.control import ControlServer
from driftlead.daemon.control_protocol import (
    Answer,
    CheckRequest,
    DrillRequest,
    Request,
    StatusRequest,
    WebRequest,
)
from driftlead.daemon.control_socket import make_control_socket, remove_control_socket
from driftlead.daemon.core_clock import CoreClock
from driftlead.daemon.core_link import CoreLink
from driftlead.daemon.due_timer import DueTimer
from driftlead.daemon.events_file import EventsFile
from driftlead.daemon.health import Health, Probe
from driftlead.daemon.journal_link import JournalLink
from driftlead.daemon.outlets import BuildNotifier, build_outlets
from driftlead.daemon.own_files import check_files, with_files
from driftlead.daemon.recording_link import RecordingLink
from driftlead.daemon.remembering import Remembering
from driftlead.daemon.sd_notify import SdNotify
from driftlead.daemon.source_keeper import BuildSource, SourceKeeper
from driftlead.daemon.status_json import status_to_data
from driftlead.daemon.status_line import status_line
from driftlead.daemon.watchdog import is_judging
from driftlead.daemon.web_answer import answer_web
from driftlead.drill.drills import Drills
from driftlead.errors import DaemonError, JournalError
from driftlead.notify.base import GivesCommands
from driftlead.notify.carried import Carried
from driftlead.notify.dispatcher import Dispatcher
from driftlead.notify.faults import NotifierFaults
from driftlead.notify.heartbeat import Heart
from driftlead.notify.lane import Outlet
from driftlead.notify.registry import build_notifier
from driftlead.sources.build import build_source
from driftlead.units import Printer

if TYPE_CHECKING:
    from driftlead.web.server import WebServer

_LOGGER = logging.getLogger(__name__)
HOUSEKEEP_EVERY_S: Final = 1.0
RETRY_EVERY: Final = 3
"""Housekeepings between two tries at a journal that fails."""
SNAPSHOT_EVERY: Final = 60
"""Housekeepings between two savings of what changed without an event."""
SNAPSHOT_EVERY_UNANSWERED: Final = 5
"""The same while an alert waits for its answer: how far the calling has got must not be lost."""
PRUNE_EVERY: Final = 3600
"""Housekeepings between two prunings of the journal."""
REMARK: Final = "dragged_here_before"
REMARK_LIMIT_S: Final = 0.5
"""How long the answer to a let go, once it is on the disk, waits for what the records say."""
SAVE_LIMIT_S: Final = 5.0
"""How long the answer to a command waits for the disk."""
_CARRIED: Final = "carried"
_BLIND: Final = frozenset({"data_stale", "fix_lost"})


class Service:
    """One running daemon. ``run`` returns when ``request_stop`` was called and all is closed."""

    def __init__(
        self,
        config: Config,
        *,
        monotonic: Callable[[], float] = time.monotonic,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
        systemd: SdNotify | None = None,
        events_path: Path | None = None,
        make_notifier: BuildNotifier = build_notifier,
        make_source: BuildSource = build_source,
        probes: Iterable[Probe] = (),
    ) -> None:
        """Make it within the event loop; nothing is opened yet."""
        self._config = config
        self._sleep = sleep
        self._systemd = systemd or SdNotify(None)
        self._make_notifier = make_notifier
        self._loop = asyncio.get_running_loop()
        self._stop = asyncio.Event()
        self._broken: Exception | None = None
        self._clock = CoreClock(monotonic)
        self._journal = JournalLink(
            config.journal.path, on_fault=self._on_journal, workspace=config.control.socket.parent
        )
        self._remembering = Remembering(
            config.journal.path.with_name("records.db"),
            config.journal.path,
            units=Printer() if config.web is None else config.web.plan.printer,
        )
        self._remark: asyncio.Task[str | None] | None = None
        self._pruning: asyncio.Task[None] | None = None
        self._recording = RecordingLink(
            config.recording,
            on_fault=lambda text: self._fault(Fault(name="recording_failed", text=text)),
            get=self._journal.get,
            put=self._journal.put,
        )
        self._timer = DueTimer(clock=self._clock, on_due=self._on_due)
        settings, self._unread = with_files(core_settings(config), config)
        self._link = CoreLink(
            settings,
            clock=self._clock,
            recorder=self._recording,
            tell=self._tell,
            save=self._journal.save,
            on_due=self._timer.arm,
            on_broken=self._on_broken,
        )
        self._events = (
            None
            if events_path is None
            else EventsFile(
                events_path,
                on_fault=lambda text: self._fault_later(
                    Fault(name="recording_failed", instance="events", text=text)
                ),
            )
        )
        self._faults = NotifierFaults(
            lambda name, text: self._fault_later(
                Fault(name="notifier_failed", instance=name, text=text)
            )
        )
        self._outlets: list[Outlet] = []
        self._dispatcher: Dispatcher | None = None
        self._heart = Heart(())
        self._health = Health(probes, on_fault=self._link.fault, sleep=sleep)
        alerts = core_settings(config).alerts
        self._drills = Drills(
            command=self._command_of_ours,
            clock=self._clock,
            sleep=sleep,
            trouble_of=lambda name: self._link.fault_text("notifier_failed", name),
            crew=alerts.bill.crew,
            patience_s=alerts.escalation.everyone_after_s if alerts.bill.crew else 0.0,
        )
        self._sources = SourceKeeper(
            config.sources,
            emit=self._link.line,
            clock=self._clock,
            on_fault=self._link.fault,
            sleep=sleep,
            build=make_source,
        )
        self._buttons = Buttons(
            config.buttons, on_command=self._on_button, on_fault=self._link.fault
        )
        self._control = ControlServer(self._answer)
        self._web = self._make_web()
        self._housekeepings = 0
        self._judged_s: float | None = None
        self._is_unanswered = False
        self._said = ""

    def request_stop(self) -> None:
        """Stop soon."""
        self._stop.set()

    async def run(self) -> None:
        """Keep the watch until told to stop.

        Raises DaemonError when it cannot start, and whatever broke the core: it is then best
        started anew, and takes the watch up from the journal.
        """
        listening = make_control_socket(self._config.control)
        try:
            await self._start()
            await self._control.start(listening)
            if self._web is not None:
                await self._web.start()
            self._systemd.ready()
            keeping = asyncio.create_task(self._keep_house(), name="housekeeping")
            health = asyncio.create_task(self._health.run(), name="health")
            await self._stop.wait()
            keeping.cancel()
            health.cancel()
        finally:
            await self._close()
            remove_control_socket(self._config.control.socket, listening)
        if self._broken is not None:
            raise self._broken

    # -- start, stop and what is done every second -----------------------------------------------

    async def _start(self) -> None:
        loaded = await self._journal.load()
        if loaded.snapshot is not None and loaded.snapshot.state.on_watch:
            await self._recording.remember()
            if loaded.snapshot.anchored is not None:
                await self._remembering.take_up(
                    loaded.snapshot.anchored.drop, loaded.snapshot.state.value
                )
        carried = Carried.from_json(await self._journal.get(_CARRIED))
        # From here to the sources nothing waits: no input can come in between.
        self._outlets = build_outlets(
            self._config,
            state_dir=self._config.journal.path.parent,
            clock=self._clock,
            sleep=self._sleep,
            faults=self._faults,
            build=self._make_notifier,
        )
        if not self._outlets:
            _LOGGER.critical("No notifier works: nobody will be woken. Add a [[notifier]].")
        self._dispatcher = Dispatcher(
            self._outlets,
            on_fault=self._faults.sending,
            sleep=self._sleep,
            carried=carried,
            on_carried=lambda known: self._journal.keep(_CARRIED, known.to_json()),
            on_attempted=self._drills.attempted,
        )
        self._heart = Heart(self._outlets)
        self._link.begin(loaded.snapshot)
        if loaded.unwritable is not None:
            self._on_journal(loaded.unwritable)
        if loaded.damaged is not None:
            self._link.fault(Fault(name="journal_failed", instance="watch", text=loaded.damaged))
        for fault in self._unread:
            self._link.fault(fault)
        for outlet in self._outlets:
            if isinstance(outlet.notifier, GivesCommands):
                outlet.notifier.give_commands_to(self._command_of_ours)
        self._buttons.open()
        self._sources.start()
        self._recording.tidy()
        _LOGGER.info("Watching. The watch is %s.", self._link.core.watch.state.value)

    async def _close(self) -> None:
        self._systemd.stopping()
        await self._sources.stop()
        self._buttons.close()
        if self._web is not None:
            await self._web.close()
        await self._control.close()
        if self._link.is_running:
            if self._link.core.on_watch:
                _LOGGER.warning("Stopped with the anchor down: nobody keeps the watch now.")
            ended_s = self._link.end()
            if self._broken is None:
                self._recording.close(ended_s)
            else:
                self._recording.flush()
        if self._dispatcher is not None:
            await self._dispatcher.close()
        for task in (self._remark, self._pruning):
            if task is not None:
                task.cancel()
        await self._remembering.close()
        await self._journal.close()

    async def _keep_house(self) -> None:
        try:
            while True:
                await self._sleep(HOUSEKEEP_EVERY_S)
                self.housekeep()
        except Exception as error:
            self._on_broken(error)
            raise

    def housekeep(self) -> None:
        """What is done every second."""
        link = self._link
        link.tick()
        self._housekeepings += 1
        every = SNAPSHOT_EVERY_UNANSWERED if self._is_unanswered else SNAPSHOT_EVERY
        if self._housekeepings % every == 0:
            link.keep_snapshot()
        if self._housekeepings % RETRY_EVERY == 0:
            self._journal.retry()
        if self._housekeepings % PRUNE_EVERY == 1 and _is_over(self._pruning):
            self._pruning = asyncio.create_task(self._prune(), name="prune journal")
        self._remembering.look(lambda: link.core.status(self._clock()))
        self._recording.watch_is(link.core.on_watch)
        self._recording.housekeep(self._clock(), header=lambda: link.header(link.core.snapshot()))
        self._tell_systemd()

    async def _prune(self) -> None:
        read_up_to = await self._remembering.update()
        await self._journal.prune(self._config.journal, protect_from=read_up_to + 1)

    def _tell_systemd(self) -> None:
        core = self._link.core
        now_s = self._clock()
        status = core.status(now_s)
        self._is_unanswered = any(alert.state.is_unanswered for alert in status.alerts)
        judged_s = core.watch.blindness.fix_mono_s
        if is_judging(
            on_watch=core.on_watch,
            judged_a_fix=judged_s != self._judged_s,
            loss_is_declared=any(alert.name in _BLIND for alert in status.alerts),
            seconds_to_limit=None if core.next_due_s is None else core.next_due_s - now_s,
        ):
            self._judged_s = judged_s
            self._systemd.alive()
            self._heart.beat(on_watch=core.on_watch)
        said = status_line(status, on_watch=core.on_watch)
        if said != self._said:
            self._said = said
            self._systemd.status(said)

    # -- what comes out of the core --------------------------------------------------------------

    def _tell(self, event: Event) -> None:
        if isinstance(event, StateEvent):
            _LOGGER.info("The watch is %s (%s, %s).", event.state, event.name, event.reason)
        elif self._dispatcher is not None:
            # An alert itself is told by the calls that follow it.
            if isinstance(event, Call):
                self._dispatcher.dispatch(event)
            elif isinstance(event, AllsWell):
                self._dispatcher.alls_well(event)
        self._drills.hear(event)
        self._remembering.hear(event)
        if self._web is not None:
            self._web.tell(event)
        if self._events is not None:
            self._events.write(event)

    def _on_due(self) -> None:
        self._link.tick()

    def _on_broken(self, error: Exception) -> None:
        if self._broken is None:
            _LOGGER.critical("The core broke; the daemon stops to be started anew", exc_info=error)
            self._broken = error
        self._stop.set()

    # -- what goes into the core -----------------------------------------------------------------

    def _fault(self, fault: Fault) -> None:
        self._link.fault(fault)

    def _fault_later(self, fault: Fault) -> None:
        # From another thread, or from within the core's own handing on.
        if not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._link.fault, fault)

    def _on_journal(self, text: str | None) -> None:
        self._link.fault(Fault(name="journal_failed", text=text))

    def _on_button(self, command: Command) -> None:
        if not self._link.is_running:
            return
        reply, _saved = self._command(command)
        _LOGGER.log(
            logging.INFO if reply.accepted else logging.WARNING,
            "Button: %s %s",
            reply.text,
            reply.remedy,
        )

    def _command(self, command: Command) -> tuple[Reply, Awaitable[None] | None]:
        reply, saved = self._link.command(command)
        if reply.accepted and isinstance(command, LetGo):
            # A new watch: that an older one was lost no longer matters.
            self._link.fault(Fault(name="journal_failed", instance="watch", text=None))
            # What was remembered of the place before is not about this one.
            self._link.fault(Fault(name=REMARK, text=None))
            self._remark = asyncio.create_task(self._look_up_drags(), name="records")
        return reply, saved

    async def _look_up_drags(self) -> str | None:
        """Say what is remembered of drags here, and let the core keep it as a caution."""
        watch = self._link.core.watch
        anchored = watch.anchored
        if anchored is None:
            return None
        circle, _whole = anchored.circle(watch.settings)
        text = await self._remembering.dragged_here(
            anchored.drop,
            reach_m=0.0 if circle is None else circle.radius_m,
            bow_height_m=watch.settings.boat.bow_height_m,
        )
        if text is None or not self._link.is_running:
            return None
        if not self._link.core.on_watch or self._remark is not asyncio.current_task():
            return None  # weighed meanwhile, or let go anew
        self._link.fault(Fault(name=REMARK, text=text))
        return text

    async def _remarked(self) -> str:
        """What the records say of the place, as far as they say it in time."""
        if self._remark is None:
            return ""
        done, _ = await asyncio.wait({self._remark}, timeout=REMARK_LIMIT_S)
        text = self._remark.result() if done and not self._remark.cancelled() else None
        return "" if text is None else f"\n{text}"

    # -- the control socket ----------------------------------------------------------------------

    async def _answer(self, request: Request) -> Answer:
        if not self._link.is_running:
            raise DaemonError("The daemon is stopping.", remedy="Start it again.")
        if isinstance(request, StatusRequest):
            return Answer(ok=True, status=self._status())
        if isinstance(request, CheckRequest):
            checks = await self._check()
            return Answer(ok=True, checks=tuple(asdict(check) for check in checks))
        if isinstance(request, DrillRequest):
            return await self._drill(request)
        if isinstance(request, WebRequest):
            return await answer_web(request, self._web)
        reply, saved = self._command(request)
        events = tuple(event_to_data(event) for event in reply.events)
        if not reply.accepted:
            return Answer(ok=False, text=reply.text, remedy=reply.remedy, events=events)
        trouble = await self._not_saved(saved)
        remark = await self._remarked() if isinstance(request, LetGo) else ""
        if trouble is None:
            return Answer(ok=True, done=True, text=f"{reply.text}{remark}", events=events)
        return Answer(
            ok=False,
            done=True,
            text=f"{reply.text} It is done, but it is NOT ON THE DISK, and a restart or a power cut"
            f" would undo it. {trouble.message}{remark}",
            remedy=trouble.remedy,
            events=events,
        )

    def _command_of_ours(self, command: Command) -> Reply:
        if not self._link.is_running:
            return Reply(accepted=False, text="The daemon is stopping.", remedy="Start it again.")
        return self._command(command)[0]

    async def _drill(self, request: DrillRequest) -> Answer:
        report = await self._drills.hold(
            {outlet.name: outlet.notifier for outlet in self._outlets},
            unbuilt=self._unbuilt(),
            until_acknowledged=request.until_acknowledged,
        )
        return Answer(ok=report.is_good, done=True, drill=report.to_data())

    async def _not_saved(self, saved: Awaitable[None] | None) -> JournalError | None:
        if saved is None:
            return None
        try:
            async with asyncio.timeout(SAVE_LIMIT_S):
                await saved
        except JournalError as error:
            return error
        except TimeoutError:
            return JournalError(
                f"The disk has not taken it within {SAVE_LIMIT_S:.0f} s.",
                remedy="Check the disk; driftlead status tells when the journal works again.",
            )
        return None

    def _status(self) -> dict[str, object]:
        core = self._link.core
        return status_to_data(
            core.status(self._clock()),
            on_watch=core.on_watch,
            health=self._sources.health,
            settings=core.watch.settings,
            **self._troubles(),
        )

    def _troubles(self) -> dict[str, Any]:
        return {
            "journal_ok": not self._journal.is_failing,
            "recording_ok": self._link.fault_text("recording_failed", "") is None,
            "lost_lines": self._recording.lost_lines,
        }

    def _make_web(self) -> "WebServer | None":
        if self._config.web is None:
            return None
        # A daemon without a page does not carry a server about.
        from driftlead.daemon.web_deck import WebDeck, make_web_server  # noqa: PLC0415

        deck = WebDeck(
            self._link,
            clock=self._clock,
            answer=self._answer,
            health=lambda: self._sources.health,
            troubles=self._troubles,
        )
        return make_web_server(
            self._config,
            deck,
            clock=self._clock,
            sleep=self._sleep,
            # A page at the bunk is a way of telling the crew.
            on_fault=lambda text: self._link.fault(
                Fault(name="notifier_failed", instance="page", text=text)
            ),
        )

    async def _check(self) -> list[Finding]:
        not_built = [
            Finding(Level.FAIL, f"notifier {name}", text) for name, text in self._unbuilt().items()
        ]
        proved = await check_notifiers(
            self._outlets,
            sleep=self._sleep,
            trouble_of=lambda name: self._link.fault_text("notifier_failed", name),
        )
        # What lies round the anchorage is a large import.
        return [*await asyncio.to_thread(check_files, self._config), *not_built, *proved]

    def _unbuilt(self) -> dict[str, str]:
        """The notifiers that could not be built, and why."""
        built = {outlet.name for outlet in self._outlets}
        return {
            settings.name: self._link.fault_text("notifier_failed", settings.name)
            or "It was not built."
            for settings in self._config.notifiers
            if settings.name not in built
        }


def _is_over(task: asyncio.Task[Any] | None) -> bool:
    return task is None or task.done()
