"""The PIN that pairs one device: shown on the boat's own terminal, good once and not for long."""

import hashlib
import hmac
import secrets
from collections.abc import Callable
from typing import Final

VALID_S: Final = 300.0
DIGITS: Final = 8


class Pin:
    """At most one PIN is open. ``clock`` gives monotonic seconds."""

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._digest = b""
        self._until_s = float("-inf")

    def open(self) -> str:
        """Make one, in place of any before it; its digits in two groups."""
        digits = "".join(secrets.choice("0123456789") for _ in range(DIGITS))
        self._digest = _digest(digits)
        self._until_s = self._clock() + VALID_S
        return f"{digits[: DIGITS // 2]} {digits[DIGITS // 2 :]}"

    def take(self, typed: str) -> bool:
        """Whether it is the one; it is used up then. Blanks and dashes do not count."""
        digits = "".join(typed.split()).replace("-", "")
        # Always compared, so that the time it takes tells nothing, nor whether there is one.
        same = hmac.compare_digest(_digest(digits), self._digest or _digest(""))
        if not same or not self._digest or self._clock() >= self._until_s:
            return False
        self._digest = b""
        return True


def _digest(digits: str) -> bytes:
    return hashlib.sha256(digits.encode("utf-8", "surrogatepass")).digest()
