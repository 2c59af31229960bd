"""What a check found out about one thing."""

import enum

from attrs import frozen


class Level(enum.StrEnum):
    """How it is."""

    OK = "OK"
    LOOK = "LOOK"
    """It may serve, but the skipper should look at it."""
    FAIL = "FAIL"
    """The watch cannot rely on it."""


@frozen
class Finding:
    """One line of the check: how it is, what was looked at, what was found, what to do."""

    level: Level
    what: str
    text: str
    remedy: str = ""
