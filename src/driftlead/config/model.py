"""What the configuration file says, as values the daemon can use: SI units, absolute paths."""

import datetime as dt
from pathlib import Path

from attrs import field, frozen

from driftlead.alerts.settings import EscalationSettings
from driftlead.alerts.watch_bill import WatchBill
from driftlead.journal.settings import JournalSettings, RecordingSettings
from driftlead.notify.settings import NotifierSettings
from driftlead.planning.plan_settings import PlanSettings
from driftlead.sources.settings import SourceSettings
from driftlead.watch.settings import WatchSettings

EARLIEST_DATE = dt.date(2026, 1, 1)
"""No receiver can truly be at a date before this version was written."""
WEB_LISTEN = "127.0.0.1:8421"
ANSWERS = ("acknowledge", "silence")
"""What a button does that any press may do: the hand in the dark must find it easy."""


@frozen(kw_only=True)
class ButtonSettings:
    """A button between a pin (BCM number) and ground.

    ``command`` is ``acknowledge``, ``silence``, ``let-go`` or ``weigh``; it is given once the
    button has been held for ``hold_s`` seconds, 0 being any press: by default for the first two,
    while the others must be held two seconds.
    """

    pin: int
    command: str
    hold_s: float = field()

    @hold_s.default
    def _hold_by_command(self) -> float:
        return 0.0 if self.command in ANSWERS else 2.0


@frozen(kw_only=True)
class ControlSettings:
    """The socket over which the command line talks to the daemon, and who may use it."""

    socket: Path = Path("/run/driftlead/control.sock")
    mode: int = 0o660
    group: str | None = None


@frozen(kw_only=True)
class WebSettings:
    """The page for the devices aboard: where it is served, and what it is told beside the watch.

    ``listen`` is ``ADDRESS:PORT``; where it is not this computer's own loopback address, whoever
    wants to see must be paired. ``names`` are further names the computer goes by in the boat's
    network. ``around`` is a file of neighbours and dangers. ``certificate`` and ``key`` are files
    in PEM by which it is served over https. ``plan`` is what a plan reckons with.
    """

    listen: str = WEB_LISTEN
    names: tuple[str, ...] = ()
    around: Path | None = None
    certificate: Path | None = None
    key: Path | None = None
    plan: PlanSettings = field(factory=PlanSettings)

    @property
    def host(self) -> str:
        """The address alone."""
        return self.listen.rpartition(":")[0].strip("[]")

    @property
    def port(self) -> int:
        """The port alone."""
        return int(self.listen.rpartition(":")[2])

    @property
    def scheme(self) -> str:
        """``https`` with a certificate, else ``http``."""
        return "http" if self.certificate is None else "https"


@frozen(kw_only=True)
class Config:
    """One whole configuration.

    ``sources`` is in order of trust, the first most trusted. ``alls_well_s``: how often it is told
    that all is well, 0: never. ``web`` None: no page is served. ``tide`` is a file of high and low
    waters, which the daemon reads at its start.
    """

    boat_name: str = ""
    watch: WatchSettings = field(factory=WatchSettings)
    sources: tuple[SourceSettings, ...]
    notifiers: tuple[NotifierSettings, ...] = ()
    bill: WatchBill = field(factory=WatchBill)
    escalation: EscalationSettings = field(factory=EscalationSettings)
    alls_well_s: float = 0.0
    buttons: tuple[ButtonSettings, ...] = ()
    journal: JournalSettings
    recording: RecordingSettings
    control: ControlSettings = field(factory=ControlSettings)
    web: WebSettings | None = None
    tide: Path | None = None
    earliest_date: dt.date = EARLIEST_DATE
    require_checksum: bool = True
