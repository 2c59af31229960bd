"""From when to when a night was recorded, by its receiver's dates, without decoding it."""

import datetime as dt
import re
from contextlib import suppress
from typing import Final

from driftlead.errors import RecordingError, UserInputError
from driftlead.lines import StampedLine
from driftlead.nmea.checksum import checksum
from driftlead.replay.reader import LogReader
from driftlead.tune.moments import clock_text, utc_from
from driftlead.tune.nights import Night

_RMC: Final = re.compile(
    r"\$(?P<body>[A-Z]{2}RMC,(?P<time>\d{6})[.\d]*,[AV](?:,[^,]*){6},(?P<date>\d{6}),[^*]*)"
    r"\*(?P<sum>[0-9A-F]{2})"
)
_EARLY_S: Final = 60.0
"""A drag may be noted by a clock that is a minute off."""


def check_within(night: Night, at: dt.datetime | dt.time, date: dt.date | None) -> None:
    """Raise UserInputError if a moment is not within a night.

    ``date`` is that on which a log begins whose receiver says none: of such, and of one that
    cannot be read, nothing can be said here.
    """
    if date is not None:
        return
    span = None
    with suppress(RecordingError):  # whoever decodes it will say what is wrong with it
        span = _span(night)
    if span is None:
        return
    first_s, last_s = span
    begins_s = utc_from(at, first_s - _EARLY_S)
    if not first_s - _EARLY_S <= begins_s <= last_s:
        raise UserInputError(
            f"{night.name}: {clock_text(begins_s)} UTC is not within that night, "
            f"{clock_text(first_s)} to {clock_text(last_s)}.",
            remedy="Correct the time (UTC), such as --at 03:12; with its date where it is not the "
            "first such time of the night.",
        )


def _span(night: Night) -> tuple[float, float] | None:
    first_s = last_s = None
    for batch in LogReader.of(night.paths).batches():
        for item in batch:
            if not isinstance(item, StampedLine) or "RMC," not in item.text:
                continue
            utc_s = _utc_s(item.text)
            if utc_s is not None:
                first_s = utc_s if first_s is None else first_s
                last_s = utc_s
    return None if first_s is None or last_s is None else (first_s, last_s)


def _utc_s(text: str) -> float | None:
    match = _RMC.search(text)
    if match is None or int(match["sum"], 16) != checksum(match["body"]):
        return None
    try:
        moment = dt.datetime.strptime(match["date"] + match["time"], "%d%m%y%H%M%S")  # noqa: DTZ007
    except ValueError:
        return None
    return moment.replace(tzinfo=dt.UTC).timestamp()
