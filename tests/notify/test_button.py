"""Push buttons, on mock pins."""

import asyncio
import sys
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from gpiozero.pins.mock import MockFactory

from driftlead.errors import NotifierError
from driftlead.notify.button import watch_button


class Presses:
    """Counts calls and lets a test wait for one."""

    def __init__(self) -> None:
        self.threads: list[threading.Thread] = []
        self._called = asyncio.Event()

    def __call__(self) -> None:
        """Count."""
        self.threads.append(threading.current_thread())
        self._called.set()

    async def next(self) -> None:
        """Wait for a call."""
        await asyncio.wait_for(self._called.wait(), 20.0)
        self._called.clear()


@pytest.fixture
def factory() -> Iterator[Any]:
    """Mock pins."""
    made = MockFactory()
    yield made
    made.reset()


@pytest.mark.asyncio
@pytest.mark.parametrize("hold_s", [None, 0.0])
async def test_every_press_calls_back_in_the_event_loops_thread(
    factory: Any, hold_s: float | None
) -> None:
    """Even though the pin library calls from a thread of its own; releasing does nothing."""
    presses = Presses()
    button = watch_button(18, presses, hold_s=hold_s, pin_factory=factory)
    pin = factory.pin(18)
    for count in (1, 2):
        await asyncio.to_thread(pin.drive_low)
        await presses.next()
        await asyncio.to_thread(pin.drive_high)
        await asyncio.sleep(0)
        assert len(presses.threads) == count
    assert set(presses.threads) == {threading.main_thread()}
    button.close()
    button.close()


@pytest.mark.asyncio
async def test_the_pin_is_pulled_up_and_debounced(factory: Any) -> None:
    """A button to ground needs no resistor, and contact bounce is one press."""
    button = watch_button(18, Presses(), bounce_s=0.08, pin_factory=factory)
    pin = factory.pin(18)
    assert pin.function == "input"
    assert pin.pull == "up"
    assert pin.bounce == 0.08
    button.close()


@pytest.mark.asyncio
async def test_a_button_to_be_held_calls_back_after_the_hold_only(factory: Any) -> None:
    """A mere press does nothing; the pin library's own timer is set to the hold, without repeat."""
    presses = Presses()
    button = watch_button(18, presses, hold_s=2.0, pin_factory=factory)
    device = button._device
    assert device.hold_time == 2.0
    assert device.hold_repeat is False
    await asyncio.to_thread(factory.pin(18).drive_low)
    await asyncio.to_thread(factory.pin(18).drive_high)
    await asyncio.sleep(0)
    assert presses.threads == []
    await asyncio.to_thread(device.when_held)
    await presses.next()
    assert presses.threads == [threading.main_thread()]
    button.close()


@pytest.mark.asyncio
async def test_a_held_button_calls_back_by_the_clock(factory: Any) -> None:
    """The pin library really does call when the button stays down."""
    presses = Presses()
    button = watch_button(18, presses, hold_s=0.001, pin_factory=factory)
    factory.pin(18).drive_low()
    await presses.next()
    button.close()


def test_a_press_after_the_loop_has_ended_is_harmless(factory: Any) -> None:
    """The daemon is stopping; the pin library's thread must not fall over."""
    presses = []

    async def watch() -> Any:
        return watch_button(18, lambda: presses.append(1), pin_factory=factory)

    button = asyncio.run(watch())
    factory.pin(18).drive_low()
    assert presses == []
    button.close()


@pytest.mark.asyncio
async def test_a_pin_that_cannot_be_had_is_told(
    factory: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the remedy, as is a missing pin library."""
    with pytest.raises(NotifierError, match="A button cannot use GPIO999") as caught:
        watch_button(999, Presses(), pin_factory=factory)
    assert caught.value.remedy
    monkeypatch.setitem(sys.modules, "gpiozero", None)
    with pytest.raises(NotifierError) as caught:
        watch_button(18, Presses(), pin_factory=factory)
    assert "driftlead[gpio]" in caught.value.remedy
