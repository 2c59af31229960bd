"""The records of anchorings, kept up beside the watch and asked when the anchor is let go.

Whatever is wrong with them, the watch goes on: one thread of its own does the waiting for the disk,
nothing here raises, and a failure is logged once.
"""

import asyncio
import logging
import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Final, TypeVar

from driftlead.alerts.alert import Alert
from driftlead.core.events_json import event_to_data
from driftlead.core.reply import Event
from driftlead.core.state_event import StateEvent
from driftlead.core.status import Status
from driftlead.errors import DriftleadError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring
from driftlead.records.builder import AnchoringBuilder
from driftlead.records.from_journal import read_up_to, update_from_journal
from driftlead.records.store import Records
from driftlead.units import Printer

_LOGGER = logging.getLogger(__name__)
LOOK_EVERY: Final = 5
"""Seconds between two looks at the watch."""
SAVE_EVERY: Final = 1800
"""Seconds between two savings of what no event has told of, such as the track."""
TAKE_UP_LIMIT_S: Final = 1.0
"""How long a start waits for the anchoring that a restart has interrupted."""
_BUSY_S: Final = 0.5
_CLOSE_LIMIT_S: Final = 2.0
_NEAR_M: Final = 1000.0
"""No yacht's anchor lies farther off than this."""
_T = TypeVar("_T")


class Remembering:
    """Keeps ``path`` up to date from the events and looks at the status; reads ``journal`` too."""

    def __init__(self, path: Path, journal: Path, *, units: Printer) -> None:
        self._path = path
        self._journal = journal
        self._units = units
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="records")
        self._builder = AnchoringBuilder()
        self._seconds = 0
        self._failing = False

    async def take_up(self, drop: Position, state: str) -> None:
        """Go on with the anchoring that a restart has interrupted, if it can be read in time.

        It is the one that was let go at ``drop``, or near: a mark may be made better. ``state`` is
        the state of the watch that goes on.
        """
        reading = self._submit(lambda records: records.unfinished(), None)
        try:
            async with asyncio.timeout(TAKE_UP_LIMIT_S):
                unfinished = await reading
            if unfinished is not None and _lies_near(unfinished.drop, drop):
                self._builder = AnchoringBuilder(unfinished, state=state)
        except TimeoutError:
            _LOGGER.warning(
                "The records %s are slow: the track so far is not gone on with.", self._path
            )

    def hear(self, event: Event) -> None:
        """Take note of an event."""
        if not isinstance(event, StateEvent | Alert):
            return
        try:
            ended = self._builder.hear(event_to_data(event))
            if ended is not None:
                self._save(ended)
            if isinstance(event, StateEvent):
                self._save(self._builder.under_way)
        except Exception:  # the watch does not depend on it
            _LOGGER.exception("An event is not remembered")

    def look(self, status: Callable[[], Status]) -> None:
        """Take note of the watch as it stands; call it every second."""
        self._seconds += 1
        if self._seconds % LOOK_EVERY:
            return
        try:
            self._builder.look(status())
            if self._seconds % SAVE_EVERY == 0:
                self._save(self._builder.under_way)
        except Exception:  # the watch does not depend on it
            _LOGGER.exception("The watch is not remembered")

    def dragged_here(
        self, place: Position, *, reach_m: float, bow_height_m: float
    ) -> "asyncio.Future[str | None]":
        """Say what is remembered of drags at a place; None if nothing is, or cannot be read.

        ``reach_m`` is how far from there she may swing.
        """

        def find(records: Records) -> str | None:
            # Heavy, and only needed here.
            from driftlead.records.near import CIRCLE_M, dragged_here, remark  # noqa: PLC0415

            found = dragged_here(records.all(), place, circle_m=max(CIRCLE_M, reach_m))
            return remark(found, self._units, bow_height_m=bow_height_m)

        return self._submit(find, None)

    def update(self) -> "asyncio.Future[int]":
        """Read in what the journal has; give the event up to which it is not needed any more."""

        def read(records: Records) -> int:
            update_from_journal(records, self._journal)
            return read_up_to(records, self._journal)

        return self._submit(read, 0)

    async def close(self) -> None:
        """Save what is under way."""
        self._save(self._builder.under_way)
        done = asyncio.wrap_future(self._thread.submit(lambda: None))
        self._thread.shutdown(wait=False)
        await asyncio.wait({done}, timeout=_CLOSE_LIMIT_S)

    def _save(self, anchoring: Anchoring | None) -> None:
        if anchoring is not None:
            self._submit(lambda records: records.save(anchoring), 0)

    def _submit(self, work: Callable[[Records], _T], otherwise: _T) -> "asyncio.Future[_T]":
        return asyncio.wrap_future(self._thread.submit(self._do, work, otherwise))

    def _do(self, work: Callable[[Records], _T], otherwise: _T) -> _T:
        """Do some work with the records, in the thread; ``otherwise`` is its result if it fails."""
        try:
            with Records.open(self._path, busy_s=_BUSY_S) as records:
                done = work(records)
        except Exception as error:  # the watch does not depend on it
            if not self._failing:
                # A fault of ours is told with where it was, one of the disk with its remedy.
                _LOGGER.warning(
                    "Anchorings are not remembered: %s",
                    error,
                    exc_info=not isinstance(error, DriftleadError),
                )
            self._failing = True
            return otherwise
        self._failing = False
        return done


def _lies_near(one: Position, other: Position) -> bool:
    return math.hypot(*LocalPlane(one).to_plane(other.lat_deg, other.lon_deg)) < _NEAR_M
