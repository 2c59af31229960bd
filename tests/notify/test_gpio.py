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
from driftlead.notify.gpio import GpioNotifier
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


class Stuck:
    """An output that fails when it is switched."""

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


def test_a_pin_that_is_taken_or_does_not_exist_is_told(tmp_path: Path) -> None:
    """The error names the notifier, the pin and the remedy."""
    context = make_context(tmp_path, name="horn")
    for pin in (999, -1):
        with pytest.raises(NotifierError, match=f"'horn' cannot use GPIO{pin}") as caught:
            GpioNotifier.from_options({"pin": pin}, context)
        assert caught.value.remedy


def test_without_gpiozero_the_remedy_is_the_extra(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is an optional dependency."""
    monkeypatch.setitem(sys.modules, "gpiozero", None)
    with pytest.raises(NotifierError, match="gpiozero") as caught:
        GpioNotifier.from_options({"pin": 17}, make_context(tmp_path))
    assert "pip install 'driftlead[gpio]'" in caught.value.remedy


def test_wrong_options_are_refused(tmp_path: Path) -> None:
    """The choices are named."""
    with pytest.raises(ConfigError) as caught:
        GpioNotifier.from_options({"active": "on", "pattern": "wild"}, make_context(tmp_path))
    assert len(caught.value.problems) == 3
    assert "one of high, low" in str(caught.value)
    assert "one of steady, pulsed" in str(caught.value)
