"""Alerts in the log."""

import logging
from pathlib import Path

import pytest

from driftlead.alerts.alert import AlertState, Priority
from driftlead.errors import ConfigError
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.notify.log import LogNotifier
from driftlead.testing import NotifierContract, make_alert, make_context


class TestLogKeepsTheContract(NotifierContract):
    """The log notifier is a proper notifier."""

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build it."""
        return LogNotifier.from_options({}, context)


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("priority", "state", "level"),
    [
        (Priority.ALARM, AlertState.ACTIVE_UNACKNOWLEDGED, logging.CRITICAL),
        (Priority.WARNING, AlertState.ACTIVE_UNACKNOWLEDGED, logging.WARNING),
        (Priority.CAUTION, AlertState.ACTIVE_UNACKNOWLEDGED, logging.INFO),
        (Priority.ALARM, AlertState.ACTIVE_ACKNOWLEDGED, logging.INFO),
        (Priority.ALARM, AlertState.NORMAL, logging.INFO),
    ],
)
async def test_the_level_follows_priority_and_state(
    priority: Priority, state: AlertState, level: int, caplog: pytest.LogCaptureFixture
) -> None:
    """An unanswered alarm is critical; what has been answered or is over is information."""
    caplog.set_level(logging.INFO)
    await LogNotifier().notify(make_alert(priority=priority, state=state))
    (record,) = caplog.records
    assert record.levelno == level
    assert "The anchor is dragging." in record.getMessage()


@pytest.mark.asyncio
async def test_percent_signs_in_a_text_are_no_format(caplog: pytest.LogCaptureFixture) -> None:
    """The text is an argument of the log call, never its format."""
    await LogNotifier().notify(make_alert(text="100 %s sure %d"))
    assert "100 %s sure %d" in caplog.records[0].getMessage()


@pytest.mark.asyncio
async def test_the_check_tells_what_the_log_would_swallow(
    caplog: pytest.LogCaptureFixture,
) -> None:
    """At level WARNING cautions are not seen, and the check does not claim it."""
    caplog.set_level(logging.WARNING, logger="driftlead.alerts")
    assert await LogNotifier().check() == "The log is open and takes: alarm, warning."


def test_options_are_refused(tmp_path: Path) -> None:
    """There is nothing to set."""
    with pytest.raises(ConfigError, match="option 'level' is not known"):
        LogNotifier.from_options({"level": "debug"}, make_context(tmp_path))
