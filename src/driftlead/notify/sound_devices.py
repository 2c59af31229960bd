"""Which sound devices there are, for an owner whose own has gone or was never right."""

from collections.abc import Awaitable, Callable

from driftlead.errors import NotifierError
from driftlead.notify.program import run_program

LIMIT_S = 2.0
_MOST_NAMED = 12
# What ALSA always lists: no loudspeaker is behind these.
_NO_SPEAKERS = frozenset({"null", "lavrate", "samplerate", "speexrate", "jack", "oss", "upmix"})


async def devices_hint(sleep: Callable[[float], Awaitable[None]]) -> str:
    """Name the devices ``aplay -L`` finds, in a sentence. Never fails: it only explains."""
    try:
        listed = await run_program(("aplay", "-L"), limit_s=LIMIT_S, sleep=sleep)
    except NotifierError as error:
        return f"The devices could not be listed: {error.message}"
    names = device_names(listed)
    if not names:
        return "ALSA finds no sound device: is the loudspeaker plugged in and switched on?"
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"ALSA finds: {', '.join(names[:_MOST_NAMED])}{more}."


def device_names(listing: str) -> list[str]:
    """Read what ``aplay -L`` prints: names start a line, their descriptions are indented.

    Devices that convert to what a loudspeaker takes (``plughw:``) come first.
    """
    names = [line.strip() for line in listing.splitlines() if line and not line[0].isspace()]
    speakers = [name for name in names if name not in _NO_SPEAKERS]
    return sorted(speakers, key=lambda name: not name.startswith(("plughw:", "default")))
