"""The daemon: everything put together, started, kept and stopped."""

import asyncio
import logging
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Final

from attrs import asdict

from driftlead.alerts.alert import Alert
from driftlead.check.finding import Finding, Level
from driftlead.check.notifiers import check_notifiers
from driftlead.config.load import core_settings
from driftlead.config.model import Config
from driftlead.core.events_json import event_to_data
from driftlead.core.inputs import Command, Fault, LetGo
from driftlead.core.reply import Event, Reply
from driftlead.daemon.buttons import Buttons
from driftlead.daemon.control import ControlServer
from driftlead.daemon.control_protocol import Answer, CheckRequest, Request, StatusRequest
from driftlead.daemon.control_socket import make_control_socket, remove_control_socket
from driftlead.daemon.core_clock import CoreClock
from driftlead.daemon.core_link import CoreLink
from driftlead.daemon.due_timer import DueTimer
from driftlead.daemon.events_file import EventsFile
from driftlead.daemon.journal_link import JournalLink
from driftlead.daemon.outlets import BuildNotifier, build_outlets
from driftlead.daemon.recording_link import RecordingLink
from driftlead.daemon.sd_notify import SdNotify
from driftlead.daemon.source_keeper import BuildSource, SourceKeeper
from driftlead.daemon.status_json import status_to_data
from driftlead.daemon.watchdog import is_judging
from driftlead.errors import DaemonError, JournalError
from driftlead.notify.dispatcher import Dispatcher
from driftlead.notify.faults import NotifierFaults
from driftlead.notify.lane import Outlet
from driftlead.notify.registry import build_notifier
from driftlead.sources.build import build_source

_LOGGER = logging.getLogger(__name__)
HOUSEKEEP_EVERY_S: Final = 1.0
RETRY_EVERY: Final = 3
"""Housekeepings between two tries at a journal that fails."""
SNAPSHOT_EVERY: Final = 60
"""Housekeepings between two savings of what changed without an event."""
SAVE_LIMIT_S: Final = 5.0
"""How long the answer to a command waits for the disk."""
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
        self._recording = RecordingLink(
            config.recording,
            on_fault=lambda text: self._fault(Fault(name="recording_failed", text=text)),
            get=self._journal.get,
            put=self._journal.put,
        )
        self._timer = DueTimer(clock=self._clock, on_due=self._on_due)
        self._link = CoreLink(
            core_settings(config),
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
        self._housekeepings = 0
        self._judged_s: float | None = None
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
            self._systemd.ready()
            keeping = asyncio.create_task(self._keep_house(), name="housekeeping")
            await self._stop.wait()
            keeping.cancel()
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
            self._outlets, on_fault=self._faults.sending, sleep=self._sleep
        )
        self._link.begin(loaded.snapshot)
        if loaded.unwritable is not None:
            self._on_journal(loaded.unwritable)
        if loaded.damaged is not None:
            self._link.fault(Fault(name="journal_failed", instance="watch", text=loaded.damaged))
        self._buttons.open()
        self._sources.start()
        self._recording.tidy()
        _LOGGER.info("Watching. The watch is %s.", self._link.core.watch.state.value)

    async def _close(self) -> None:
        self._systemd.stopping()
        await self._sources.stop()
        self._buttons.close()
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
        if self._housekeepings % SNAPSHOT_EVERY == 0:
            link.keep_snapshot()
        if self._housekeepings % RETRY_EVERY == 0:
            self._journal.retry()
        self._recording.watch_is(link.core.on_watch)
        self._recording.housekeep(self._clock(), header=lambda: link.header(link.core.snapshot()))
        self._tell_systemd()

    def _tell_systemd(self) -> None:
        core = self._link.core
        now_s = self._clock()
        status = core.status(now_s)
        judged_s = core.watch.blindness.fix_mono_s
        if is_judging(
            on_watch=core.on_watch,
            judged_a_fix=judged_s != self._judged_s,
            loss_is_declared=any(alert.name in _BLIND for alert in status.alerts),
            seconds_to_limit=None if core.next_due_s is None else core.next_due_s - now_s,
        ):
            self._judged_s = judged_s
            self._systemd.alive()
        alerts = ", ".join(f"{alert.priority.value} {alert.name}" for alert in status.alerts)
        said = f"{status.state}; {alerts or 'no alerts'}"
        if said != self._said:
            self._said = said
            self._systemd.status(said)

    # -- what comes out of the core --------------------------------------------------------------

    def _tell(self, event: Event) -> None:
        if isinstance(event, Alert):
            if self._dispatcher is not None:
                self._dispatcher.dispatch(event)
        else:
            _LOGGER.info("The watch is %s (%s, %s).", event.state, event.name, event.reason)
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
        return reply, saved

    # -- the control socket ----------------------------------------------------------------------

    async def _answer(self, request: Request) -> Answer:
        if not self._link.is_running:
            raise DaemonError("The daemon is stopping.", remedy="Start it again.")
        if isinstance(request, StatusRequest):
            return Answer(ok=True, status=self._status())
        if isinstance(request, CheckRequest):
            checks = await self._check()
            return Answer(ok=True, checks=tuple(asdict(check) for check in checks))
        reply, saved = self._command(request)
        events = tuple(event_to_data(event) for event in reply.events)
        if not reply.accepted:
            return Answer(ok=False, text=reply.text, remedy=reply.remedy, events=events)
        trouble = await self._not_saved(saved)
        if trouble is None:
            return Answer(ok=True, done=True, text=reply.text, events=events)
        return Answer(
            ok=False,
            done=True,
            text=f"{reply.text} It is done, but it is NOT ON THE DISK, and a restart or a power cut"
            f" would undo it. {trouble.message}",
            remedy=trouble.remedy,
            events=events,
        )

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
            journal_ok=not self._journal.is_failing,
            recording_ok=self._link.fault_text("recording_failed", "") is None,
            lost_lines=self._recording.lost_lines,
        )

    async def _check(self) -> list[Finding]:
        built = {outlet.name for outlet in self._outlets}
        not_built = [
            Finding(
                Level.FAIL,
                f"notifier {settings.name}",
                self._link.fault_text("notifier_failed", settings.name) or "It was not built.",
            )
            for settings in self._config.notifiers
            if settings.name not in built
        ]
        return [*not_built, *await check_notifiers(self._outlets, sleep=self._sleep)]
