"""Anchorings from recorded nights, with track, rode, depth and wind."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from driftlead.core.core import Core
from driftlead.core.events_json import event_to_data
from driftlead.core.reply import Event
from driftlead.errors import UserInputError
from driftlead.records.anchoring import Anchoring
from driftlead.records.builder import AnchoringBuilder
from driftlead.replay.reader import LogReader
from driftlead.replay.runner import Runner
from driftlead.replay.settings import ReplaySettings
from driftlead.replay.trace import Trace

LOOK_EVERY_S: Final = 5.0


class _Looking(Trace):
    """Lets the builder look at the core now and then."""

    def __init__(self, builder: AnchoringBuilder) -> None:
        super().__init__()
        self._builder = builder
        self._looked_s = float("-inf")

    def look(self, core: Core) -> None:
        """Look, if it is time to."""
        point = core.watch.point
        mono_s = core.watch.blindness.fix_mono_s
        if point is None or mono_s is None or point.time_s - self._looked_s < LOOK_EVERY_S:
            return
        self._looked_s = point.time_s
        self._builder.look(core.status(mono_s))


def anchorings_of_nights(
    logs: Sequence[Path], settings: ReplaySettings | None = None
) -> tuple[tuple[Anchoring, ...], tuple[str, ...]]:
    """Replay recorded nights; give their anchorings, and what a person should know of the reading.

    The last anchoring may not have ended. Raises RecordingError for what cannot be replayed, and
    UserInputError for bare logs, which do not say where the anchor was let go.
    """
    found: list[Anchoring] = []
    builder = AnchoringBuilder()

    def hear(event: Event) -> None:
        ended = builder.hear(event_to_data(event))
        if ended is not None:
            found.append(ended)

    reader = LogReader.of(tuple(logs))
    settings = settings or ReplaySettings()
    if not (reader.recordings or settings.sets_the_watch):
        raise UserInputError(
            "A bare NMEA log does not say where the anchor was let go.",
            remedy="Give a recording made by driftlead (record, watch).",
        )
    runner = Runner(settings, on_event=hear, trace=_Looking(builder))
    for batch in reader.batches():
        runner.take(batch)
    runner.finish()
    if builder.under_way is not None:
        found.append(builder.under_way)
    return tuple(found), tuple(reader.faults)
