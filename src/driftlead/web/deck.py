"""What the page needs of the daemon: to look at the watch, and to give it commands."""

from collections.abc import Awaitable, Mapping
from typing import Any, Protocol

from attrs import field, frozen

from driftlead.core.core import Core
from driftlead.core.inputs import Command
from driftlead.core.status import Status
from driftlead.geodesy.position import Position
from driftlead.sources.base import SourceHealth


@frozen(kw_only=True)
class Glance:
    """How all stands at one moment.

    ``drop`` is where the anchor was let go, or its mark as corrected since, wherever a drag has
    carried it; None where none is down. ``log_odds`` (natural) that the anchor has moved, and which
    way (``moved_deg``, true), are the detector's; None before it has judged. ``tide``: the
    configured high and low waters, each Unix seconds and metres above chart datum. ``drill`` is the
    report of the last drill that was begun here (``DrillReport.to_data``), ``drills`` how many
    there were.
    """

    status: Status
    on_watch: bool
    log_odds: float | None
    moved_deg: float | None
    drop: Position | None = None
    tide: tuple[tuple[float, float], ...] = ()
    drill: Mapping[str, Any] | None = None
    drills: int = 0
    health: Mapping[str, SourceHealth] = field(factory=dict)
    journal_ok: bool = True
    recording_ok: bool = True
    lost_lines: int = 0


@frozen(kw_only=True)
class Outcome:
    """What became of a command: ``accepted`` that it has taken effect, ``saved`` that it is kept.

    Accepted but not saved: a restart or a power cut would undo it.
    """

    accepted: bool
    saved: bool
    text: str
    remedy: str = ""


class Deck(Protocol):
    """The daemon as the page sees it. Both raise DaemonError while it starts or stops."""

    def glance(self) -> Glance:
        """Look."""

    def command(self, command: Command) -> Awaitable[Outcome]:
        """Give a command, and wait for the disk."""


def glance_at(core: Core, mono_s: float) -> Glance:
    """Look at a core, knowing nothing of what is around it."""
    watch = core.watch
    judgement = watch.judgement
    return Glance(
        status=core.status(mono_s),
        on_watch=core.on_watch,
        log_odds=None if judgement is None else judgement.log_odds,
        moved_deg=None if judgement is None else judgement.moved_deg,
        drop=None if watch.anchored is None else watch.anchored.drop,
        tide=watch.settings.outlook.tide,
    )
