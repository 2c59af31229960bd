"""Which recordings go when they take too much room."""

from collections.abc import Sequence

from attrs import frozen

from driftlead.journal.parts import Part


@frozen
class Pruning:
    """The parts to delete, the oldest first, and the bytes that are left then."""

    doomed: tuple[Part, ...]
    left_bytes: int


def choose_doomed(parts: Sequence[Part], *, cap_bytes: int, protect_from: int) -> Pruning:
    """Choose the oldest parts until the others take at most ``cap_bytes``.

    ``parts`` come oldest first. Parts numbered ``protect_from`` and above stay, even if they alone
    take more.
    """
    left_bytes = sum(part.size_bytes for part in parts)
    doomed = []
    for part in parts:
        if left_bytes <= cap_bytes or part.sequence >= protect_from:
            break
        doomed.append(part)
        left_bytes -= part.size_bytes
    return Pruning(tuple(doomed), left_bytes)
