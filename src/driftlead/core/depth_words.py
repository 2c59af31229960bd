"""What is said about a depth that the sounder contradicts. Pure."""

from typing import Final

from driftlead.units import format_length

_FACTOR: Final = 2.0
_APART_M: Final = 3.0
"""Under so much, bow and transducer, waves and keel offsets account for it."""


def depth_text(said_m: float | None, sounded_m: float | None) -> str:
    """A sentence, with a blank before it, if the depth said is grossly not the one sounded.

    That is by more than a factor of 2 and by more than 3 m; otherwise, and where either is not
    known, it is empty.
    """
    if said_m is None or sounded_m is None:
        return ""
    low_m, high_m = sorted((said_m, sounded_m))
    if high_m <= _FACTOR * low_m or high_m - low_m <= _APART_M:
        return ""
    return (
        f" But mind: a depth of {format_length(said_m)} was said, and the sounder shows "
        f"{format_length(sounded_m)}. If that is a slip, say driftlead veer LENGTH --depth DEPTH."
    )
