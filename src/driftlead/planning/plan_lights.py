"""When it is dark during the stay.

Sunset and sunrise by astral, for a level horizon; hills and refraction shift them by minutes.
"""

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

import astral
import astral.sun
from attrs import frozen

from driftlead.geodesy.position import Position

_UPPER_LIMB_DEG: Final = -0.833
"""The sun's centre when its upper limb is at the horizon: 50', refraction and half its width."""


@frozen(kw_only=True)
class Dark:
    """A time from sunset to sunrise."""

    sunset: dt.datetime
    sunrise: dt.datetime


@frozen(kw_only=True)
class Darkness:
    """The dark hours that fall in a stay; with none, whether it is day or night throughout."""

    spells: tuple[Dark, ...]
    dark_throughout: bool


def darkness(position: Position, begins: dt.datetime, ends: dt.datetime) -> Darkness:
    """Find the dark hours of a stay, in the zone of its beginning. Times are aware."""
    observer = astral.Observer(latitude=position.lat_deg, longitude=position.lon_deg)
    events = sorted(_events(observer, begins, ends))
    spells = tuple(
        Dark(sunset=first.astimezone(begins.tzinfo), sunrise=second.astimezone(begins.tzinfo))
        for (first, sets), (second, _) in pairwise(events)
        if sets and first < ends and second > begins
    )
    elevation_deg = float(astral.sun.elevation(observer, begins))
    return Darkness(spells=spells, dark_throughout=not spells and elevation_deg < _UPPER_LIMB_DEG)


def _events(
    observer: astral.Observer, begins: dt.datetime, ends: dt.datetime
) -> Iterator[tuple[dt.datetime, bool]]:
    """Give risings and settings (True) from the day before to the day after."""
    day = begins.astimezone(dt.UTC).date() - dt.timedelta(days=1)
    last = ends.astimezone(dt.UTC).date() + dt.timedelta(days=1)
    while day <= last:
        for sets, find in ((True, astral.sun.sunset), (False, astral.sun.sunrise)):
            try:
                yield find(observer, date=day, tzinfo=dt.UTC), sets
            except ValueError:  # it does not rise or set on this day
                continue
        day += dt.timedelta(days=1)
