"""The same inputs give the same events, byte for byte."""

import json
from collections.abc import Callable
from typing import TYPE_CHECKING

from attrs import evolve

from driftlead.core.inputs import Acknowledge, Silence, Transfer, Veer, Weigh
from driftlead.core.settings import CoreSettings

if TYPE_CHECKING:
    from tests.core.conftest import Sea


class TestDeterminism:
    """The same inputs give the same events, byte for byte."""

    def test_a_night_told_again_gives_the_identical_events(
        self,
        put_to_sea: "type[Sea]",
        crewed: CoreSettings,
        json_lines: Callable[..., list[str]],
    ) -> None:
        """By way of the JSON of settings, commands and faults, as a recording keeps them."""
        sea = put_to_sea(evolve(crewed, alerts=evolve(crewed.alerts, alls_well_s=600.0)))
        sea.lie(60.0, 0.0)
        sea.head(90.0)
        sea.ride().drag()
        sea.command(Transfer(to="mate", by="skipper", where="cockpit"))
        sea.wait(20.0)
        sea.fault("journal_failed", "disk full")
        sea.command(Acknowledge())
        sea.command(Veer(rode_m=45.0))
        sea.wait(100.0)
        for _ in range(80):
            sea.no_fix()
        sea.lie(100.0, sea.lies_m + 60.0, hdop=9.0)
        sea.command(Silence())
        sea.fault("journal_failed", None)
        sea.command(Veer(rode_m=2.0))
        sea.command(Weigh())
        sea.lie(1000.0, 100.0)
        core, events = sea.rebuilt()
        assert json_lines(events) == json_lines(sea.events)
        kinds = {json.loads(line)["kind"] for line in json_lines(events)}
        assert kinds == {"state", "alert", "call", "alls_well"}
        assert len(events) > 15
        assert core.snapshot() == sea.core.snapshot()
        assert core.status(sea.now_s) == sea.core.status(sea.now_s)
