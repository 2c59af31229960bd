"""Helpers for people who write plug-ins: contract tests and fakes.

None of it needs a plug-in of pytest, nor pytest itself until a contract test has to be skipped.
"""

from driftlead.testing.alerts import make_alert
from driftlead.testing.fake_time import FakeTime
from driftlead.testing.notifier_contract import NotifierContract
from driftlead.testing.notifiers import FailingNotifier, RecordingNotifier, make_context

__all__ = [
    "FailingNotifier",
    "FakeTime",
    "NotifierContract",
    "RecordingNotifier",
    "make_alert",
    "make_context",
]
