"""The server of the page: put together, started, kept, stopped. It cannot harm the watch.

Layout: ``Live`` looks at the watch each second and tells everybody who listens; ``Guard`` stands
before every handler; what a client may ask for is in ``openapi.json``.
"""

import asyncio
import datetime as dt
import ipaddress
import logging
import socket
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, Final

from aiohttp import web
from attrs import field, frozen

from driftlead.alerts.watch_bill import WatchBill
from driftlead.config.model import WebSettings
from driftlead.core.reply import Event
from driftlead.errors import DaemonError
from driftlead.planning.plan_settings import PlanSettings
from driftlead.units import Printer
from driftlead.watch.settings import WatchSettings
from driftlead.web.acting import Acting
from driftlead.web.body import MOST_BYTES
from driftlead.web.connections import MOST, Connections
from driftlead.web.deck import Deck
from driftlead.web.desk import Desk
from driftlead.web.devices import Device, Devices
from driftlead.web.guard import Access, Guard, Handler, add_headers
from driftlead.web.listening import Listening
from driftlead.web.live import Live
from driftlead.web.night_folder import NightFolder
from driftlead.web.nights import Nights
from driftlead.web.plans import Plans
from driftlead.web.reading import Reading
from driftlead.web.replays import Replays
from driftlead.web.static_files import FOLDER, StaticFiles
from driftlead.web.surroundings import Surroundings
from driftlead.web.tls import server_context
from driftlead.web.track_keeper import TrackKeeper

_LOGGER = logging.getLogger(__name__)
# What is no HTTP at all, the framework would log with all there is to know about it: anybody could
# fill the disk with that.
_QUIET = logging.getLogger(f"{__name__}.http")
_QUIET.setLevel(logging.CRITICAL)
TICK_S: Final = 1.0
RETRY_EVERY: Final = 10
"""Ticks between two tries at an address that is taken or not there yet."""
_SHUTDOWN_S: Final = 1.0
_HANDSHAKE_S: Final = 5.0
_KEEPALIVE_S: Final = 15.0


@frozen(kw_only=True)
class Aboard:
    """What of the configuration the page is about."""

    watch: WatchSettings
    boat_name: str
    plan: PlanSettings | None
    nights: Path
    state_dir: Path
    bill: WatchBill = field(factory=WatchBill)


