"""The one way to the core: stamp, record, feed, and hand on what comes out.

Everything here runs in the event loop's thread and nothing in it waits, so inputs reach the
recording and the core in the same order, one after another.
"""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from typing import Any, Protocol, TypeVar

from attrs import evolve

from driftlead.core.core import Core
from driftlead.core.events_json import event_to_json
from driftlead.core.inputs import Command, Fault
from driftlead.core.inputs_json import command_to_json, fault_to_json
from driftlead.core.reply import Event, Reply
from driftlead.core.settings import CoreSettings
from driftlead.core.settings_json import settings_to_json
from driftlead.core.snapshot import Snapshot, snapshot_to_data, snapshot_to_json
from driftlead.lines import StampedLine

_T = TypeVar("_T")


class InputRecorder(Protocol):
    """Where every input is written, in order."""

    def start(self, mono_s: float, *, header: Mapping[str, Any]) -> None:
        """Begin a run; ``header`` is what a replay must know first."""

    def line(self, line: StampedLine) -> None:
        """Record a line."""

    def input(self, mono_s: float, kind: str, data: Mapping[str, Any]) -> None:
        """Record an input that is not a line."""


class CoreLink:
    """Holds the core, from ``begin`` to ``end``.

    ``tell`` hears every event at once; ``save`` takes the snapshot and the new events, as text,
    to the disk. ``on_due`` is told after each input when the core next wants ``tick``.
    ``on_broken`` hears of an exception out of the core: its state cannot be trusted then.
    """

    def __init__(
        self,
        settings: CoreSettings,
        *,
        clock: Callable[[], float],
        recorder: InputRecorder,
        tell: Callable[[Event], None],
        save: Callable[[str, Sequence[str]], Awaitable[None]],
        on_due: Callable[[float | None], None],
        on_broken: Callable[[Exception], None],
    ) -> None:
        self._settings = settings
        self._clock = clock
        self._recorder = recorder
        self._tell = tell
        self._save = save
        self._on_due = on_due
        self._on_broken = on_broken
        self._last_s = clock()
        self._core: Core | None = None
        self._faults: dict[tuple[str, str], str] = {}
        self._saved = ""

    @property
    def core(self) -> Core:
        """The core, to be looked at; what changes it goes through here."""
        if self._core is None:
            raise RuntimeError("the core is only there between begin and end")
        return self._core

    @property
    def is_running(self) -> bool:
        """Whether inputs are taken."""
        return self._core is not None

    def header(self, snapshot: Snapshot | None) -> dict[str, Any]:
        """What a replay must know before the first input after ``snapshot``."""
        return {
            "settings": settings_to_json(self._settings),
            "snapshot": None if snapshot is None else snapshot_to_data(snapshot),
        }

    def begin(self, snapshot: Snapshot | None) -> None:
        """Begin a run; with ``snapshot``, take that watch up again."""
        mono_s = self._now()
        self._recorder.start(mono_s, header=self.header(snapshot))
        core = self._core = Core(self._settings, mono_s=mono_s, snapshot=snapshot)
        self._hand_on(core.resumed() if snapshot is not None else ())
        self._on_due(core.next_due_s)

    def line(self, line: StampedLine) -> None:
        """Take a line from a source."""
        core = self._core
        if core is None:
            return
        if line.mono_s < self._last_s:
            line = evolve(line, mono_s=self._last_s)
        self._last_s = line.mono_s
        self._recorder.line(line)
        try:
            events = core.feed(line)
        except Exception as error:
            self._on_broken(error)
            raise
        if events:
            self._hand_on(events)
        self._on_due(core.next_due_s)

    def command(self, command: Command) -> tuple[Reply, Awaitable[None] | None]:
        """Carry out a command: the answer, and what to wait for until it is on the disk."""
        core = self.core
        mono_s = self._now()
        self._recorder.input(mono_s, "command", command_to_json(command))
        reply = self._ask(lambda: core.command(mono_s, command))
        saved = self._hand_on(reply.events) if reply.events else None
        self._on_due(core.next_due_s)
        return reply, saved if reply.accepted else None

    def fault(self, fault: Fault) -> None:
        """Hear that something of ours has failed or works again; what is no news is dropped."""
        core = self._core
        key = (fault.name, fault.instance)
        if core is None or self._faults.get(key) == fault.text:
            return
        if fault.text is None:
            del self._faults[key]
        else:
            self._faults[key] = fault.text
        mono_s = self._now()
        self._recorder.input(mono_s, "fault", fault_to_json(fault))
        events = self._ask(lambda: core.fault(mono_s, fault))
        if events:
            self._hand_on(events)
        self._on_due(core.next_due_s)

    def tick(self) -> None:
        """Let the core decide what time alone decides."""
        core = self._core
        if core is None:
            return
        mono_s = self._now()
        events = self._ask(lambda: core.advance(mono_s))
        if events:
            self._recorder.input(mono_s, "tick", {})
            self._hand_on(events)
        self._on_due(core.next_due_s)

    def keep_snapshot(self) -> None:
        """Save what has changed without an event, such as how far she has dragged."""
        if self._core is not None and snapshot_to_json(self._core.snapshot()) != self._saved:
            self._hand_on(())

    def fault_text(self, name: str, instance: str) -> str | None:
        """What is wrong with this of ours at the moment, None if nothing is."""
        return self._faults.get((name, instance))

    def end(self) -> float:
        """Take no more inputs; when the last may have been."""
        self._core = None
        self._on_due(None)
        return self._now()

    def _now(self) -> float:
        self._last_s = max(self._last_s, self._clock())
        return self._last_s

    def _ask(self, work: Callable[[], _T]) -> _T:
        try:
            return work()
        except Exception as error:
            self._on_broken(error)
            raise

    def _hand_on(self, events: Sequence[Event]) -> Awaitable[None]:
        for event in events:
            self._tell(event)
        self._saved = snapshot_to_json(self.core.snapshot())
        return self._save(self._saved, [event_to_json(event) for event in events])
