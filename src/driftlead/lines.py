"""The one shape in which every source hands over what it read."""

from driftlead.values import light_value


@light_value
class StampedLine:
    """One line of text as a source read it, and when.

    ``mono_s`` is seconds on a monotonic clock (never the wall clock), quantised to a microsecond
    so that a recording gives back the identical float. ``source`` is the name from the
    configuration. ``text`` is the line without its line end, one character for each byte
    (latin-1), so nothing a receiver sends can be lost or raise.
    """

    mono_s: float
    source: str
    text: str