class WebServer:
    """Serves from ``start`` to ``close``. Make it within the event loop.

    ``clock`` gives monotonic seconds, ``sleep`` waits for some, ``utc`` is the computer's clock,
    which may be wrong. ``on_fault`` hears that the page cannot be served, and None that it can.
    """

    def __init__(
        self,
        settings: WebSettings,
        deck: Deck,
        aboard: Aboard,
        *,
        clock: Callable[[], float],
        sleep: Callable[[float], Awaitable[None]],
        on_fault: Callable[[str | None], None],
        utc: Callable[[], dt.datetime] = lambda: dt.datetime.now(dt.UTC),
        static: Path = FOLDER,
    ) -> None:
        self._settings = settings
        self._sleep = sleep
        self._on_fault = on_fault
        self._static = static
        self._devices = Devices(aboard.state_dir / "devices.json", utc=utc)
        self._live = Live(
            deck,
            watch=aboard.watch,
            boat_name=aboard.boat_name,
            bill=aboard.bill,
            units=Printer() if aboard.plan is None else aboard.plan.printer,
            clock=clock,
        )
        self._replays = Replays(clock=clock, sleep=sleep)
        self._guard = Guard(
            self._devices,
            names=("localhost", *_own_names(), *settings.names),
            reading_needs_pairing=not ipaddress.ip_address(settings.host).is_loopback,
        )
        self._desk = Desk(self._devices, self._guard, clock=clock, put_out=self._put_out)
        device = self._guard.device
        self._reading = Reading(self._live, deck)
        self._listening = Listening(self._live, device=device)
        self._acting = Acting(deck, self._live, device=device)
        self._nights = Nights(NightFolder(aboard.nights), self._replays, device=device)
        self._plans = Plans(aboard.plan, self._live, deck, utc=utc)
        self._surroundings = Surroundings(settings.around, deck)
        self._runner: web.AppRunner | None = None
        self._server: asyncio.Server | None = None
        self._ticking: asyncio.Task[None] | None = None
        self._ticks = 0
        self._fault = ""
        self._connections = Connections(
            handshake_ticks=0 if settings.certificate is None else int(_HANDSHAKE_S)
        )
        self._track = TrackKeeper(self._live.history, aboard.state_dir / "track.jsonl")

    @property
    def port(self) -> int | None:
        """The port it listens on; None while it does not."""
        if self._server is None or not self._server.sockets:
            return None
        port: int = self._server.sockets[0].getsockname()[1]
        return port

    @property
    def devices(self) -> tuple[Device, ...]:
        """All paired devices."""
        return self._devices.known

    def open_pin(self) -> str:
        """Make the PIN by which one device may pair within five minutes."""
        return self._desk.open_pin()

    async def revoke(self, device_id: str) -> Device | None:
        """Unpair a device; None if there is none of that id. Raises DaemonError."""
        return await self._desk.revoke(device_id)

    def tell(self, event: Event) -> None:
        """Hear of an event of the core, as it happens. Never raises."""
        try:
            self._live.tell(event)
        except Exception:  # the watch must not suffer from those who look at it
            _LOGGER.exception("An event cannot be told to the page")

    async def start(self) -> None:
        """Serve from now on. An address that cannot be had is a fault, and is tried again."""
        await self._devices.load()
        static = await asyncio.to_thread(StaticFiles, self._static)
        self._runner = web.AppRunner(
            self._app(static),
            access_log=None,
            logger=_QUIET,
            keepalive_timeout=_KEEPALIVE_S,
            shutdown_timeout=_SHUTDOWN_S,
            max_line_size=4096,
            max_field_size=4096,
        )
        await self._runner.setup()
        await self._listen()
        self._track.begin()
        self._live.tick()
        self._ticking = asyncio.create_task(self._tick_on(), name="page")

    async def close(self) -> None:
        """Serve no more."""
        if self._ticking is not None:
            self._ticking.cancel()
            self._ticking = None
            await self._track.close()
        if self._server is not None:
            self._server.close()
        self._put_out(None)
        if self._runner is not None:
            await self._runner.cleanup()

    def tick(self) -> None:
        """What is done each second."""
        self._live.tick()
        self._track.tick()
        if self._runner is not None and self._runner.server is not None:
            self._connections.tick(self._runner.server)

    async def _tick_on(self) -> None:
        while True:
            await self._sleep(TICK_S)
            self._ticks += 1
            self.tick()
            if self._server is None and self._ticks % RETRY_EVERY == 0:
                await self._listen()

    async def _listen(self) -> None:
        settings = self._settings
        address = f"{settings.scheme}://{settings.host}:{settings.port}"
        try:
            secured = await self._secured()
            self._server = await asyncio.get_running_loop().create_server(
                self._connection, settings.host, settings.port, backlog=MOST, **secured
            )
        except OSError as error:
            self._fail(f"The page cannot be served at {address}: {error.strerror or error}.")
            return
        except DaemonError as error:
            self._fail(f"The page cannot be served: {error.message} {error.remedy}")
            return
        _LOGGER.info("The page is served at %s.", address)
        self._fault = ""
        self._on_fault(None)

    def _fail(self, text: str) -> None:
        if text != self._fault:
            _LOGGER.warning("%s", text)
        self._fault = text
        self._on_fault(text)

    async def _secured(self) -> dict[str, Any]:
        certificate, key = self._settings.certificate, self._settings.key
        if certificate is None or key is None:
            return {}
        context = await asyncio.to_thread(server_context, certificate, key)
        return {"ssl": context, "ssl_handshake_timeout": _HANDSHAKE_S}

    def _connection(self) -> asyncio.Protocol:
        assert self._runner is not None  # noqa: S101  # nothing listens before it is there
        server = self._runner.server
        assert server is not None  # noqa: S101
        return self._connections.let_in(server)

    def _put_out(self, device_id: str | None) -> None:
        self._live.end(device_id)
        self._replays.end(device_id)

    def _app(self, static: StaticFiles) -> web.Application:
        app = web.Application(
            middlewares=[self._note_served, self._guard.middleware], client_max_size=MOST_BYTES
        )
        app.on_response_prepare.append(add_headers)
        for method, path, handler, access in (
            ("GET", "session", self._desk.session, Access.OPEN),
            ("POST", "pair", self._desk.pair, Access.OPEN),
            ("GET", "devices", self._desk.devices, Access.ACT),
            ("DELETE", "devices/{id}", self._desk.unpair, Access.ACT),
            ("GET", "now", self._reading.now, Access.READ),
            ("GET", "track", self._reading.track, Access.READ),
            ("GET", "events", self._reading.events, Access.READ),
            ("GET", "drill", self._reading.drill, Access.READ),
            ("GET", "stream", self._listening.stream, Access.READ),
            ("POST", "commands", self._acting.command, Access.ACT),
            ("GET", "nights", self._nights.nights, Access.READ),
            ("GET", "nights/{name}", self._nights.night, Access.READ),
            ("GET", "nights/{name}/replay", self._nights.replay, Access.READ),
            ("GET", "surroundings", self._surroundings.surroundings, Access.READ),
            ("POST", "plan", self._plans.plan, Access.READ),
        ):
            app.router.add_route(method, f"/api/v1/{path}", self._guard.protects(handler, access))
        app.router.add_get("/{path:(?!api/).*}", static.file)
        return app

    @web.middleware
    async def _note_served(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        self._connections.served(request.protocol)
        return await handler(request)


def _own_names() -> tuple[str, ...]:
    name = socket.gethostname()
    return (name, f"{name.partition('.')[0]}.local")
