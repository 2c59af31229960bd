"""Notifiers that only pretend, and the context they are built with."""

from pathlib import Path
from typing import Any

from driftlead.alerts.alert import Alert
from driftlead.errors import NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.testing.fake_time import FakeTime


class RecordingNotifier:
    """Keeps every alert in ``alerts``, in the order they came."""

    def __init__(self) -> None:
        self.alerts: list[Alert] = []
        self.closed = False

    async def notify(self, alert: Alert) -> None:
        """Keep ``alert``."""
        self.alerts.append(alert)

    async def close(self) -> None:
        """Note that it was closed."""
        self.closed = True


class FailingNotifier(RecordingNotifier):
    """Raises ``error`` at every call, after keeping the alert; set ``error`` to None to mend it."""

    def __init__(self, error: BaseException | None = None) -> None:
        super().__init__()
        self.error: BaseException | None = error or NotifierError(
            "It is broken.", remedy="Mend it."
        )

    async def notify(self, alert: Alert) -> None:
        """Keep ``alert``, then fail."""
        await super().notify(alert)
        if self.error is not None:
            raise self.error


def make_context(state_dir: Path, **overrides: Any) -> NotifierContext:
    """Make the context of a notifier called ``test`` aboard the sloop Corvid, on a fake clock.

    ``overrides`` are any fields of ``NotifierContext``. Reports go nowhere unless ``report`` is
    given.
    """
    time = FakeTime()
    fields: dict[str, Any] = {
        "name": "test",
        "boat": "Corvid",
        "state_dir": state_dir,
        "clock": time.clock,
        "sleep": time.sleep,
        "report": lambda _: None,
    }
    return NotifierContext(**(fields | overrides))
