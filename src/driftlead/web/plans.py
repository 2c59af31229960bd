"""How much rode, and will it hold, for the page: the boat as configured, the stay as asked."""

import datetime as dt
from collections.abc import Callable
from typing import Any, Final

from aiohttp import web

from driftlead.planning.plan_settings import PlanSettings
from driftlead.web.body import bad, json_object, number_of, only_keys
from driftlead.web.live import Live
from driftlead.web.problem import ProblemError

_KEYS: Final = ("wind_mps", "gust_mps", "depth_m", "for_s", "bottom", "scope")
_STRONGEST_MPS: Final = 77.0
_USUAL_S: Final = 12 * 3600.0
_LONGEST_S: Final = 14 * 86_400.0


class Plans:
    """Handles ``POST /api/v1/plan``; ``boat`` None: nothing to plan by is configured."""

    def __init__(
        self, boat: PlanSettings | None, live: Live, *, utc: Callable[[], dt.datetime]
    ) -> None:
        self._boat = boat
        self._live = live
        self._utc = utc

    async def plan(self, request: web.Request) -> web.Response:
        """Make a plan; it takes about a millisecond."""
        data = await json_object(request)
        only_keys(data, _KEYS)
        if self._boat is None:
            raise ProblemError(
                501, "not_there", "No boat is configured to plan for.", "Write [boat] and [tackle]."
            )
        return web.json_response(self._made(data, self._boat))

    def _made(self, data: dict[str, Any], boat: PlanSettings) -> dict[str, Any]:
        # Only where somebody plans: the daemon itself needs none of it.
        from driftlead.planning.plan import make_plan  # noqa: PLC0415
        from driftlead.planning.plan_boat import plan_boat  # noqa: PLC0415
        from driftlead.planning.plan_json import plan_to_json  # noqa: PLC0415
        from driftlead.planning.plan_stay import plan_stay  # noqa: PLC0415
        from driftlead.tackle.bottom import Bottom  # noqa: PLC0415

        def optional(key: str, low: float, high: float) -> float | None:
            return None if data.get(key) is None else number_of(data, key, low, high)

        bottom = data.get("bottom")
        if bottom is not None and bottom not in list(Bottom):
            raise bad("bottom is not one there is.", f"Say one of: {', '.join(Bottom)}.")
        depth_m = optional("depth_m", 0.0, 1000.0)
        stay = plan_stay(
            begins=self._utc().astimezone(boat.zone).replace(second=0, microsecond=0),
            for_s=number_of(data, "for_s", 60.0, _LONGEST_S, default=_USUAL_S),
            depth_m=self._live.now()["depth_m"] if depth_m is None else depth_m,
            charted_m=None,
            tide=None,
            wind_mps=number_of(data, "wind_mps", 0.0, _STRONGEST_MPS),
            gust_mps=optional("gust_mps", 0.0, _STRONGEST_MPS),
            bottom=None if bottom is None else Bottom(bottom),
            scope=optional("scope", 2.0, 20.0),
        )
        return plan_to_json(make_plan(plan_boat(boat), stay), None)
