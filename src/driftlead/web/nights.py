"""The recorded nights, for the page."""

import asyncio
from collections.abc import Callable
from typing import Any

from aiohttp import web

from driftlead.errors import DaemonError
from driftlead.web.body import query_number
from driftlead.web.devices import Device
from driftlead.web.event_stream import EventStream
from driftlead.web.night_folder import Night, NightFolder
from driftlead.web.problem import ProblemError
from driftlead.web.replays import Replays

_LONGEST_S = 14 * 86_400.0


class Nights:
    """Handles nights, and their replays."""

    def __init__(
        self,
        folder: NightFolder,
        replays: Replays,
        *,
        device: Callable[[web.Request], Device | None],
    ) -> None:
        self._folder = folder
        self._replays = replays
        self._device = device
        self._looking = asyncio.Lock()

    async def nights(self, _: web.Request) -> web.Response:
        """All of them."""
        async with self._looking:
            try:
                found = await asyncio.to_thread(self._folder.nights)
            except OSError as error:
                raise _unreadable(error) from error
        return web.json_response({"nights": [_shown(night) for night in found]})

    async def night(self, request: web.Request) -> web.Response:
        """One of them."""
        night = await self._find(request)
        settings = night.header.get("settings")
        watch = settings.get("watch") if isinstance(settings, dict) else None
        boat = watch.get("boat") if isinstance(watch, dict) else None
        known: dict[str, Any] = boat if isinstance(boat, dict) else {}
        return web.json_response(
            {
                **_shown(night),
                "length_m": known.get("length_m"),
                "antenna_aft_m": known.get("antenna_aft_m"),
                "resumed": night.header.get("snapshot") is not None,
                "faults": list(night.faults),
            }
        )

    async def replay(self, request: web.Request) -> web.StreamResponse:
        """Keep the watch of one of them again."""
        speed = query_number(request, "speed", 0.1, 3600.0, default=60.0)
        from_s = query_number(request, "from", 0.0, _LONGEST_S, default=0.0)
        night = await self._find(request)
        device = self._device(request)
        client = (request.remote or "") if device is None else device.id
        replay = await self._replays.begin(
            night,
            client=client,
            device_id=None if device is None else device.id,
            from_s=from_s,
            speed=speed,
        )
        if replay is None:
            raise ProblemError(
                429, "busy", "Other nights are replayed already.", "End one.", retry_after_s=5
            )
        stream: EventStream | None = None
        try:
            stream = await EventStream.begin(request)
            await self._replays.tell(replay, stream, from_s=from_s, speed=speed)
        except ConnectionError:
            pass  # gone, or asleep
        finally:
            await self._replays.finish(replay, client)
        return web.Response() if stream is None else stream.response

    async def _find(self, request: web.Request) -> Night:
        name = request.match_info["name"]
        async with self._looking:
            try:
                night = await asyncio.to_thread(self._folder.night, name)
            except OSError as error:
                raise _unreadable(error) from error
        if night is None or not night.files:
            raise ProblemError(404, "unknown", "There is no such night.", "See GET nights.")
        return night


def _shown(night: Night) -> dict[str, Any]:
    return {
        "name": night.name,
        "parts": len(night.files),
        "size_bytes": night.size_bytes,
        "written_utc": night.written_utc,
        "being_written": night.being_written,
    }


def _unreadable(error: OSError) -> DaemonError:
    return DaemonError(
        f"The recordings cannot be read: {error.strerror or error}.",
        remedy="Check [recording] directory, and the disk.",
    )
