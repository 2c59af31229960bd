"""The one family of errors driftlead raises on purpose.

A message says what is wrong; ``remedy`` says what the person can do about it.
"""


class DriftleadError(Exception):
    """Base of every error driftlead raises on purpose. Catch this, not its neighbours."""

    def __init__(self, message: str, *, remedy: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".rstrip() if self.remedy else self.message


class UserInputError(DriftleadError):
    """The person gave something we cannot use: an option, a length, a time, a position."""


class ConfigError(DriftleadError):
    """The configuration file is wrong; ``problems`` lists every fault, one line each."""

    def __init__(self, message: str, *, problems: tuple[str, ...] = (), remedy: str = "") -> None:
        super().__init__(message, remedy=remedy)
        self.problems = problems


class RefusedError(DriftleadError):
    """The watch refused an event that makes no sense in its present state; nothing changed."""


class RecordingError(DriftleadError):
    """A recorded log cannot be read as what it claims to be."""


class JournalError(DriftleadError):
    """The journal cannot be read or written."""


class SourceError(DriftleadError):
    """A source cannot be opened or has failed."""


class NotifierError(DriftleadError):
    """A notifier could not do its work."""


class DaemonError(DriftleadError):
    """The daemon cannot be reached, or cannot start."""
