"""What the core must be told about the boat and the receiver before it can decide."""

import datetime as dt

from attrs import field, frozen

from driftlead.alerts.settings import AlertSettings
from driftlead.watch.settings import WatchSettings


@frozen(kw_only=True)
class CoreSettings:
    """The whole of what decisions depend on, besides the inputs; it is written into recordings.

    ``source_order`` lists source names, most trusted first; a source not listed comes last.
    ``earliest_date``: a receiver's date before this is a GPS week rollover and is moved on by
    1024-week steps; None leaves dates as they are (old recordings).
    """

    watch: WatchSettings = field(factory=WatchSettings)
    source_order: tuple[str, ...] = ()
    earliest_date: dt.date | None = None
    require_checksum: bool = True
    alerts: AlertSettings = field(factory=AlertSettings)
