"""The owner's push buttons: each gives one command."""

import logging
from collections.abc import Callable, Iterable
from typing import Final

from driftlead.config.model import ButtonSettings
from driftlead.core.inputs import Acknowledge, Command, Fault, LetGo, Silence, Weigh
from driftlead.errors import NotifierError
from driftlead.notify.button import WatchedButton, watch_button

_LOGGER = logging.getLogger(__name__)
_COMMANDS: Final[dict[str, Callable[[int], Command]]] = {
    "acknowledge": lambda pin: Acknowledge(where=f"button on GPIO{pin}"),
    "silence": lambda pin: Silence(where=f"button on GPIO{pin}"),
    "let-go": lambda _: LetGo(),
    "weigh": lambda _: Weigh(),
}


class Buttons:
    """Watches the buttons; one whose pin cannot be had is told as a fault."""

    def __init__(
        self,
        settings: Iterable[ButtonSettings],
        *,
        on_command: Callable[[Command], None],
        on_fault: Callable[[Fault], None],
        watch: Callable[..., WatchedButton] = watch_button,
    ) -> None:
        self._settings = tuple(settings)
        self._on_command = on_command
        self._on_fault = on_fault
        self._watch = watch
        self._watched: list[WatchedButton] = []

    def open(self) -> None:
        """Watch them from now on. Call it in the event loop."""
        for settings in self._settings:
            command = _COMMANDS[settings.command](settings.pin)
            try:
                button = self._watch(
                    settings.pin,
                    lambda command=command: self._on_command(command),
                    hold_s=settings.hold_s or None,
                )
            except NotifierError as error:
                self._on_fault(
                    Fault(
                        name="notifier_failed",
                        instance=f"button-{settings.pin}",
                        text=f"The {settings.command} button does not work. {error}",
                    )
                )
            else:
                self._watched.append(button)

    def close(self) -> None:
        """Give the pins back."""
        for button in self._watched:
            try:
                button.close()
            except Exception:  # pin libraries raise types of their own
                _LOGGER.exception("A button was not closed well")
        self._watched.clear()
