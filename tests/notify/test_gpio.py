"""An output pin that is on while an alert waits, on mock pins."""

import asyncio
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from gpiozero import Device
from gpiozero.pins.mock import MockFactory

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.errors import ConfigError, NotifierError
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.notify.gpio import FEED_LIMIT_S, GpioNotifier
from driftlead.notify.lamp import WARNING as WARNING_CODE
from driftlead.testing import FakeTime, NotifierContract, make_alert, make_context

ALARM = make_alert()
OVER = make_alert(state=AlertState.NORMAL)
WARNING = make_alert(name="fix_lost", priority=Priority.WARNING)


@pytest.fixture(autouse=True)
def factory(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    """Mock pins in place of real ones."""
    made = MockFactory()
    monkeypatch.setattr(Device, "pin_factory", made)
    yield made
    made.reset()


class TestGpioKeepsTheContract(NotifierContract):
    """The pin notifier is a proper notifier, steady."""

    options: dict[str, Any] = {"pin": 17}  # noqa: RUF012 - read only

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build it on a mock pin."""
        return GpioNotifier.from_options(self.options, context)

    def make_broken_notifier(self, context: NotifierContext) -> Notifier:
        """Build one whose pin refuses to be written."""
        notifier = GpioNotifier.from_options(self.options, context)
        notifier._device = Stuck()
        return notifier


class TestPulsedGpioKeepsTheContract(TestGpioKeepsTheContract):
    """The pin notifier is a proper notifier, pulsed."""

    options: dict[str, Any] = {"pin": 17, "pattern": "pulsed"}  # noqa: RUF012 - read only


class TestLampKeepsTheContract(TestGpioKeepsTheContract):
    """So is a lamp."""

    options: dict[str, Any] = {"pin": 17, "shows": "lamp"}  # noqa: RUF012 - read only


class TestAHornThatFailsLoudKeepsTheContract(TestGpioKeepsTheContract):
    """And a horn that is held silent."""

    options: dict[str, Any] = {"pin": 17, "fails_loud": True}  # noqa: RUF012 - read only


class Stuck:
    """An output that fails when it is switched."""

    closed = False

    def on(self) -> None:
        """Fail."""
        raise OSError(5, "Input/output error")

    off = on

    def close(self) -> None:
        """Do nothing."""


async def after(notifier: GpioNotifier, *alerts: Alert) -> None:
    """Notify of all of them."""
    for alert in alerts:
        await notifier.notify(alert)


@pytest.mark.asyncio
@pytest.mark.parametrize(("active", "level_on"), [("high", True), ("low", False)])
async def test_the_pin_is_on_while_an_alert_waits(
    active: str, level_on: bool, tmp_path: Path, factory: Any
) -> None:
    """At the level that was asked for, from the first moment to the last."""
    context = make_context(tmp_path)
    notifier = GpioNotifier.from_options({"pin": 17, "active": active}, context)
    pin = factory.pin(17)
    assert pin.function == "output"
    assert bool(pin.state) is not level_on
    await after(notifier, ALARM)
    assert bool(pin.state) is level_on
    await after(notifier, OVER)
    assert bool(pin.state) is not level_on
    await notifier.close()


@pytest.mark.asyncio
async def test_the_pin_stays_on_until_the_last_alert_is_answered(
    tmp_path: Path, factory: Any
) -> None:
    """To answer one of two is not enough."""
    notifier = GpioNotifier.from_options({"pin": 17}, make_context(tmp_path))
    await after(notifier, ALARM, WARNING, OVER)
    assert factory.pin(17).state
    await after(notifier, make_alert(name="fix_lost", state=AlertState.ACTIVE_ACKNOWLEDGED))
    assert not factory.pin(17).state
    await notifier.close()


@pytest.mark.asyncio
async def test_an_alert_that_sinks_below_the_owners_limit_lets_the_pin_go(
    tmp_path: Path, factory: Any
) -> None:
    """The pin is for what its owner wanted it for."""
    context = make_context(tmp_path, at_least=Priority.ALARM)
    notifier = GpioNotifier.from_options({"pin": 17}, context)
    await after(notifier, WARNING)
    assert not factory.pin(17).state
    await after(notifier, ALARM)
    assert factory.pin(17).state
    await after(notifier, make_alert(priority=Priority.WARNING))
    assert not factory.pin(17).state
    await notifier.close()


@pytest.mark.asyncio
async def test_the_pulsed_pin_goes_on_and_off_until_answered(tmp_path: Path, factory: Any) -> None:
    """On at once, then changing with the pulse; a second alert does not disturb the beat."""
    time = FakeTime()
    notifier = GpioNotifier.from_options(
        {"pin": 17, "pattern": "pulsed", "pulse": "250ms"}, make_context(tmp_path, sleep=time.sleep)
    )
    await after(notifier, ALARM)
    seen = []
    for _ in range(4):
        seen.append(bool(factory.pin(17).state))
        await time.until_sleeping(0.25)
        await after(notifier, WARNING)
        await time.advance(0.25)
    assert seen == [True, False, True, False]
    await after(notifier, OVER, make_alert(name="fix_lost", state=AlertState.NORMAL))
    assert not factory.pin(17).state
    await time.advance(10.0)
    assert not factory.pin(17).state
    await notifier.close()


@pytest.mark.asyncio
async def test_a_pin_that_fails_while_pulsing_is_reported_and_so_is_its_return(
    tmp_path: Path,
) -> None:
    """Nobody calls notify while it pulses."""
    time = FakeTime()
    reports: list[str | None] = []
    context = make_context(tmp_path, sleep=time.sleep, report=reports.append)
    notifier = GpioNotifier.from_options({"pin": 17, "pattern": "pulsed"}, context)
    await after(notifier, ALARM)
    working, notifier._device = notifier._device, Stuck()
    await time.until_sleeping(0.5)
    await time.advance(0.5)
    assert len(reports) == 1
    assert "GPIO17" in str(reports[0])
    notifier._device = working
    await time.until_sleeping(0.5)
    await time.advance(0.5)
    assert reports[1:] == [None]
    await notifier.close()


@pytest.mark.asyncio
async def test_closing_switches_the_pin_off_and_gives_it_back(tmp_path: Path, factory: Any) -> None:
    """Nothing is left energised when the daemon ends."""
    notifier = GpioNotifier.from_options({"pin": 17, "pattern": "pulsed"}, make_context(tmp_path))
    await after(notifier, ALARM)
    await notifier.close()
    assert factory.pin(17).function == "input"
    assert len(asyncio.all_tasks()) == 1


@pytest.mark.asyncio
async def test_the_check_reads_the_pin_without_switching_it(tmp_path: Path, factory: Any) -> None:
    """Nobody is woken by a check."""
    notifier = GpioNotifier.from_options({"pin": 17}, make_context(tmp_path))
    factory.pin(17).clear_states()
    assert await notifier.check() == "GPIO17 is held as an output and reads off."
    assert len(factory.pin(17).states) == 1
    await notifier.close()


def test_a_pin_that_is_taken_is_told(tmp_path: Path) -> None:
    """The error names the notifier, the pin and the remedy."""
    taken = GpioNotifier.from_options({"pin": 17}, make_context(tmp_path))
    with pytest.raises(NotifierError, match="'horn' cannot use GPIO17") as caught:
        GpioNotifier.from_options({"pin": 17}, make_context(tmp_path, name="horn"))
    assert caught.value.remedy
    asyncio.run(taken.close())


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"pin": 28}, "GPIO28 is not on the header"),
        ({"pin": -1}, "GPIO-1 is not on the header"),
        ({"pin": 5, "shows": "lamp", "pattern": "pulsed"}, "'pattern' does nothing"),
        ({"pin": 5, "shows": "all_well", "fails_loud": True}, "'fails_loud' does nothing"),
        ({"pin": 5, "shows": "feed", "pulse": "1s"}, "'pulse' does nothing where"),
        ({"pin": 5, "shows": "nothing"}, "one of alerts, lamp, all_well, feed"),
    ],
)
def test_options_that_cannot_be_or_do_nothing_are_refused(
    tmp_path: Path, options: dict[str, Any], told: str
) -> None:
    """Before the night, not in it."""
    with pytest.raises(ConfigError, match=told) as caught:
        GpioNotifier.from_options(options, make_context(tmp_path))
    assert caught.value.remedy


def test_without_gpiozero_the_remedy_is_the_extra(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is an optional dependency."""
    monkeypatch.setitem(sys.modules, "gpiozero", None)
    with pytest.raises(NotifierError, match="gpiozero") as caught:
        GpioNotifier.from_options({"pin": 17}, make_context(tmp_path))
    assert f"{sys.executable} -m pip install 'driftlead[gpio]'" in caught.value.remedy


def test_wrong_options_are_refused(tmp_path: Path) -> None:
    """The choices are named."""
    with pytest.raises(ConfigError) as caught:
        GpioNotifier.from_options({"active": "on", "pattern": "wild"}, make_context(tmp_path))
    assert len(caught.value.problems) == 3
    assert "one of high, low" in str(caught.value)
    assert "one of steady, pulsed" in str(caught.value)


# -- what depends on the heartbeat -----------------------------------------------------------------


class Beating:
    """A pin whose notifier hears a heartbeat that the test can stop."""

    def __init__(self, tmp_path: Path, factory: Any, **options: Any) -> None:
        self.time = FakeTime()
        self.reports: list[str | None] = []
        context = make_context(
            tmp_path, clock=self.time.clock, sleep=self.time.sleep, report=self.reports.append
        )
        self.notifier = GpioNotifier.from_options({"pin": 17, **options}, context)
        self.pin = factory.pin(17)

    def level(self) -> bool:
        """The level of the pin now."""
        return bool(self.pin.state)

    async def beat(self, seconds: int, *, on_watch: bool = True) -> list[bool]:
        """Let the heart beat for some seconds; the level after each."""
        levels = []
        for _ in range(seconds):
            self.notifier.beat(on_watch=on_watch)
            await self.time.until_sleeping(1.0) if self.notifier._feeding else None
            await self.time.advance(1.0)
            levels.append(self.level())
        return levels


@pytest.mark.asyncio
@pytest.mark.parametrize(("active", "held"), [("high", True), ("low", False)])
async def test_a_relay_that_fails_loud_is_held_from_the_start_and_drops_for_an_alert(
    tmp_path: Path, factory: Any, active: str, held: bool
) -> None:
    """Energised means silent; acknowledged, it is held again; closed, it drops."""
    rig = Beating(tmp_path, factory, fails_loud=True, active=active)
    assert rig.level() is held
    assert set(await rig.beat(30)) == {held}
    await rig.notifier.notify(ALARM)
    assert rig.level() is not held
    await rig.notifier.notify(OVER)
    assert rig.level() is held
    assert "keeps the horn silent" in await rig.notifier.check()
    rig.pin.clear_states()
    await rig.notifier.close()
    assert [bool(each.state) for each in rig.pin.states] in ([held, not held], [not held])


@pytest.mark.asyncio
async def test_a_relay_that_fails_loud_drops_when_the_watch_is_no_longer_kept(
    tmp_path: Path, factory: Any, caplog: pytest.LogCaptureFixture
) -> None:
    """A core that is stuck is heard before systemd restarts the daemon; a short gap is not."""
    rig = Beating(tmp_path, factory, fails_loud=True)
    await rig.beat(3)
    await rig.time.advance(FEED_LIMIT_S - 2.0)
    assert rig.level()
    await rig.time.advance(3.0)
    assert not rig.level()
    assert "no heartbeat" in caplog.text
    await rig.beat(2)
    assert rig.level()
    assert rig.reports == []
    await rig.notifier.close()


@pytest.mark.asyncio
async def test_before_the_first_beat_nothing_is_loud(tmp_path: Path, factory: Any) -> None:
    """A check builds the notifier without a watch."""
    rig = Beating(tmp_path, factory, fails_loud=True)
    await rig.time.advance(10 * FEED_LIMIT_S)
    assert rig.level()
    await rig.notifier.close()


@pytest.mark.asyncio
async def test_the_horn_that_fails_loud_can_be_pulsed(tmp_path: Path, factory: Any) -> None:
    """The beat of the horn is then the beat of the relay's dropping."""
    rig = Beating(tmp_path, factory, fails_loud=True, pattern="pulsed")
    await rig.notifier.notify(ALARM)
    levels = []
    for _ in range(4):
        levels.append(rig.level())
        await rig.time.until_sleeping(0.5)
        await rig.time.advance(0.5)
    assert levels == [False, True, False, True]
    await rig.notifier.close()


@pytest.mark.asyncio
async def test_the_feed_changes_its_level_with_every_beat_and_rests_without(
    tmp_path: Path, factory: Any
) -> None:
    """Whatever listens to the edges hears the end; alerts do not touch it."""
    rig = Beating(tmp_path, factory, shows="feed")
    assert await rig.beat(6) == [True, False, True, False, True, False]
    await rig.notifier.notify(ALARM)
    assert await rig.beat(3) == [True, False, True]
    await rig.time.advance(2 * FEED_LIMIT_S)
    assert not rig.level()
    states = len(rig.pin.states)
    await rig.time.advance(100.0)
    assert len(rig.pin.states) == states
    await rig.notifier.close()


@pytest.mark.asyncio
async def test_a_feed_whose_pin_fails_is_told_and_so_is_its_return(
    tmp_path: Path, factory: Any
) -> None:
    """Nobody waits for a beat, so it is reported."""
    rig = Beating(tmp_path, factory, shows="feed")
    working, rig.notifier._device = rig.notifier._device, Stuck()
    await rig.beat(2)
    rig.notifier._device = working
    await rig.beat(2)
    assert len(rig.reports) == 2
    assert "GPIO17" in str(rig.reports[0])
    assert rig.reports[1] is None
    await rig.notifier.close()


@pytest.mark.asyncio
async def test_the_light_that_all_is_well_burns_only_while_it_is(
    tmp_path: Path, factory: Any
) -> None:
    """On watch, with a heartbeat, and with no alarm or warning up, answered or not."""
    rig = Beating(tmp_path, factory, shows="all_well")
    assert not rig.level()
    assert await rig.beat(2) == [True, True]
    assert await rig.beat(2, on_watch=False) == [False, False]
    await rig.beat(1)
    await rig.notifier.notify(make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED))
    assert not rig.level()
    await rig.notifier.notify(OVER)
    assert rig.level()
    await rig.notifier.notify(make_alert(name="fix_poor", priority=Priority.CAUTION))
    assert rig.level()
    await rig.time.advance(FEED_LIMIT_S + 1.0)
    assert not rig.level()
    await rig.notifier.close()


@pytest.mark.asyncio
async def test_a_lamp_flashes_until_answered_then_burns_until_over(
    tmp_path: Path, factory: Any
) -> None:
    """In the code of the most urgent alert."""
    rig = Beating(tmp_path, factory, shows="lamp")
    await rig.notifier.notify(WARNING)
    seen = []
    for on_s, off_s in WARNING_CODE * 2:
        for wait_s in (on_s, off_s):
            seen.append(rig.level())
            await rig.time.until_sleeping(wait_s)
            await rig.time.advance(wait_s)
    assert seen == [True, False] * 4
    await rig.notifier.notify(make_alert(name="fix_lost", state=AlertState.ACTIVE_ACKNOWLEDGED))
    assert rig.level()
    await rig.time.advance(60.0)
    assert rig.level()
    await rig.notifier.notify(make_alert(name="fix_lost", state=AlertState.NORMAL))
    assert not rig.level()
    await rig.notifier.close()
