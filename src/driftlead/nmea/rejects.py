"""Why a line was not taken."""

import enum


class Reject(enum.StrEnum):
    """The reason for which a line was rejected; each is counted by source."""

    NO_START = "no_start"
    """No ``$`` in the line: binary, garbage, or a fragment."""
    TOO_LONG = "too_long"
    """Longer than any sentence we accept (see ``MAX_SENTENCE``)."""
    NO_CHECKSUM = "no_checksum"
    BAD_CHECKSUM = "bad_checksum"
    BAD_ADDRESS = "bad_address"
    """The talker and sentence type are not capital letters and digits."""
    BAD_TAG_BLOCK = "bad_tag_block"
    TOO_FEW_FIELDS = "too_few_fields"
    MALFORMED_NUMBER = "malformed_number"
    MALFORMED_TIME = "malformed_time"
    MALFORMED_DATE = "malformed_date"
    MALFORMED_POSITION = "malformed_position"
    """Not ``ddmm.mm``: wrong width, minutes of 60 or more, decimal degrees."""
    IMPOSSIBLE_VALUE = "impossible_value"
    """Well formed, but no such thing: latitude 95, a course of 400 degrees."""
    CONTRADICTING_UNITS = "contradicting_units"
    """The same quantity in two units that do not agree."""
    UNKNOWN_CODE = "unknown_code"
    """A status, mode, reference or unit letter the standard does not know."""


class RejectedError(Exception):
    """Raised inside the decoder only; it never leaves it."""

    def __init__(self, reason: Reject) -> None:
        super().__init__(reason.value)
        self.reason = reason
