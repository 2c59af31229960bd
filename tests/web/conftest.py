"""A page served over the real loopback, with a real core behind it, on a clock the test turns."""

import asyncio
import datetime as dt
import json
from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest
from attrs import evolve

from driftlead.config.model import WebSettings
from driftlead.core.core import Core
from driftlead.core.inputs import Command
from driftlead.core.reply import Event
from driftlead.core.settings import CoreSettings
from driftlead.errors import DaemonError
from driftlead.lines import StampedLine
from driftlead.planning.plan_settings import PlanSettings
from driftlead.recording.format import HEADER, format_input, format_line
from driftlead.simulate.nmea_writer import dpt, gga, hdt, mwv, rmc
from driftlead.sources.base import SourceHealth
from driftlead.testing import FakeTime
from driftlead.watch.settings import BoatSettings, WatchSettings
from driftlead.web.deck import Glance, Outcome, glance_at
from driftlead.web.server import Aboard, WebServer

PATIENCE_S = 20.0
WATCH = WatchSettings(boat=BoatSettings(length_m=9.6, bow_height_m=1.1, antenna_aft_m=7.5))
CORE = CoreSettings(watch=WATCH)
PLAN = PlanSettings(length_m=9.6, bow_height_m=1.1, chain_m=45.0, chain_size_m=0.008)
WALL_CLOCK = dt.datetime(2026, 6, 14, 18, 0, tzinfo=dt.UTC)
API = "/api/v1"


class CoreDeck:
    """A deck that is nothing but a core, on the test's clock."""

    def __init__(self, time: FakeTime, settings: CoreSettings) -> None:
        self.time = time
        self.settings = settings
        self.core = Core(settings, mono_s=time.clock())
        self.commands: list[Command] = []
        self.hear: Callable[[Event], None] = lambda _: None
        self.stopping = False
        self.broken: Exception | None = None
        self.saved = True
        self.given = asyncio.Event()
        self.gate = asyncio.Event()
        self.gate.set()
        self.utc = dt.datetime(2026, 6, 14, 20, 0, 0, tzinfo=dt.UTC)

    def glance(self) -> Glance:
        """Look."""
        if self.broken is not None:
            raise self.broken
        if self.stopping:
            raise DaemonError("The daemon is stopping.", remedy="Start it again.")
        glance = glance_at(self.core, self.time.clock())
        health = {"gps": SourceHealth("gps", True, "Listening.")}
        return evolve(glance, health=health)

    async def command(self, command: Command) -> Outcome:
        """Give it to the core; wait while the gate is shut."""
        if self.stopping:
            raise DaemonError("The daemon is stopping.", remedy="Start it again.")
        self.commands.append(command)
        self.given.set()
        await self.gate.wait()
        reply = self.core.command(self.time.clock(), command)
        self.tell(reply.events)
        return Outcome(
            accepted=reply.accepted,
            saved=reply.accepted and self.saved,
            text=reply.text,
            remedy=reply.remedy,
        )

    def tell(self, events: Iterable[Event]) -> None:
        """Hand events on."""
        for event in events:
            self.hear(event)

    async def lie(
        self,
        north_m: float = 0.0,
        *,
        seconds: int = 1,
        sog_mps: float = 0.0,
        cog_deg: float = 0.0,
    ) -> None:
        """Lie at a place for some seconds of the test's clock, with wind, head and depth."""
        for _ in range(seconds):
            await self.time.advance(1.0)
            self.utc += dt.timedelta(seconds=1)
            lat_deg = 46.5 + (north_m + 0.2 * (self.utc.second % 3)) / 111_170.0
            self.send(
                hdt(heading_deg=40.0),
                mwv(off_bow_deg=5.0, speed_mps=7.3),
                dpt(below_transducer_m=5.6, transducer_below_water_m=0.4),
                rmc(utc=self.utc, lat_deg=lat_deg, lon_deg=-31.2, sog_mps=sog_mps, cog_deg=cog_deg),
                gga(utc=self.utc, lat_deg=lat_deg, lon_deg=-31.2, satellites=11, hdop=0.9),
            )

    def send(self, *texts: str) -> None:
        """Feed lines now."""
        for text in texts:
            self.tell(self.core.feed(StampedLine(self.time.clock(), "gps", text)))


class Client:
    """One device's browser."""

    def __init__(self, session: aiohttp.ClientSession, origin: str) -> None:
        self.session = session
        self.origin = origin
        self.csrf = ""

    def ask(
        self, method: str, path: str, *, headers: dict[str, str] | None = None, **more: Any
    ) -> AbstractAsyncContextManager[aiohttp.ClientResponse]:
        """Send one request as the page would; headers given come first, "" leaves one out."""
        own: dict[str, str] = {}
        if method not in ("GET", "HEAD"):
            own = {"Origin": self.origin, "X-Csrf-Token": self.csrf}
        sent = {name: value for name, value in (own | (headers or {})).items() if value}
        return self.session.request(method, path, headers=sent, **more)

    async def get(self, path: str, **more: Any) -> tuple[int, Any]:
        """Ask for JSON of the API: the status and the answer."""
        async with self.ask("GET", f"{API}/{path}", **more) as response:
            return response.status, await response.json()

    async def post(self, path: str, data: Any, **more: Any) -> tuple[int, Any]:
        """Post JSON to the API."""
        async with self.ask("POST", f"{API}/{path}", json=data, **more) as response:
            return response.status, await response.json()

    async def delete(self, path: str, **more: Any) -> tuple[int, Any]:
        """Delete of the API."""
        async with self.ask("DELETE", f"{API}/{path}", **more) as response:
            return response.status, await response.json()


