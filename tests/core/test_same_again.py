"""The same inputs give the same events, byte for byte."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from driftlead.core.inputs import Acknowledge, Veer, Weigh

if TYPE_CHECKING:
    from tests.core.conftest import Sea


class TestDeterminism:
    """The same inputs give the same events, byte for byte."""

    def test_a_night_told_again_gives_the_identical_events(
        self, sea: "Sea", json_lines: Callable[..., list[str]]
    ) -> None:
        """By way of the JSON of settings, commands and faults, as a recording keeps them."""
        sea.head(90.0)
        sea.ride().drag()
        sea.fault("journal_failed", "disk full")
        sea.command(Acknowledge())
        sea.command(Veer(rode_m=45.0))
        sea.wait(100.0)
        for _ in range(80):
            sea.no_fix()
        sea.lie(100.0, sea.lies_m + 60.0, hdop=9.0)
        sea.fault("journal_failed", None)
        sea.command(Veer(rode_m=2.0))
        sea.command(Weigh())
        sea.lie(1000.0, 100.0)
        core, events = sea.rebuilt()
        assert json_lines(events) == json_lines(sea.events)
        assert len(events) > 15
        assert core.snapshot() == sea.core.snapshot()
        assert core.status(sea.now_s) == sea.core.status(sea.now_s)
