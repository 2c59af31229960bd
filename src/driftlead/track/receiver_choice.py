"""Which receiver the track follows when there are several: the most trusted one that has a fix."""

from typing import Final

from attrs import frozen

TAKEOVER_S: Final = 10.0
"""Silence of the followed receiver after which the next one takes over."""
RETURN_S: Final = 30.0
"""How long a more trusted receiver must have had a steady fix before it is followed again."""


@frozen(eq=False)
class ReceiverId:
    """One receiver: the source it is on and its talker group there.

    Compared by identity, being asked for with every fix: there is one for each receiver.
    """

    source: str
    group: str


class ReceiverChoice:
    """Follows one receiver at a time, in order of trust, without flapping."""

    def __init__(self) -> None:
        self._rank: dict[ReceiverId, tuple[int, int]] = {}
        self._last_fix_s: dict[ReceiverId, float] = {}
        self._steady_since_s: dict[ReceiverId, float] = {}
        self.followed: ReceiverId | None = None

    def enrol(self, receiver: ReceiverId, source_rank: int) -> None:
        """Make a receiver known; ``source_rank`` 0 is the most trusted source.

        On one source, satellite talkers come before instruments that repeat them.
        """
        group_rank = 0 if receiver.group == "satellite" else 1 + len(self._rank)
        self._rank[receiver] = (source_rank, group_rank)

    def follows(self, receiver: ReceiverId, mono_s: float) -> bool:
        """Note a fix of ``receiver``; whether the track is to take it."""
        last_s = self._last_fix_s.get(receiver)
        if last_s is None or mono_s - last_s > TAKEOVER_S:
            self._steady_since_s[receiver] = mono_s
        self._last_fix_s[receiver] = mono_s
        followed = self.followed
        if followed is receiver:
            return True
        if followed is None:
            self.followed = receiver
            return True
        if mono_s - self._last_fix_s.get(followed, mono_s) > TAKEOVER_S:
            self.followed = receiver
            return True
        better = self._rank[receiver] < self._rank[followed]
        if better and mono_s - self._steady_since_s[receiver] >= RETURN_S:
            self.followed = receiver
            return True
        return False
