"""The heartbeat, passed on to whoever hears it."""

import pytest

from driftlead.notify.heartbeat import HearsBeat, Heart
from driftlead.notify.lane import Outlet
from driftlead.testing import RecordingNotifier


class Hearer(RecordingNotifier):
    """Counts beats, and may fail at each."""

    def __init__(self, *, fails: bool = False) -> None:
        super().__init__()
        self.beats: list[bool] = []
        self.fails = fails

    def beat(self, *, on_watch: bool) -> None:
        """Count."""
        self.beats.append(on_watch)
        if self.fails:
            raise ZeroDivisionError


def test_only_those_who_hear_it_get_it_and_one_that_fails_harms_nobody(
    caplog: pytest.LogCaptureFixture,
) -> None:
    """It is logged once, not every second of the night."""
    bad, good = Hearer(fails=True), Hearer()
    assert isinstance(good, HearsBeat)
    heart = Heart(
        [
            Outlet(name="bad", notifier=bad),
            Outlet(name="deaf", notifier=RecordingNotifier()),
            Outlet(name="good", notifier=good),
        ]
    )
    for on_watch in (False, True, True):
        heart.beat(on_watch=on_watch)
    assert good.beats == bad.beats == [False, True, True]
    assert len(caplog.records) == 1
    assert "bad failed at a heartbeat" in caplog.text
