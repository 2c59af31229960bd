"""Whatever is said in whatever order: nothing raises, and a power cut loses nothing."""

import datetime as dt
import json
import math
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from driftlead.alerts.catalogue import FAULT_NAMES
from driftlead.core.events_json import event_to_json
from driftlead.core.inputs import (
    Acknowledge,
    Command,
    CorrectMark,
    LetGo,
    Silence,
    Slip,
    Transfer,
    Veer,
    Weigh,
)
from driftlead.core.settings import CoreSettings
from driftlead.core.snapshot import snapshot_from_json, snapshot_to_json
from driftlead.geodesy.position import Position
from driftlead.simulate import nmea_writer

if TYPE_CHECKING:
    from tests.core.conftest import Sea

LENGTHS = st.none() | st.floats(0.1, 1000.0)
"""What the control socket lets through (see inputs_json)."""
PLACES = st.floats(-300.0, 300.0)


class Sequences(RuleBasedStateMachine):
    """A boat to which anything happens; after each step all of it must still make sense."""

    put_to_sea: "type[Sea]"
    settings: CoreSettings

    @initialize(moored=st.booleans())
    def begin(self, moored: bool) -> None:
        """With or without a first minute at rest, as after a start of the program."""
        self.boat = self.put_to_sea(self.settings)
        self.told = 0
        if moored:
            self.boat.lie(10.0, 0.0)

    @rule(
        east_m=PLACES,
        north_m=PLACES,
        after_s=st.floats(0.0, 400.0),
        sog_mps=st.floats(0.0, 3.0),
        cog_deg=st.none() | st.floats(0.0, 359.0),
        hdop=st.floats(0.5, 30.0),
        count=st.integers(1, 40),
    )
    def fixes(
        self,
        east_m: float,
        north_m: float,
        after_s: float,
        sog_mps: float,
        cog_deg: float | None,
        hdop: float,
        count: int,
    ) -> None:
        """Some fixes at a place, the first after a while."""
        for number in range(count):
            self.boat.fix(
                east_m,
                north_m,
                after_s=after_s if number == 0 else 1.0,
                sog_mps=sog_mps,
                cog_deg=cog_deg,
                hdop=hdop,
            )

    @rule(after_s=st.floats(0.0, 100.0))
    def no_fix(self, after_s: float) -> None:
        """The receiver has none."""
        self.boat.no_fix(after_s=after_s)

    @rule(heading_deg=st.floats(0.0, 359.9), depth_m=st.floats(0.0, 90.0))
    def instruments(self, heading_deg: float, depth_m: float) -> None:
        """Head and depth."""
        self.boat.head(heading_deg)
        self.boat.say(nmea_writer.dpt(below_transducer_m=depth_m, transducer_below_water_m=0.3))

    @rule(rode_m=LENGTHS, depth_m=LENGTHS, late=st.booleans(), east_m=st.none() | PLACES)
    def let_go(
        self, rode_m: float | None, depth_m: float | None, late: bool, east_m: float | None
    ) -> None:
        """Let go, in every way there is."""
        drop = None if east_m is None else self.boat.place(east_m, 0.0)
        self.say(LetGo(rode_m=rode_m, depth_m=depth_m, drop=drop, late=late))

    @rule(lat_deg=st.floats(-90.0, 90.0), lon_deg=st.floats(-180.0, 180.0))
    def let_go_anywhere(self, lat_deg: float, lon_deg: float) -> None:
        """At a place that is most likely a slip."""
        self.say(LetGo(rode_m=30.0, drop=Position(lat_deg, lon_deg)))

    @rule(rode_m=st.floats(0.1, 1000.0), depth_m=LENGTHS)
    def veer(self, rode_m: float, depth_m: float | None) -> None:
        """Veer."""
        self.say(Veer(rode_m=rode_m, depth_m=depth_m))

    @rule(east_m=PLACES)
    def correct_mark(self, east_m: float) -> None:
        """Say where the anchor really is."""
        self.say(CorrectMark(position=self.boat.place(east_m, 0.0)))

    @rule(name=st.none() | st.sampled_from(["drag", "data_stale", "unheard_of"]))
    def acknowledge(self, name: str | None) -> None:
        """Acknowledge."""
        self.say(Acknowledge(name=name))

    @rule(name=st.none() | st.sampled_from(["drag", "data_stale", "unheard_of"]))
    def silence(self, name: str | None) -> None:
        """Ask for quiet."""
        self.say(Silence(name=name))

    @rule(to=st.sampled_from(["skipper", "mate", "hand", "cook"]))
    def transfer(self, to: str) -> None:
        """Hand over, to somebody who may not be there."""
        self.say(Transfer(to=to))

    @rule()
    def weigh(self) -> None:
        """Weigh."""
        self.say(Weigh())

    @rule()
    def slip(self) -> None:
        """Slip the cable."""
        self.say(Slip())

    @rule(
        name=st.sampled_from(sorted(FAULT_NAMES | {"dragged_here_before"})),
        text=st.none() | st.just("broken"),
    )
    def fault(self, name: str, text: str | None) -> None:
        """A failure of ours, or its end; or a remark."""
        self.boat.fault(name, text)

    @rule(lasts_s=st.floats(0.0, 2000.0))
    def wait(self, lasts_s: float) -> None:
        """Nothing."""
        self.boat.wait(lasts_s)

    @precondition(lambda self: self.boat.core.on_watch)
    @rule(after_s=st.floats(0.0, 1000.0))
    def power_cut(self, after_s: float) -> None:
        """Stopped and started: state, drop point, rode and alerts are what they were."""
        before = self.boat.core.snapshot()
        read = snapshot_from_json(snapshot_to_json(before))
        assert read == before
        again = self.put_to_sea(
            self.settings,
            now_s=3.0,
            utc=self.boat.utc + dt.timedelta(seconds=after_s),
            snapshot=read,
        )
        after = again.core.snapshot()
        assert after.state is before.state
        assert after.anchored == before.anchored
        assert after.origin == before.origin
        assert after.memory == before.memory
        assert after.last_number == before.last_number
        assert after.alerts == tuple(
            alert for alert in before.alerts if alert.name not in FAULT_NAMES
        )
        assert again.core.watch.anchor == self.boat.core.watch.anchor
        assert again.core.watch.moved_m == self.boat.core.watch.moved_m
        kept = {alert.key for alert in after.alerts}
        assert after.pagings == tuple(each for each in before.pagings if each.key in kept)
        again.core.resumed()
        self.boat, self.told = again, 0

    def say(self, command: Command) -> None:
        """Say it; a refusal has changed nothing and says what to do."""
        self.boat.wait(0.0)  # a limit that is due this very moment is not the command's doing
        before = self.boat.core.snapshot()
        reply = self.boat.command(command)
        if not reply.accepted:
            assert reply.remedy
            assert self.boat.core.snapshot() == before

    @invariant()
    def everything_makes_sense(self) -> None:
        """What is said and shown is JSON without gaps, in order of time."""
        if not hasattr(self, "boat"):
            return
        boat = self.boat
        for event in boat.events[self.told :]:
            json.loads(event_to_json(event), parse_constant=pytest.fail)
        self.told = len(boat.events)
        times = [event.mono_s for event in boat.events]
        assert times == sorted(times)
        status = boat.core.status(boat.now_s)
        for value in (status.distance_m, status.moved_m, status.rate_mps, status.radius_m):
            assert value is None or math.isfinite(value)
        assert status.confidence is None or 0.0 <= status.confidence <= 1.0
        on_watch = boat.core.on_watch
        assert (status.anchor is not None) is on_watch
        due_s = boat.core.next_due_s
        # Without a watch only what nobody has answered has limits.
        unanswered = any(alert.state.is_unanswered for alert in status.alerts)
        assert on_watch or unanswered or due_s is None
        keys = [alert.key for alert in status.alerts]
        assert len(set(keys)) == len(keys)
        if status.state == "dragging":
            assert "drag" in [alert.name for alert in status.alerts]


def test_no_sequence_raises_and_no_power_cut_loses_anything(
    put_to_sea: "type[Sea]", crewed: CoreSettings
) -> None:
    machine = type("Machine", (Sequences,), {"put_to_sea": put_to_sea, "settings": crewed})
    run_state_machine_as_test(
        machine, settings=settings(max_examples=25, stateful_step_count=25, deadline=None)
    )
