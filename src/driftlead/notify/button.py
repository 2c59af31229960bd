"""Push buttons on input pins: answer an alert, or mark the anchor, without a screen."""

import asyncio
import contextlib
from collections.abc import Callable
from typing import Any

from driftlead.notify.gpio import load_gpiozero, pin_errors

BOUNCE_S = 0.05


class WatchedButton:
    """A button being watched until ``close``."""

    def __init__(self, device: Any) -> None:
        self._device = device

    def close(self) -> None:
        """Give the pin back. May be called more than once."""
        self._device.close()


def watch_button(
    pin: int,
    on_press: Callable[[], None],
    *,
    hold_s: float | None = None,
    bounce_s: float = BOUNCE_S,
    pin_factory: Any = None,
) -> WatchedButton:
    """Call ``on_press`` in the running event loop at every press of a button to ground.

    ``pin`` is the GPIO line (BCM); its own pull-up holds it high. With ``hold_s`` the button must
    be held that many seconds first, once a call, so that nobody leans an anchor overboard. Changes
    within ``bounce_s`` of another are contact bounce. Raises NotifierError, with a remedy, without
    gpiozero or when the pin cannot be had.
    """
    gpiozero = load_gpiozero()
    loop = asyncio.get_running_loop()

    def pressed() -> None:
        # gpiozero calls from a thread of its own, perhaps after the loop has ended.
        with contextlib.suppress(RuntimeError):
            loop.call_soon_threadsafe(on_press)

    with pin_errors("A button", pin):
        device = gpiozero.Button(
            pin,
            pull_up=True,
            bounce_time=bounce_s,
            hold_time=hold_s or 1.0,
            hold_repeat=False,
            pin_factory=pin_factory,
        )
        if not hold_s:
            device.when_pressed = pressed
        else:
            device.when_held = pressed
    return WatchedButton(device)
