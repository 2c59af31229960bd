"""What goes on now: looked at each second, and told to everybody who listens."""

import asyncio
import json
import logging
import secrets
from collections.abc import Callable
from typing import Any, Final

from driftlead.alerts.watch_bill import WatchBill
from driftlead.core.reply import Event
from driftlead.errors import DaemonError
from driftlead.units import Printer
from driftlead.watch.settings import WatchSettings
from driftlead.web.deck import Deck
from driftlead.web.event_log import EventLog
from driftlead.web.event_stream import event_frame
from driftlead.web.now_json import now_to_data
from driftlead.web.track_history import TrackHistory

_LOGGER = logging.getLogger(__name__)
BEAT_EVERY: Final = 2
"""Ticks, which are a second each."""
MOST_MISSED: Final = 15
"""One who has missed so many frames in a row takes nothing any more."""


class Listener:
    """One who listens: events from ``number`` on are still to be told, and perhaps a frame.

    There is no queue: the events are kept once for all, and of frames only the latest counts. So
    one who is slow misses frames, never an event, and costs no memory. ``hang_up`` ends it for one
    who takes nothing.
    """

    def __init__(self, number: int, device_id: str | None) -> None:
        self.number = number
        self.device_id = device_id
        self.frame: bytes | None = None
        self.missed = 0
        self.ended = False
        self.woken = asyncio.Event()
        self.hang_up: Callable[[], None] = lambda: None


class Live:
    """One run of the daemon as it is told. ``clock`` gives monotonic seconds."""

    def __init__(
        self,
        deck: Deck,
        *,
        watch: WatchSettings,
        boat_name: str,
        bill: WatchBill,
        units: Printer,
        clock: Callable[[], float],
    ) -> None:
        self._deck = deck
        self._watch = watch
        self._boat_name = boat_name
        self._bill = bill
        self._units = units
        self._clock = clock
        self._began_s = clock()
        self.run_id = secrets.token_hex(4)
        self.history = TrackHistory()
        self.events = EventLog(self.run_id)
        self._listeners: set[Listener] = set()
        self._ticks = 0
        self._failing = False
        self.turn = asyncio.Lock()
        """Whoever does more than a little for a client takes turns with the others: so all of them
        together never keep the watch from hearing a fix for longer than one alone does."""

    @property
    def listeners(self) -> int:
        """How many listen."""
        return len(self._listeners)

    def run_s(self) -> float:
        """How long this run has lasted."""
        return self._clock() - self._began_s

    def now(self) -> dict[str, Any]:
        """Everything for one glance. Raises DaemonError while the daemon starts or stops."""
        glance = self._deck.glance()
        run_s = self.run_s()
        self.history.look(run_s, glance.status)
        return now_to_data(
            glance,
            self.history,
            run_id=self.run_id,
            run_s=run_s,
            watch=self._watch,
            boat_name=self._boat_name,
            bill=self._bill,
            units=self._units,
        )

    def tell(self, event: Event) -> None:
        """Hear of an event; what is no alert or change of state is not told on."""
        self.history.hear(event)
        if self.events.hear(event, self.run_s()):
            for listener in self._listeners:
                listener.woken.set()

    def tick(self) -> None:
        """What is done each second. Without a word from the core there is no beat either."""
        try:
            now = self.now()
        except DaemonError:
            return
        except Exception:  # the watch must not suffer from those who look at it
            if not self._failing:
                _LOGGER.exception("How she lies cannot be told to the page")
            self._failing = True
            return
        self._failing = False
        self._ticks += 1
        if not self._listeners:
            return
        frame = self._frame(now, beat=self._ticks % BEAT_EVERY == 0)
        for listener in self._listeners:
            listener.missed = 0 if listener.frame is None else listener.missed + 1
            listener.frame = frame
            listener.woken.set()
            if listener.missed > MOST_MISSED:
                listener.hang_up()

    def listen(self, *, number: int, device_id: str | None) -> Listener:
        """Begin to listen, with the events after that number. Raises DaemonError as ``now``."""
        listener = Listener(number, device_id)
        listener.frame = self._frame(self.now(), beat=True)
        listener.woken.set()
        self._listeners.add(listener)
        return listener

    def leave(self, listener: Listener) -> None:
        """Listen no more."""
        self._listeners.discard(listener)

    def end(self, device_id: str | None = None) -> None:
        """End what this device listens to; None: what anybody does."""
        for listener in self._listeners:
            if device_id is None or listener.device_id == device_id:
                listener.ended = True
                listener.woken.set()

    def _frame(self, now: dict[str, Any], *, beat: bool) -> bytes:
        frame = event_frame("now", json.dumps(now, separators=(",", ":")))
        if beat:
            data = {"run_id": self.run_id, "run_s": now["run_s"]}
            frame += event_frame("beat", json.dumps(data, separators=(",", ":")))
        return frame
