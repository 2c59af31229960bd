"""Times as people note them: a time of day becomes the first such moment of a night."""

import datetime as dt
import math
from typing import Final

_DAY_S: Final = 86_400.0


def utc_from(moment: dt.datetime | dt.time, not_before_s: float) -> float:
    """Unix seconds of a moment; a time of day (UTC) is the first one from ``not_before_s`` on."""
    if isinstance(moment, dt.datetime):
        return moment.timestamp()
    tod_s = moment.hour * 3600.0 + moment.minute * 60.0 + moment.second
    return not_before_s + (tod_s - not_before_s) % _DAY_S


def moment_text(moment: dt.datetime | dt.time) -> str:
    """Write a moment as ``driftlead.replay.settings.parse_moment`` reads it."""
    if isinstance(moment, dt.datetime):
        return f"{moment:%Y-%m-%dT%H:%M:%SZ}"
    return f"{moment:%H:%M:%S}"


def clock_text(utc_s: float) -> str:
    """Write Unix seconds as date, hour and minute for people; dashes for not-a-number."""
    if math.isnan(utc_s):
        return "---------- --:--"
    return f"{dt.datetime.fromtimestamp(utc_s, dt.UTC):%Y-%m-%d %H:%M}"
