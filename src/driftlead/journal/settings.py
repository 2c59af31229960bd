"""Where the journal and the raw recordings are kept, and how much room they may take."""

import math
from pathlib import Path

from attrs import field, frozen

from driftlead.errors import UserInputError


@frozen(kw_only=True)
class JournalSettings:
    """The journal: ``path`` is its database file, whose folder is made if need be.

    Events go from it once they are ``keep_s`` older than the newest, or all together take more
    than ``cap_bytes``, the oldest first; those of the present watch, and those that the records
    have not yet taken over, stay in any case.
    """

    path: Path
    keep_s: float = 400 * 86_400.0
    cap_bytes: int = 50_000_000


@frozen(kw_only=True)
class RecordingSettings:
    """The raw recordings.

    ``directory`` holds the parts; the oldest are deleted once all together take more than
    ``cap_bytes``. A new part is begun after ``part_bytes`` or ``part_s`` seconds.
    Raises UserInputError for sizes that cannot be.
    """

    directory: Path
    cap_bytes: int
    part_bytes: int = field(default=8 * 1024 * 1024)
    part_s: float = 3600.0

    def __attrs_post_init__(self) -> None:
        if self.part_bytes <= 0:
            raise UserInputError(
                f"part_bytes = {self.part_bytes} is no size for a part of a recording.",
                remedy="Give a number of bytes above 0, for instance 8388608.",
            )
        if not (math.isfinite(self.part_s) and self.part_s > 0):
            raise UserInputError(
                f"part_s = {self.part_s} is no length for a part of a recording.",
                remedy="Give a number of seconds above 0, for instance 3600.",
            )
        if self.cap_bytes < self.part_bytes:
            raise UserInputError(
                f"cap_bytes = {self.cap_bytes} has no room for one part of {self.part_bytes}.",
                remedy=f"Give cap_bytes = {self.part_bytes} or more, or smaller parts.",
            )
