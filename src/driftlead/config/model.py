"""What the configuration file says, as values the daemon can use: SI units, absolute paths."""

import datetime as dt
from pathlib import Path

from attrs import field, frozen

from driftlead.journal.settings import JournalSettings, RecordingSettings
from driftlead.notify.settings import NotifierSettings
from driftlead.sources.settings import SourceSettings
from driftlead.watch.settings import WatchSettings

EARLIEST_DATE = dt.date(2026, 1, 1)
"""No receiver can truly be at a date before this version was written."""


@frozen(kw_only=True)
class ButtonSettings:
    """A button between a pin (BCM number) and ground.

    ``command`` is ``acknowledge``, ``let-go`` or ``weigh``; it is given once the button has been
    held for ``hold_s`` seconds, 0 being any press: by default for ``acknowledge``, while the
    others must be held two seconds.
    """

    pin: int
    command: str
    hold_s: float = field()

    @hold_s.default
    def _hold_by_command(self) -> float:
        return 0.0 if self.command == "acknowledge" else 2.0


@frozen(kw_only=True)
class ControlSettings:
    """The socket over which the command line talks to the daemon, and who may use it."""

    socket: Path = Path("/run/driftlead/control.sock")
    mode: int = 0o660
    group: str | None = None


@frozen(kw_only=True)
class Config:
    """One whole configuration. ``sources`` is in order of trust, the first most trusted."""

    boat_name: str = ""
    watch: WatchSettings = field(factory=WatchSettings)
    sources: tuple[SourceSettings, ...]
    notifiers: tuple[NotifierSettings, ...] = ()
    buttons: tuple[ButtonSettings, ...] = ()
    journal: JournalSettings
    recording: RecordingSettings
    control: ControlSettings = field(factory=ControlSettings)
    earliest_date: dt.date = EARLIEST_DATE
    require_checksum: bool = True
