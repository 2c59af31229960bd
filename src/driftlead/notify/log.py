"""Alerts in the log, at a level that follows their priority."""

import logging
from collections.abc import Mapping
from typing import Any, Self

from attrs import frozen

from driftlead.alerts.alert import Alert, Priority
from driftlead.notify.base import NotifierContext
from driftlead.notify.message import describe
from driftlead.notify.options import structure_options

_LOGGER = logging.getLogger("driftlead.alerts")
_LEVELS = {
    Priority.ALARM: logging.CRITICAL,
    Priority.WARNING: logging.WARNING,
    Priority.CAUTION: logging.INFO,
}


@frozen(kw_only=True)
class LogOptions:
    """The log notifier takes no options."""


class LogNotifier:
    """Writes every change to the logger ``driftlead.alerts``; what no longer sounds, at INFO."""

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Self:
        """Build it. Raises ConfigError if any option is given."""
        structure_options(LogOptions, options, notifier=context.name)
        return cls()

    @property
    def lasts(self) -> bool:
        """True: what was logged stays in the log."""
        return True

    async def notify(self, alert: Alert) -> None:
        """Log ``alert``. Never fails: the logging handlers deal with their own errors."""
        level = _LEVELS[alert.priority] if alert.state.sounds else logging.INFO
        _LOGGER.log(level, "%s", describe(alert))

    async def check(self) -> str:
        """Say at which level alarms will be seen."""
        seen = [p.value for p in reversed(Priority) if _LOGGER.isEnabledFor(_LEVELS[p])]
        return f"The log is open and takes: {', '.join(seen) or 'nothing'}."
