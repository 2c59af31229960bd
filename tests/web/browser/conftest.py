"""A browser, and a watch of our own making behind the real page and its real headers.

The fake speaks the API of ``openapi.json``, so that a test can put any evening on the page at once,
fall silent or come back. Against the real daemon the page is tested in ``test_real_watch.py``.
"""

import asyncio
import datetime as dt
import importlib
import itertools
import json
import math
import os
import secrets
import shutil
import threading
import time
from collections.abc import Awaitable, Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any, NoReturn

import pytest
from aiohttp import web

from driftlead.geodesy.plane import LocalPlane, offset
from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerAhead, DangerKind
from driftlead.planning.response import Situation, response_card
from driftlead.planning.room_around import around_document
from driftlead.records.around_file import load_around
from driftlead.web.guard import add_headers
from driftlead.web.static_files import StaticFiles

DOCS = Path(__file__).resolve().parents[3] / "docs"
CHROMIUM = os.environ.get("DRIFTLEAD_CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
PHONE = {"width": 360, "height": 740}
CHART_TABLE = {"width": 1280, "height": 800}
PIN = "482913"
PATIENCE_S = 30.0
DROP = Position(46.5012, -31.2034)
EVENING = dt.datetime(2026, 6, 14, 19, 20, tzinfo=dt.UTC)
COLUMNS = (
    *("run_s", "utc_s", "east_m", "north_m", "distance_m", "radius_m", "confidence"),
    *("heading_deg", "wind_from_deg", "wind_mps", "depth_m"),
)
DANGER = DangerAhead(
    name="Pontoon",
    kind=DangerKind.PIER,
    distance_m=140.0,
    bearing_deg=190.0,
    minutes=12.4,
    nearest_name="Pontoon",
    nearest_m=131.0,
    nearest_bearing_deg=187.0,
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what drives a browser: its driver keeps an event loop, so these tests are run apart."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker("browser")


def absent(why: str) -> NoReturn:
    """Skip for want of a browser; in CI that is a failure."""
    if os.environ.get("CI"):
        pytest.fail(f"{why}; in CI the page must be tested")
    pytest.skip(why)


def lie(run_s: float) -> dict[str, float]:
    """How she lies so long after letting go: wind backing and filling, a boat that yaws, a tide."""
    wind_from = 12 + 22 * math.sin(run_s / 9000) + 5 * math.sin(run_s / 170)
    yaw = 24 * math.sin(run_s / 23)
    out_m = 33.5 + 2 * math.sin(run_s / 61) + 1.2 * math.sin(run_s / 7.3)
    east, north = offset(wind_from + 180 + yaw / 2, out_m)
    return {
        "run_s": round(run_s, 1),
        "utc_s": round(EVENING.timestamp() + run_s, 1),
        "east_m": round(east, 2),
        "north_m": round(north, 2),
        "distance_m": round(math.hypot(east, north), 1),
        "radius_m": round(42.0 - 0.8 * math.cos(run_s / 7100), 1),
        "confidence": 0.004,
        "bearing_deg": round(math.degrees(math.atan2(east, north)) % 360, 1),
        "heading_deg": round((wind_from + yaw) % 360, 1),
        "wind_from_deg": round(wind_from % 360, 1),
        "wind_mps": round(7 + 2.2 * math.sin(run_s / 5100) + abs(1.5 * math.sin(run_s / 47)), 1),
        "depth_m": round(5.2 + 1.3 * math.cos(run_s / 7100), 1),
    }


def utc_text(utc_s: float) -> str:
    """ISO 8601 to the millisecond."""
    text = dt.datetime.fromtimestamp(utc_s, dt.UTC).isoformat(timespec="milliseconds")
    return text.replace("+00:00", "Z")


class FakeWatch:
    """The API, told by the test how she lies. Times run on from ``begun_s`` by the real clock."""

    def __init__(self) -> None:
        self.run_id = secrets.token_hex(4)
        self.begun_s = 0.0
        self.said: dict[str, Any] = {"state": "riding", "on_watch": True}
        self.alerts: list[dict[str, Any]] = []
        self.events: list[dict[str, Any]] = []
        self.commands: list[dict[str, Any]] = []
        self.devices: dict[str, dict[str, Any]] = {}
        self.crew: list[dict[str, Any]] = []
        self.reading_needs_pairing = False
        self.mute = False
        self.refuses = ""
        self.plans: list[dict[str, Any]] = []
        self.track: list[list[float | None]] = []
        self.surroundings: dict[str, Any] = {"type": "FeatureCollection", "features": []}
        self.mark = (0.0, 0.0)
        self.drill_result: dict[str, Any] | None = None
        self.port = 0
        self.columns = COLUMNS
        self._numbers = itertools.count(1)
        self._started_s = time.monotonic()
        self._queues: set[asyncio.Queue[bytes | None]] = set()
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()
        self._runner: web.AppRunner | None = None

    # -- what a test does ------------------------------------------------------------------------

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"http://127.0.0.1:{self.port}/"

    def start(self) -> None:
        """Serve, on the same port as before if there was one."""
        self._in_loop(self._start())

    def stop(self) -> None:
        """Vanish, as a killed daemon does."""
        self._in_loop(self._stop())

    def close(self) -> None:
        """Leave nothing behind."""
        self.stop()
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join()
        self._loop.close()

    def hours(self, hours: float) -> None:
        """Let her have lain for so long."""
        self.begun_s = hours * 3600.0
        points = (lie(run_s) for run_s in range(0, int(self.begun_s), 5))
        self.track = [[point[name] for name in COLUMNS] for point in points]
        self._started_s = time.monotonic()

    def restart(self) -> None:
        """Be another run, as a daemon that was started anew."""
        self.run_id = secrets.token_hex(4)
        self.start()

    def tell(self, event: dict[str, Any]) -> None:
        """Let an alert or a change of state happen."""
        self._in_loop(self._tell(event))

    def say(self, **changes: Any) -> None:
        """Change what the next `now` says, and send it."""
        self.said |= changes
        self._in_loop(self._send_now())

    def alert(self, name: str, **changes: Any) -> dict[str, Any]:
        """Raise an alert, or change one."""
        event = {
            "v": 1,
            "t": utc_text(EVENING.timestamp() + self.run_s),
            "kind": "alert",
            "name": name,
            "instance": "",
            "number": 1,
            "priority": "alarm",
            "state": "active_unacknowledged",
            "reason": "anchor_moved",
            "text": "The anchor is dragging.",
            "moved_m": 12.8,
            "bearing_deg": 194.5,
            "rate_mps": 0.082,
            "confidence": 0.996,
            "anchor": None,
            "by": None,
            "where": None,
            "handed_to": None,
            **changes,
        }
        self.tell(event)
        return event

    def drag(self) -> None:
        """Let the anchor come home: the state, the verdict and the alarm."""
        east, north = offset(194.5, 12.8)
        self.said |= {
            "state": "dragging",
            "verdict": "dragging",
            "reason": "anchor_moved",
            "confidence": 0.996,
            "log_odds": 5.52,
            "moved_m": 12.8,
            "moved_deg": 194.5,
            "rate_mps": 0.082,
            "danger": {
                "name": DANGER.name,
                "kind": DANGER.kind.value,
                "distance_m": DANGER.distance_m,
                "bearing_deg": DANGER.bearing_deg,
                "minutes": DANGER.minutes,
            },
            "response": response_card(
                Situation(
                    moved_m=12.8,
                    bearing_deg=194.5,
                    rate_mps=0.082,
                    danger=DANGER,
                    rode_m=38.0,
                    rode_aboard_m=60.0,
                    depth_m=5.2,
                    anchor=DROP,
                )
            ).to_data(),
        }
        self.said["shift"] = (east, north)
        self.tell(
            {
                "v": 1,
                "t": utc_text(EVENING.timestamp() + self.run_s),
                "kind": "state",
                "name": "drag_found",
                "priority": None,
                "state": "dragging",
                "reason": "anchor_moved",
                "moved_m": 12.8,
                "bearing_deg": 194.5,
                "anchor": None,
            }
        )
        self.alert("drag")

    @property
    def run_s(self) -> float:
        """How long this run has lasted."""
        return self.begun_s + time.monotonic() - self._started_s

    def pair(self, name: str) -> dict[str, Any]:
        """Pair a device without its typing a PIN; the cookie for its browser."""
        token = secrets.token_hex(16)
        self.devices[token] = {"id": token[:8], "name": name, "paired_utc": None}
        return {"name": "driftlead_device", "value": token, "url": self.url}

    def now(self) -> dict[str, Any]:
        """What a `now` says."""
        lies = lie(self.run_s)
        plane = LocalPlane(DROP)
        shift = self.said.get("shift", (0.0, 0.0))
        east, north = lies["east_m"] + shift[0], lies["north_m"] + shift[1]
        lat, lon = plane.to_lat_lon(east, north)
        anchor_east, anchor_north = self.mark[0] + shift[0], self.mark[1] + shift[1]
        anchor_lat, anchor_lon = plane.to_lat_lon(anchor_east, anchor_north)
        off_east, off_north = east - self.mark[0], north - self.mark[1]
        said = {key: value for key, value in self.said.items() if key != "shift"}
        return {
            "run_id": self.run_id,
            "run_s": round(self.run_s, 3),
            "utc": utc_text(lies["utc_s"]),
            "state": "riding",
            "on_watch": True,
            "set_result": "anchor_bitten",
            "verdict": "holding",
            "reason": "as_the_rode_allows",
            "confidence": 0.004,
            "log_odds": -5.5,
            "distance_m": round(math.hypot(off_east, off_north), 1),
            "bearing_deg": round(math.degrees(math.atan2(off_east, off_north)) % 360, 1),
            "radius_m": 42.0,
            "moved_m": 0.0,
            "moved_deg": 0.0,
            "rate_mps": None,
            "danger": None,
            "response": None,
            "origin": {"lat": DROP.lat_deg, "lon": DROP.lon_deg},
            "position": {"lat": lat, "lon": lon, "east_m": east, "north_m": north},
            "anchor": {
                "lat": anchor_lat,
                "lon": anchor_lon,
                "sigma_m": 2.6,
                "method": "marked" if self.mark == (0.0, 0.0) else "given",
                "east_m": anchor_east,
                "north_m": anchor_north,
            },
            "rode_m": 38.0,
            "depth_m": lies["depth_m"],
            "heading_deg": lies["heading_deg"],
            "wind_from_deg": lies["wind_from_deg"],
            "wind_mps": lies["wind_mps"],
            "fix_age_s": 0.3,
            "receiver": "gps/satellite",
            "boat": {
                "name": "Corvid",
                "length_m": 9.6,
                "bow_height_m": 1.1,
                "antenna_aft_m": 7.8,
            },
            "drills": 0 if self.drill_result is None else self.drill_result["number"],
            "crew": self.crew,
            "alerts": self.alerts,
            "sources": [{"name": "gps", "open": True, "detail": "Reading.", "line_age_s": 0.2}],
            "journal_ok": True,
            "recording_ok": True,
            "lost_lines": 0,
            **said,
        }

    def load_surroundings(self) -> None:
        """Put the neighbours and dangers of Pellow Sound round her."""
        plane = LocalPlane(DROP)
        self.surroundings = around_document(
            load_around(DOCS / "pellow-sound.toml", plane, depth_m=6.4), plane
        )

    # -- how it is done --------------------------------------------------------------------------

    def _in_loop(self, work: Awaitable[Any]) -> Any:
        async def run() -> Any:
            return await work

        return asyncio.run_coroutine_threadsafe(run(), self._loop).result(10)

    async def _start(self) -> None:
        app = web.Application()
        app.on_response_prepare.append(add_headers)
        for method, path, handler in (
            ("GET", "session", self._session),
            ("POST", "pair", self._pair),
            ("GET", "devices", self._devices),
            ("DELETE", "devices/{id}", self._unpair),
            ("GET", "track", self._track),
            ("GET", "events", self._events),
            ("GET", "drill", self._drill),
            ("GET", "stream", self._stream),
            ("POST", "commands", self._command),
            ("GET", "nights", self._nights),
            ("GET", "nights/{name}", self._night),
            ("GET", "nights/{name}/replay", self._replay),
            ("GET", "surroundings", self._surroundings),
            ("POST", "plan", self._plan),
        ):
            app.router.add_route(method, f"/api/v1/{path}", handler)
        app.router.add_get("/{path:.*}", StaticFiles().file)
        self._runner = web.AppRunner(app, access_log=None, shutdown_timeout=0.1)
        await self._runner.setup()
        site = web.TCPSite(self._runner, "127.0.0.1", self.port, reuse_address=True)
        await site.start()
        self.port = self._runner.addresses[0][1]
        self._ticking = asyncio.create_task(self._tick())

    async def _stop(self) -> None:
        if self._runner is None:
            return
        self._ticking.cancel()
        for queue in self._queues:
            queue.put_nowait(None)
        server = self._runner.server
        for connection in server.connections if server else ():
            if connection.transport is not None:
                connection.transport.abort()
        await self._runner.cleanup()
        self._runner = None

    async def _tick(self) -> None:
        while True:
            await asyncio.sleep(1.0)
            await self._send_now()

    async def _send_now(self) -> None:
        if not self.mute:
            self._send(frame("now", self.now()))

    async def _tell(self, event: dict[str, Any]) -> None:
        event_id = f"{self.run_id}.{next(self._numbers)}"
        item = {"id": event_id, "run_s": round(self.run_s, 3), "event": event}
        self.events.append(item)
        if event["kind"] == "alert":
            others = [alert for alert in self.alerts if alert["name"] != event["name"]]
            self.alerts = others if event["state"] == "normal" else [event, *others]
        self._send(frame(event["kind"], item, event_id))

    def _send(self, data: bytes) -> None:
        for queue in self._queues:
            queue.put_nowait(data)

    def _device(self, request: web.Request) -> dict[str, Any] | None:
        return self.devices.get(request.cookies.get("driftlead_device", ""))

    def _described(self, token: str | None) -> dict[str, Any]:
        device = self.devices.get(token or "")
        return {
            "paired": device is not None,
            "device": device and {**device, "current": True},
            "csrf": None if device is None else "csrf-of-" + (token or "")[:6],
            "reading_needs_pairing": self.reading_needs_pairing,
            "can_read": device is not None or not self.reading_needs_pairing,
            "version": "0.0",
        }

    async def _session(self, request: web.Request) -> web.Response:
        return web.json_response(self._described(request.cookies.get("driftlead_device")))

    async def _pair(self, request: web.Request) -> web.Response:
        asked = await request.json()
        if asked["pin"] != PIN:
            return refuse(401, "wrong_pin", "The PIN is wrong.", "Run driftlead pair for another.")
        cookie = self.pair(asked["name"])
        answer = web.json_response(self._described(cookie["value"]))
        answer.set_cookie(cookie["name"], cookie["value"], httponly=True, samesite="Strict")
        return answer

    async def _devices(self, request: web.Request) -> web.Response:
        own = self._device(request)
        listed = [{**each, "current": each is own} for each in self.devices.values()]
        return web.json_response({"devices": listed})

    async def _unpair(self, request: web.Request) -> web.Response:
        wanted = request.match_info["id"]
        self.devices = {token: each for token, each in self.devices.items() if each["id"] != wanted}
        return await self._devices(request)

    async def _track(self, _: web.Request) -> web.Response:
        return web.json_response(
            {
                "run_id": self.run_id,
                "step_s": 5.0,
                "columns": COLUMNS,
                "origin": {"lat": DROP.lat_deg, "lon": DROP.lon_deg},
                "rows": self.track,
            }
        )

    async def _events(self, _: web.Request) -> web.Response:
        return web.json_response({"run_id": self.run_id, "complete": True, "events": self.events})

    async def _drill(self, _: web.Request) -> web.Response:
        return web.json_response({"result": self.drill_result})

    async def _surroundings(self, _: web.Request) -> web.Response:
        return web.json_response(self.surroundings)

    async def _stream(self, request: web.Request) -> web.StreamResponse:
        if self.reading_needs_pairing and self._device(request) is None:
            return refuse(401, "not_paired", "This device is not paired.", "Pair it.")
        response = await begin_stream(request)
        queue: asyncio.Queue[bytes | None] = asyncio.Queue()
        if not self.mute:
            queue.put_nowait(frame("now", self.now()))
        self._queues.add(queue)
        try:
            with suppress(ConnectionError):
                while (data := await queue.get()) is not None:
                    await response.write(data)
        finally:
            self._queues.discard(queue)
        return response

    async def _command(self, request: web.Request) -> web.Response:
        device = self._device(request)
        if device is None:
            return refuse(401, "not_paired", "This device is not paired.", "Pair it.")
        if not request.headers.get("X-Csrf-Token", "").startswith("csrf-of-"):
            return refuse(403, "cross_site", "The token is missing.", "Load the page anew.")
        asked = await request.json()
        self.commands.append(asked)
        if asked["command"] == "move_anchor" and not self.refuses and not self.now()["on_watch"]:
            self.refuses = f"correct mark makes no sense while {self.now()['state']}."
        if asked["command"] == "move_anchor" and self.refuses:
            answer = {"accepted": False, "saved": False, "text": self.refuses}
            return web.json_response({**answer, "remedy": "Check the place."})
        answers = {"active_unacknowledged", "silenced", "rectified_unacknowledged"}
        word = {"acknowledge": "active_acknowledged", "silence": "silenced"}.get(asked["command"])
        if word is not None:
            for alert in [each for each in self.alerts if each["state"] in answers]:
                await self._tell({**alert, "state": word, "by": device["name"]})
        elif asked["command"] == "let_go":
            self.said |= {"state": "let_go", "on_watch": True}
        elif asked["command"] == "move_anchor":
            await self._move_anchor(asked["lat"], asked["lon"])
        elif asked["command"] == "transfer":
            handed = {"state": "responsibility_transferred", "handed_to": asked["to"]}
            for alert in [each for each in self.alerts if each["state"] in answers]:
                await self._tell({**alert, **handed, "by": device["name"]})
        elif asked["command"] == "weigh":
            self.said |= {"state": "aweigh", "on_watch": False}
        elif asked["command"] == "slip":
            await self._slip()
        await self._send_now()
        text = f"{asked['command'].replace('_', ' ').capitalize()}: done."
        return web.json_response({"accepted": True, "saved": True, "text": text, "remedy": ""})

    async def _move_anchor(self, lat: float, lon: float) -> None:
        """The mark is there, in every state; a drag that was found from the old one is none."""
        self.mark = LocalPlane(DROP).to_plane(lat, lon)
        self.said.pop("shift", None)
        if self.now()["state"] == "dragging":
            quiet = ("verdict", "reason", "moved_m", "moved_deg", "rate_mps", "danger", "response")
            self.said = {key: value for key, value in self.said.items() if key not in quiet}
            self.said["state"] = "riding"
            for alert in [each for each in self.alerts if each["name"] == "drag"]:
                await self._tell({**alert, "state": "normal"})
        await self._tell(
            {
                "v": 1,
                "t": utc_text(EVENING.timestamp() + self.run_s),
                "kind": "state",
                "name": "correct_mark",
                "priority": None,
                "state": self.now()["state"],
                "reason": "position_given",
                "moved_m": None,
                "bearing_deg": None,
                "anchor": None,
            }
        )

    async def _slip(self) -> None:
        place = {"lat": DROP.lat_deg, "lon": DROP.lon_deg, "sigma_m": 2.6, "method": "marked"}
        self.said |= {"state": "slipped", "on_watch": False}
        await self._tell(
            {
                "v": 1,
                "t": "2026-06-15T03:20:27.000Z",
                "kind": "state",
                "name": "slipped",
                "priority": None,
                "state": "slipped",
                "reason": "commanded",
                "moved_m": None,
                "bearing_deg": None,
                "anchor": place,
                "bow": {**place, "lat": DROP.lat_deg - 0.0003},
                "rode_m": 38.0,
                "depth_m": 5.2,
            }
        )

    async def _nights(self, _: web.Request) -> web.Response:
        night = {"name": "night-000042", "parts": 1, "size_bytes": 8123456}
        rest = {"written_utc": "2026-06-15T07:59:59Z", "being_written": False}
        return web.json_response({"nights": [{**night, **rest}]})

    async def _night(self, _: web.Request) -> web.Response:
        return web.json_response(
            {
                "name": "night-000042",
                "parts": 1,
                "size_bytes": 8123456,
                "written_utc": "2026-06-15T07:59:59Z",
                "being_written": False,
                "length_m": 9.6,
                "antenna_aft_m": 7.8,
                "resumed": False,
                "faults": [],
            }
        )

    async def _replay(self, request: web.Request) -> web.StreamResponse:
        """Play an hour of that night, in which she drags after half of it."""
        response = await begin_stream(request)
        speed = float(request.query.get("speed", 60))
        at_s = float(request.query.get("from", 0))
        shown = self.now()
        drags = False
        with suppress(ConnectionError):
            while at_s < 3600:
                at_s += speed / 10
                lies = lie(at_s)
                shown |= {name: lies[name] for name in COLUMNS if name in shown}
                shown |= {"run_id": "replayed", "run_s": at_s, "utc": utc_text(lies["utc_s"])}
                shown["bearing_deg"] = lies["bearing_deg"]
                shown["position"] = {
                    "lat": DROP.lat_deg,
                    "lon": DROP.lon_deg,
                    "east_m": lies["east_m"],
                    "north_m": lies["north_m"],
                }
                shown["log_odds"] = min(6.0, -6 + at_s / 300)
                shown["confidence"] = 1 / (1 + math.exp(-shown["log_odds"]))
                if at_s > 1800 and not drags:
                    drags = True
                    shown |= {"verdict": "dragging", "state": "dragging", "reason": "anchor_moved"}
                    event = {"kind": "state", "name": "drag_found", "state": "dragging"}
                    item = {"id": "replayed.1", "run_s": at_s, "event": {**event, "t": None}}
                    await response.write(frame("state", item, "replayed.1"))
                await response.write(frame("now", shown))
                await asyncio.sleep(0.1)
            await response.write(frame("end", {"text": "The night is over.", "run_s": at_s}))
            await asyncio.sleep(5)
        return response

    async def _plan(self, request: web.Request) -> web.Response:
        asked = await request.json()
        self.plans.append(asked)
        water = {"depth_m": 6.0, "scope": 4.93, "under_keel_m": 4.3}
        return web.json_response(
            {
                "v": 1,
                "rode_m": 35.0,
                "aboard_m": 60.0,
                "governs": "gusts",
                "scope_rule": 4.0,
                "by_scope_m": 28.4,
                "by_gusts_m": 34.6,
                "wind_mps": asked["wind_mps"],
                "gust_mps": asked.get("gust_mps", 12.0),
                "most_water": water,
                "least_water": water,
                "hours": [
                    {**water, "t": "2026-06-14T20:00:00+00:00", "turn": None, "tide_m": 2.2},
                    {**water, "t": "2026-06-14T22:15:00+00:00", "turn": "HW", "tide_m": 4.1}
                    | {"under_keel_m": -0.2},
                ],
                "dark": None,
                "tide": "given" if asked.get("tide") else "configured",
                "warnings": ["Weed holds poorly."] if asked.get("bottom") == "weed" else [],
            }
        )


def frame(kind: str, data: Any, event_id: str | None = None) -> bytes:
    """One server-sent event."""
    head = "" if event_id is None else f"id: {event_id}\n"
    return f"{head}event: {kind}\ndata: {json.dumps(data)}\n\n".encode()


def refuse(status: int, code: str, text: str, remedy: str) -> web.Response:
    """A Problem."""
    return web.json_response({"code": code, "text": text, "remedy": remedy}, status=status)


async def begin_stream(request: web.Request) -> web.StreamResponse:
    """Answer by a stream."""
    response = web.StreamResponse(headers={"Content-Type": "text/event-stream"})
    await response.prepare(request)
    await response.write(b"retry: 2000\n\n")
    return response


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One browser for all tests: to start it takes longer than most of them."""
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415
    except ImportError:
        absent("playwright is not installed")
    if not Path(CHROMIUM).exists():
        absent(f"there is no browser at {CHROMIUM}")
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--autoplay-policy=user-gesture-required"],
        )
        yield made
        made.close()


@pytest.fixture(scope="session")
def axe() -> Any:
    """What looks for hindrances: axe-core, as it comes in a package."""
    try:
        return importlib.import_module("axe_playwright_python.sync_playwright").Axe()
    except ImportError:
        absent("axe-playwright-python is not installed")


@pytest.fixture
def watch() -> Iterator[FakeWatch]:
    """A watch that rides to her anchor since two hours."""
    made = FakeWatch()
    made.hours(2)
    made.start()
    yield made
    made.close()


@pytest.fixture(scope="session")
def run(browser: Any) -> Iterator[Callable[..., Any]]:
    """Run code on one of the page's modules, ``m``, in the browser, without the page itself."""
    served = FakeWatch()
    served.start()
    page = browser.new_page()
    page.goto(f"{served.url}icon.svg")

    def called(module: str, code: str, *arguments: Any) -> Any:
        return page.evaluate(
            f"async (given) => {{ const m = await import('/{module}');"
            f" return ({code})(...given); }}",
            list(arguments),
        )

    yield called
    page.close()
    served.close()


@pytest.fixture
def open_page(browser: Any) -> Iterator[Callable[..., Any]]:
    """Open the page in a browser of its own; what goes wrong in the page fails the test."""
    contexts: list[Any] = []
    troubles: list[str] = []

    def opened(
        url: str,
        *,
        size: dict[str, int] = CHART_TABLE,
        cookie: dict[str, Any] | None = None,
        look: str = "day",
        init: str = "",
        **options: Any,
    ) -> Any:
        context = browser.new_context(
            viewport=size, timezone_id="Etc/GMT+2", locale="en-GB", **options
        )
        contexts.append(context)
        context.set_default_timeout(PATIENCE_S * 1000)
        context.add_init_script(f"localStorage['driftlead.look'] ??= '{look}'")
        context.add_init_script(init)
        if cookie is not None:
            context.add_cookies([cookie])
        page = context.new_page()
        page.on("pageerror", lambda error: troubles.append(str(error)))
        page.on("console", lambda said: _complain(said, troubles))
        page.goto(url, wait_until="domcontentloaded")
        return Screen(page)

    yield opened
    for context in contexts:
        context.close()
    assert not troubles


class Screen:
    """A page that is open somewhere, and how to wait for what it is to show.

    Playwright's own ``wait_for_function`` needs the page to allow ``eval``, which it does not.
    """

    def __init__(self, page: Any) -> None:
        self.page = page

    def until(
        self,
        expression: str,
        *,
        timeout_s: float = PATIENCE_S,
        each: Callable[[], None] | None = None,
    ) -> Any:
        """Wait until the expression is true in the page, doing ``each`` four times a second."""
        until_s = time.monotonic() + timeout_s
        while not (found := self.page.evaluate(expression)):
            assert time.monotonic() < until_s, f"{expression} did not come true"
            if each is not None:
                each()
            self.page.wait_for_timeout(20 if each is None else 250)
        return found

    def word(self, text: str, *, each: Callable[[], None] | None = None) -> None:
        """Wait until the one word at the top is this."""
        self.until(f"document.querySelector('#watch-h').textContent === {text!r}", each=each)

    def ready(self) -> None:
        """Wait until a paired device may act."""
        self.word("Holding")
        self.until("!document.querySelector('#acting').hidden")
        self.until("!document.querySelector('[data-opens=do-drill]').disabled")

    def sees(self, selector: str, *, timeout_s: float = PATIENCE_S) -> Any:
        """Wait until it is there to be seen; where it is."""
        found = self.page.locator(selector).first
        found.wait_for(state="visible", timeout=timeout_s * 1000)
        return found

    def misses(self, selector: str, *, timeout_s: float = PATIENCE_S) -> None:
        """Wait until it is not seen any more."""
        self.page.locator(selector).first.wait_for(state="hidden", timeout=timeout_s * 1000)

    def go(self, view: str) -> None:
        """Go to another view."""
        self.page.evaluate("view => { location.hash = view; }", view)
        self.sees(f"#view-{view}")

    def area(self, selector: str) -> float:
        """How much of the screen it takes, in square pixels."""
        box = self.page.locator(selector).first.bounding_box()
        return 0.0 if box is None else float(box["width"] * box["height"])


def _complain(said: Any, troubles: list[str]) -> None:
    # That a request failed is what some tests are about; anything else is a fault of the page.
    if said.type in ("error", "warning") and "Failed to load resource" not in said.text:
        troubles.append(said.text)
