"""The status again and again: asking, and noticing when nobody answers."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from attrs import frozen

from driftlead.errors import DaemonError

ANSWER_LIMIT_S: Final = 3.0
"""Shorter than for a single question: who follows wants to know soon that nobody answers."""


@frozen(kw_only=True)
class Seen:
    """What one look gave.

    ``status`` is the last one known, ``silent_s`` how long ago it came (0: just now; None: never),
    ``trouble`` why there is no newer one.
    """

    status: Mapping[str, Any] | None
    silent_s: float | None
    trouble: str | None = None

    @property
    def is_live(self) -> bool:
        """Whether the status is of now."""
        return self.trouble is None


def follow(
    ask: Callable[[], Mapping[str, Any]],
    *,
    every_s: float,
    clock: Callable[[], float],
    sleep: Callable[[float], None],
) -> Iterator[Seen]:
    """Look every ``every_s`` seconds, for ever; ``ask`` gives a status or raises DaemonError."""
    status: Mapping[str, Any] | None = None
    heard_s: float | None = None
    while True:
        began_s = clock()
        try:
            status = ask()
        except DaemonError as error:
            silent_s = None if heard_s is None else clock() - heard_s
            yield Seen(status=status, silent_s=silent_s, trouble=error.message)
        else:
            heard_s = clock()
            yield Seen(status=status, silent_s=0.0)
        sleep(max(0.0, every_s - (clock() - began_s)))
