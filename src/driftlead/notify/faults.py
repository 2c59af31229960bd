"""One verdict on each notifier, from what its sending and what its background work say."""

from collections.abc import Callable


class NotifierFaults:
    """Joins two tellers, so that neither one's "works again" hides what the other still says.

    ``on_fault(name, text)`` hears each change of the joint verdict; None: it works.
    """

    def __init__(self, on_fault: Callable[[str, str | None], None]) -> None:
        self._on_fault = on_fault
        self._sending: dict[str, str] = {}
        self._background: dict[str, str] = {}

    def sending(self, name: str, text: str | None) -> None:
        """Take the dispatcher's word: give this to it as ``on_fault``."""
        self._take(self._sending, name, text)

    def background(self, name: str) -> Callable[[str | None], None]:
        """Make the ``report`` of the context of notifier ``name``."""
        return lambda text: self._take(self._background, name, text)

    def _take(self, teller: dict[str, str], name: str, text: str | None) -> None:
        before = self._verdict(name)
        if text is None:
            teller.pop(name, None)
        else:
            teller[name] = text
        verdict = self._verdict(name)
        if verdict != before:
            self._on_fault(name, verdict)

    def _verdict(self, name: str) -> str | None:
        return self._sending.get(name) or self._background.get(name)
