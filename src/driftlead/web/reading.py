"""What the page may ask for at once: how she lies, her track, what happened, how a drill went."""

from typing import Final

from aiohttp import web

from driftlead.drill.words import ending, findings
from driftlead.web.body import query_number
from driftlead.web.deck import Deck
from driftlead.web.live import Live
from driftlead.web.track_history import COLUMNS

_LONGEST_RUN_S: Final = 1e9
_COLUMNS_JSON: Final = ",".join(f'"{name}"' for name in COLUMNS)


class Reading:
    """Handles now, track, events and drill."""

    def __init__(self, live: Live, deck: Deck) -> None:
        self._live = live
        self._deck = deck

    async def now(self, _: web.Request) -> web.Response:
        """Everything for one glance."""
        async with self._live.turn:
            return web.json_response(self._live.now())

    async def track(self, request: web.Request) -> web.Response:
        """The track of this anchoring."""
        after_s = query_number(
            request, "since", -_LONGEST_RUN_S, _LONGEST_RUN_S, default=-_LONGEST_RUN_S
        )
        step_s = query_number(request, "step", 0.0, 3600.0, default=0.0)
        now = self._live.now()
        history = self._live.history
        origin = now["origin"]
        origin_text = (
            "null" if origin is None else f'{{"lat":{origin["lat"]},"lon":{origin["lon"]}}}'
        )
        async with self._live.turn:
            rows = history.rows(after_s=after_s, step_s=step_s)
            return web.Response(
                text=f'{{"run_id":"{self._live.run_id}","origin":{origin_text},"step_s":{step_s},'
                f'"columns":[{_COLUMNS_JSON}],"rows":[{",".join(rows)}]}}',
                content_type="application/json",
            )

    async def events(self, request: web.Request) -> web.Response:
        """Alerts and changes of state."""
        self._live.now()  # or it says that the daemon is not there
        log = self._live.events
        after = request.query.get("after")
        number = log.number_of(after)
        async with self._live.turn:
            complete, events = log.after(number or 0)
            if after is not None and number is None:
                complete = False
            return web.Response(
                text=f'{{"run_id":"{self._live.run_id}",'
                f'"complete":{"true" if complete else "false"},'
                f'"events":[{",".join(event.text for event in events)}]}}',
                content_type="application/json",
            )

    async def drill(self, _: web.Request) -> web.Response:
        """What came of the last drill that was begun from the page, in words."""
        glance = self._deck.glance()
        result = None
        if glance.drill is not None:
            result = {
                "number": glance.drills,
                "good": glance.drill["good"],
                "text": ending(glance.drill),
                "parts": [
                    {
                        "level": part.level.value.lower(),
                        "what": part.what,
                        "text": part.text,
                        "remedy": part.remedy,
                    }
                    for part in findings(glance.drill)
                ],
            }
        return web.json_response({"result": result})
