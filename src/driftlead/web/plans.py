"""How much rode, and will it hold, for the page: the boat as configured, the stay as asked."""

import asyncio
import datetime as dt
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any, Final

from aiohttp import web
from attrs import frozen

from driftlead.geodesy.position import Position
from driftlead.planning.plan_settings import PlanSettings
from driftlead.web.body import bad, json_object, number_of, only_keys
from driftlead.web.deck import Deck
from driftlead.web.live import Live
from driftlead.web.problem import ProblemError

if TYPE_CHECKING:
    from driftlead.tide.table import TideTable

_KEYS: Final = (
    *("wind_mps", "gust_mps", "depth_m", "charted_m", "begins", "for_s"),
    *("bottom", "scope", "tide"),
)
_TURN_KEYS: Final = ("t", "height_m")
_MOST_TURNS: Final = 120
_HEIGHTS_M: Final = (-20.0, 20.0)
_YEARS: Final = (2000, 2100)
_STRONGEST_MPS: Final = 77.0
_USUAL_S: Final = 12 * 3600.0
_LONGEST_S: Final = 14 * 86_400.0
_CHARTED_M: Final = (-20.0, 1000.0)
_FARTHEST: Final = dt.timedelta(days=14)
_NOT_COVERED: Final = (
    "The configured tide table does not cover the stay: reckoned as if the water stayed as it is."
)


@frozen
class _Around:
    """What is known aboard: depth and place now, and the configured high and low waters."""

    depth_m: float | None
    place: Position | None
    tide: tuple[tuple[float, float], ...]


@frozen
class _Tide:
    """The tide to reckon with, whose it is, and what is to be said of it."""

    table: "TideTable | None"
    source: str | None
    warnings: tuple[str, ...] = ()


class Plans:
    """Handles ``POST /api/v1/plan``; ``boat`` None: nothing to plan by is configured."""

    def __init__(
        self,
        boat: PlanSettings | None,
        live: Live,
        deck: Deck,
        *,
        utc: Callable[[], dt.datetime],
    ) -> None:
        self._boat = boat
        self._live = live
        self._deck = deck
        self._utc = utc
        self._making = asyncio.Lock()

    async def plan(self, request: web.Request) -> web.Response:
        """Make a plan; it takes some milliseconds, which the watch is not kept waiting for."""
        data = await json_object(request)
        only_keys(data, _KEYS)
        if self._boat is None:
            raise ProblemError(
                501, "not_there", "No boat is configured to plan for.", "Write [boat] and [tackle]."
            )
        glance = self._deck.glance()
        status = glance.status
        around = _Around(status.depth_m, status.position, glance.tide)
        begins = self._utc().astimezone(self._boat.zone).replace(second=0, microsecond=0)
        async with self._making:
            made = await asyncio.to_thread(_made, data, self._boat, around, begins)
        return web.json_response(made)


def _made(
    data: Mapping[str, Any], boat: PlanSettings, around: _Around, begins: dt.datetime
) -> dict[str, Any]:
    # Only where somebody plans: the daemon itself needs none of it.
    from driftlead.planning.plan import make_plan  # noqa: PLC0415
    from driftlead.planning.plan_boat import plan_boat  # noqa: PLC0415
    from driftlead.planning.plan_json import plan_to_json  # noqa: PLC0415
    from driftlead.planning.plan_lights import darkness  # noqa: PLC0415
    from driftlead.planning.plan_stay import plan_stay  # noqa: PLC0415
    from driftlead.tackle.bottom import Bottom  # noqa: PLC0415

    def optional(key: str, low: float, high: float) -> float | None:
        return None if data.get(key) is None else number_of(data, key, low, high)

    bottom = data.get("bottom")
    if bottom is not None and bottom not in list(Bottom):
        raise bad("bottom is not one there is.", f"Say one of: {', '.join(Bottom)}.")
    depth_m, charted_m = optional("depth_m", 0.0, 1000.0), optional("charted_m", *_CHARTED_M)
    now, begins = begins, _begins(data, begins)
    if depth_m is None and charted_m is None:
        if begins > now:
            raise bad(
                "The depth then is not known.",
                "Give the depth there will be when the stay begins, or the charted one.",
            )
        depth_m = around.depth_m
    for_s = number_of(data, "for_s", 60.0, _LONGEST_S, default=_USUAL_S)
    tide = _tide(data, around, begins, begins + dt.timedelta(seconds=for_s))
    stay = plan_stay(
        begins=begins,
        for_s=for_s,
        depth_m=depth_m,
        charted_m=charted_m,
        tide=tide.table,
        wind_mps=number_of(data, "wind_mps", 0.0, _STRONGEST_MPS),
        gust_mps=optional("gust_mps", 0.0, _STRONGEST_MPS),
        bottom=None if bottom is None else Bottom(bottom),
        scope=optional("scope", 2.0, 20.0),
    )
    dark = None if around.place is None else darkness(around.place, stay.begins, stay.ends)
    told = plan_to_json(make_plan(plan_boat(boat), stay), dark)
    told["warnings"] = [*tide.warnings, *told["warnings"]]
    return {**told, "tide": tide.source}


def _tide(
    data: Mapping[str, Any], around: _Around, begins: dt.datetime, ends: dt.datetime
) -> _Tide:
    """The table that is given, or the configured one; none for an empty list."""
    from driftlead.tide.table import TideTable, Turn  # noqa: PLC0415

    given = data.get("tide")
    if given is not None:
        return _Tide(_given(given), "given") if given != [] else _Tide(None, None)
    if not around.tide:
        return _Tide(None, None)
    table = TideTable(
        tuple(
            Turn(when=dt.datetime.fromtimestamp(utc_s, dt.UTC), height_m=height_m)
            for utc_s, height_m in around.tide
        )
    )
    if not table.begins <= begins <= ends <= table.ends:
        return _Tide(None, None, (_NOT_COVERED,))
    return _Tide(table, "configured")


def _given(given: Any) -> "TideTable":
    from driftlead.tide.table import Row, Turn, tide_table  # noqa: PLC0415

    if not isinstance(given, list) or len(given) > _MOST_TURNS:
        raise bad(
            "tide is not a list of high and low waters.",
            f'Give up to {_MOST_TURNS} of {{"t": "2026-06-14T18:20:00Z", "height_m": 4.1}}.',
        )
    rows = []
    for number, turn in enumerate(given, start=1):
        if not isinstance(turn, dict):
            raise bad(f"tide, turn {number}: It is no object.", "Give t and height_m.")
        only_keys(turn, _TURN_KEYS)
        height_m = number_of(turn, "height_m", *_HEIGHTS_M)
        turn_at = Turn(when=_when(turn, "t"), height_m=height_m)
        rows.append(Row(where=f"turn {number}", turn=turn_at))
    return tide_table(rows, name="tide")


def _begins(data: Mapping[str, Any], now: dt.datetime) -> dt.datetime:
    """When the stay begins, in the zone of ``now``, which it is by default."""
    if data.get("begins") is None:
        return now
    begins = _when(data, "begins").astimezone(now.tzinfo)
    if not now <= begins <= now + _FARTHEST:
        raise bad("begins is not from now to 14 days on.", "Give a later time.")
    return begins


def _when(data: Mapping[str, Any], key: str) -> dt.datetime:
    try:
        when = dt.datetime.fromisoformat(data.get(key, ""))
    except (TypeError, ValueError):
        when = None
    if when is None or when.tzinfo is None or not _YEARS[0] <= when.year <= _YEARS[1]:
        raise bad(f"{key} is not a time with its zone.", "Give such as 2026-06-14T18:20:00Z.")
    return when
