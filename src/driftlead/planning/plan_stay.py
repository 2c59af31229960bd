"""The stay that is planned: from when to when, in what water and wind, over what bottom."""

import datetime as dt
from typing import Final

from attrs import frozen

from driftlead.errors import UserInputError
from driftlead.tackle.bottom import Bottom
from driftlead.tackle.wind_load import GUST_FACTOR
from driftlead.tide.table import TideTable
from driftlead.tide.water import Water
from driftlead.units import KNOT_MPS

_LONGEST: Final = dt.timedelta(days=14)
_STRONGEST_MPS: Final = 150 * KNOT_MPS
_LEAST_SCOPE: Final = 2.0
_GREATEST_SCOPE: Final = 20.0


@frozen(kw_only=True)
class Stay:
    """Times are aware. ``wind_mps`` is the mean of the forecast, ``gust_mps`` its gusts.

    ``scope`` is the skipper's own rule. ``sounded_over_chart_m`` is how much more water was sounded
    than chart and tide give, where both are known.
    """

    begins: dt.datetime
    ends: dt.datetime
    water: Water
    wind_mps: float
    gust_mps: float
    bottom: Bottom | None = None
    scope: float | None = None
    sounded_over_chart_m: float | None = None

    def in_zone(self, when: dt.datetime) -> dt.datetime:
        """Return a time in the zone of the beginning: the tide table may keep another."""
        return when.astimezone(self.begins.tzinfo)


def plan_stay(
    *,
    begins: dt.datetime,
    for_s: float,
    depth_m: float | None,
    charted_m: float | None,
    tide: TideTable | None,
    wind_mps: float,
    gust_mps: float | None = None,
    bottom: Bottom | None = None,
    scope: float | None = None,
) -> Stay:
    """Make it of what the skipper knows.

    ``depth_m`` is the water there is when the stay begins; ``charted_m`` that at chart datum,
    negative where it dries. One of them is needed; the sounding counts where both are given.
    Raises UserInputError for what cannot be.
    """
    if not 0.0 < for_s <= _LONGEST.total_seconds():
        raise UserInputError(
            "A stay is longer than nothing and no longer than 14 days.",
            remedy="Give its length, such as --for 12h.",
        )
    if not 0.0 <= wind_mps <= _STRONGEST_MPS:
        raise UserInputError("No such wind can be.", remedy="Correct the wind.")
    gust_mps = wind_mps * GUST_FACTOR if gust_mps is None else gust_mps
    if not wind_mps <= gust_mps <= _STRONGEST_MPS:
        raise UserInputError(
            "Gusts cannot be weaker than the mean wind.", remedy="Correct the wind or the gusts."
        )
    if scope is not None and not _LEAST_SCOPE <= scope <= _GREATEST_SCOPE:
        raise UserInputError(
            f"A scope of {scope:g} is no rule to lie to.", remedy="Give one from 2 to 20."
        )
    return Stay(
        begins=begins,
        ends=begins + dt.timedelta(seconds=for_s),
        water=_water(begins, depth_m, charted_m, tide),
        wind_mps=wind_mps,
        gust_mps=gust_mps,
        bottom=bottom,
        scope=scope,
        sounded_over_chart_m=_sounded_over_chart_m(begins, depth_m, charted_m, tide),
    )


def _sounded_over_chart_m(
    begins: dt.datetime, depth_m: float | None, charted_m: float | None, tide: TideTable | None
) -> float | None:
    if depth_m is None or charted_m is None or tide is None:
        return None
    return depth_m - charted_m - tide.height_m(begins)


def _water(
    begins: dt.datetime, depth_m: float | None, charted_m: float | None, tide: TideTable | None
) -> Water:
    if depth_m is not None:
        if depth_m <= 0.0:
            raise UserInputError("There is no water to anchor in.", remedy="Give the depth now.")
        return Water.sounded(depth_m, at=begins, tide=tide)
    if charted_m is None:
        raise UserInputError(
            "The depth is not known.",
            remedy="Give the depth now (--depth 6m), or the charted one with a tide table.",
        )
    if tide is None:
        raise UserInputError(
            "A charted depth alone does not say how much water there is.",
            remedy="Give a tide table (--tide FILE), or the depth now (--depth 6m).",
        )
    return Water(datum_depth_m=charted_m, tide=tide)
