"""Logging to the standard error, in the form journald or a terminal wants."""

import logging
import os
from typing import Final

ALERTS: Final = "driftlead.alerts"
"""The logger of alerts."""
# The syslog levels (RFC 5424), by which journald sorts lines that begin with <n>.
_LEVELS: Final = (
    (logging.CRITICAL, 2),
    (logging.ERROR, 3),
    (logging.WARNING, 4),
    (logging.INFO, 6),
)


class _JournalFormatter(logging.Formatter):
    def format(self, record: logging.LogRecord) -> str:
        level = next((n for least, n in _LEVELS if record.levelno >= least), 7)
        return "\n".join(f"<{level}>{line}" for line in super().format(record).splitlines())


class _TerminalFormatter(logging.Formatter):
    """With the level, except of alerts: their lines begin with a priority of their own."""

    def format(self, record: logging.LogRecord) -> str:
        line = super().format(record)
        word = f" {record.levelname} "
        return line.replace(word, " ", 1) if record.name == ALERTS else line


def set_up_log() -> None:
    """Log from INFO up; under systemd with its levels and without the time, which it adds."""
    handler = logging.StreamHandler()
    if "JOURNAL_STREAM" in os.environ:
        handler.setFormatter(_JournalFormatter("%(message)s"))
    else:
        handler.setFormatter(_TerminalFormatter("%(asctime)s %(levelname)s %(message)s"))
    logging.basicConfig(level=logging.INFO, handlers=[handler])