class Stream:
    """Reads server-sent events as the standard says."""

    def __init__(self, response: aiohttp.ClientResponse) -> None:
        self.response = response
        self.last_id: str | None = None

    async def next(self, *kinds: str) -> tuple[str, Any]:
        """The next event, or the next of one of these kinds. Raises EOFError at the end."""
        async with asyncio.timeout(PATIENCE_S):
            while True:
                kind, data = await self._one()
                if not kinds or kind in kinds:
                    return kind, json.loads(data)

    async def _one(self) -> tuple[str, str]:
        kind, data = "message", ""
        while line := await self.response.content.readline():
            name, _, value = line.decode().rstrip("\n").partition(": ")
            if name == "event":
                kind = value
            elif name == "data":
                data += value
            elif name == "id":
                self.last_id = value
            elif not name and data:
                return kind, data
        raise EOFError


class Rig:
    """The server, what is behind it, and those who look at it."""

    def __init__(
        self,
        folder: Path,
        settings: WebSettings,
        plan: PlanSettings | None,
        core: CoreSettings,
    ) -> None:
        self.folder = folder
        self.nights = folder / "nights"
        self.time = FakeTime()
        self.deck = CoreDeck(self.time, core)
        self.bill = core.alerts.bill
        self.faults: list[str | None] = []
        self.settings = settings
        self.plan = plan
        self.server = self.make()
        self.sessions: list[aiohttp.ClientSession] = []
        self.keys = 0

    def make(self) -> WebServer:
        """Make a server over the same files."""
        server = WebServer(
            self.settings,
            self.deck,
            Aboard(
                watch=WATCH,
                boat_name="Corvid",
                plan=self.plan,
                nights=self.nights,
                state_dir=self.folder / "state",
                bill=self.bill,
            ),
            clock=self.time.clock,
            sleep=self.time.sleep,
            on_fault=self.faults.append,
            utc=lambda: WALL_CLOCK,
        )
        self.deck.hear = server.tell
        return server

    @property
    def origin(self) -> str:
        """Where it is served."""
        return f"{self.settings.scheme}://127.0.0.1:{self.server.port}"

    def client(self) -> Client:
        """A browser that knows nothing yet."""
        session = aiohttp.ClientSession(
            self.origin,
            cookie_jar=aiohttp.CookieJar(unsafe=True),
            timeout=aiohttp.ClientTimeout(total=PATIENCE_S),
        )
        self.sessions.append(session)
        return Client(session, self.origin)

    async def paired(self, name: str = "Phone in the fore cabin") -> Client:
        """A browser that is paired."""
        client = self.client()
        status, session = await client.post("pair", {"pin": self.server.open_pin(), "name": name})
        assert status == 200, session
        client.csrf = session["csrf"]
        return client

    def command(self, word: str, key: str = "", **fields: Any) -> dict[str, Any]:
        """A command as the page sends it."""
        self.keys += 1
        return {
            "command": word,
            "key": key or f"key-for-the-tests-{self.keys}",
            "run_id": self.server._live.run_id,
            "run_s": self.server._live.run_s(),
            **fields,
        }

    @asynccontextmanager
    async def stream(
        self, client: Client, path: str = "stream", **more: Any
    ) -> AsyncIterator[Stream]:
        """Listen meanwhile."""
        async with client.ask("GET", f"{API}/{path}", **more) as response:
            assert response.status == 200, await response.text()
            assert response.content_type == "text/event-stream"
            yield Stream(response)

    async def restart(self) -> None:
        """Stop the server and serve again from the same files, at another port."""
        await self.server.close()
        self.server = self.make()
        await self.server.start()

    def record_night(self, number: int, inputs: Iterable[Any], *, part: int = 1) -> None:
        """Write a recording as the daemon would; ``inputs`` are lines or (mono_s, kind, data)."""
        self.nights.mkdir(exist_ok=True)
        header = {"run": number - part + 1, "part": part, "settings": {}, "snapshot": None}
        lines = [HEADER, format_input(1000.0, "part", header)]
        lines += [
            format_line(each) if isinstance(each, StampedLine) else format_input(*each)
            for each in inputs
        ]
        path = self.nights / f"night-{number:06d}.log"
        path.write_text("".join(f"{line}\n" for line in lines), encoding="ascii")


Serve = Callable[..., AbstractAsyncContextManager[Rig]]


@pytest.fixture
def serve(tmp_path: Path) -> Serve:
    """Give what serves a page meanwhile, and gives the rig."""

    @asynccontextmanager
    async def serving(
        listen: str = "127.0.0.1:0",
        plan: PlanSettings | None = PLAN,
        core: CoreSettings = CORE,
        **more: Any,
    ) -> AsyncIterator[Rig]:
        rig = Rig(tmp_path, WebSettings(listen=listen, **more), plan, core)
        await rig.server.start()
        try:
            yield rig
        finally:
            for session in rig.sessions:
                await session.close()
            await rig.server.close()

    return serving
