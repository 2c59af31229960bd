"""The push buttons, on pretended pins."""

import asyncio
from typing import Any

import pytest

from driftlead.config.model import ButtonSettings
from driftlead.core.inputs import Acknowledge, Command, Fault, LetGo, Silence, Weigh
from driftlead.daemon.buttons import Buttons
from driftlead.errors import NotifierError
from driftlead.notify.button import watch_button


class Pins:
    """Stands in for the watching of a pin."""

    def __init__(self) -> None:
        self.watched: dict[int, Any] = {}
        self.holds_s: dict[int, float | None] = {}
        self.closed: list[int] = []

    def watch(self, pin: int, on_press: Any, *, hold_s: float | None) -> Any:
        """Watch, but for pin 4, which is broken."""
        if pin == 4:
            raise NotifierError("GPIO4 is taken.", remedy="Use another.")
        self.watched[pin] = on_press
        self.holds_s[pin] = hold_s
        return self._Watched(self, pin)

    class _Watched:
        def __init__(self, pins: "Pins", pin: int) -> None:
            self.pins, self.pin = pins, pin

        def close(self) -> None:
            self.pins.closed.append(self.pin)


def test_each_button_gives_its_own_command_and_a_broken_one_is_a_fault() -> None:
    """The others work all the same. Where somebody answered is part of the answer."""
    pins, commands, faults = Pins(), list[Command](), list[Fault]()
    settings = (
        ButtonSettings(pin=4, command="acknowledge"),
        ButtonSettings(pin=17, command="acknowledge"),
        ButtonSettings(pin=23, command="silence"),
        ButtonSettings(pin=22, command="let-go"),
        ButtonSettings(pin=27, command="weigh", hold_s=3.0),
    )
    buttons = Buttons(
        settings, on_command=commands.append, on_fault=faults.append, watch=pins.watch
    )
    buttons.open()
    for pin in (22, 17, 23, 27):
        pins.watched[pin]()
    assert commands == [
        LetGo(),
        Acknowledge(where="button on GPIO17"),
        Silence(where="button on GPIO23"),
        Weigh(),
    ]
    assert pins.holds_s == {17: None, 23: None, 22: 2.0, 27: 3.0}
    ((name, instance, text),) = [(each.name, each.instance, each.text) for each in faults]
    assert (name, instance) == ("notifier_failed", "button-4")
    assert text is not None
    assert "GPIO4 is taken. Use another." in text
    buttons.close()
    buttons.close()
    assert pins.closed == [17, 23, 22, 27]


@pytest.mark.asyncio
async def test_presses_on_mock_pins_give_each_button_its_command() -> None:
    """Through gpiozero, whose MockFactory stands for the header of the board."""
    gpiozero_mock = pytest.importorskip("gpiozero.pins.mock")
    factory = gpiozero_mock.MockFactory()
    given: asyncio.Queue[Command] = asyncio.Queue()
    bounces_s: list[float] = []

    def watch(pin: int, on_press: Any, *, hold_s: float | None) -> Any:
        button = watch_button(pin, on_press, hold_s=hold_s, pin_factory=factory)
        bounces_s.append(factory.pin(pin).bounce)
        return button

    buttons = Buttons(
        [ButtonSettings(pin=17, command="acknowledge"), ButtonSettings(pin=23, command="silence")],
        on_command=given.put_nowait,
        on_fault=lambda fault: pytest.fail(str(fault)),
        watch=watch,
    )
    buttons.open()
    assert bounces_s == [0.05, 0.05]
    for pin, command in (
        (23, Silence(where="button on GPIO23")),
        (17, Acknowledge(where="button on GPIO17")),
    ):
        factory.pin(pin).drive_low()
        async with asyncio.timeout(5.0):
            assert await given.get() == command
    assert given.empty()
    buttons.close()
    factory.reset()
